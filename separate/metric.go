package separate

import (
	"math"

	"platewright/composite/spectrum"
)

// A metric weighs a small CIELAB difference d around one color as CIEDE2000
// does: d'·M·d ≈ ΔE00². M is symmetric, stored as LL, aa, bb, La, Lb, ab; L
// does not mix with a and b.
type metric struct {
	ll, aa, bb, ab float64
}

// metricAt returns the limit of CIEDE2000 (Sharma, Wu, Dalal 2005) for two
// colors that both go to c.
func metricAt(c spectrum.Lab) metric {
	const pow25to7 = 6103515625
	l, a, b := c[0], c[1], c[2]
	c7 := math.Pow(a*a+b*b, 3.5)
	g := 1 + .5*(1-math.Sqrt(c7/(c7+pow25to7)))
	ap := g * a
	chroma := math.Hypot(ap, b)
	l50 := (l - 50) * (l - 50)
	sl := 1 + .015*l50/math.Sqrt(20+l50)
	cosh, sinh, h := 1.0, 0.0, 0.0
	if chroma > 1e-9 {
		cosh, sinh = ap/chroma, b/chroma
		h = math.Atan2(b, ap)
	}
	deg := math.Pi / 180
	t := 1 - .17*math.Cos(h-30*deg) + .24*math.Cos(2*h) + .32*math.Cos(3*h+6*deg) - .20*math.Cos(4*h-63*deg)
	sc := 1 + .045*chroma
	sh := 1 + .015*chroma*t
	hd := math.Mod(h/deg+360, 360)
	theta := 30 * deg * math.Exp(-((hd-275)/25)*((hd-275)/25))
	p7 := math.Pow(chroma, 7)
	rt := -math.Sin(2*theta) * 2 * math.Sqrt(p7/(p7+pow25to7))

	// ΔC' = cos·da' + sin·db, ΔH' = −sin·da' + cos·db, da' = g·da.
	ca, cb := g*cosh/sc, sinh/sc
	ha, hb := -g*sinh/sh, cosh/sh
	return metric{
		ll: 1 / (sl * sl),
		aa: ca*ca + ha*ha + rt*ca*ha,
		bb: cb*cb + hb*hb + rt*cb*hb,
		ab: ca*cb + ha*hb + rt*(ca*hb+cb*ha)/2,
	}
}

// apply returns M·d.
func (m *metric) apply(d spectrum.Lab) spectrum.Lab {
	return spectrum.Lab{
		m.ll * d[0],
		float64(m.aa*d[1]) + float64(m.ab*d[2]),
		float64(m.ab*d[1]) + float64(m.bb*d[2]),
	}
}

func dot(a, b spectrum.Lab) float64 {
	return float64(a[0]*b[0]) + float64(a[1]*b[1]) + float64(a[2]*b[2])
}
