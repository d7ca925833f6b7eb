package separate

import (
	"math"

	"platewright/composite/spectrum"
)

// A metric weighs a CIELAB difference d as CIEDE2000 does around one color:
// d'·M·d ≈ ΔE00². M is symmetric; L does not mix with a and b.
type metric struct {
	ll, aa, bb, ab float64
}

// metricAt returns the limit of CIEDE2000 (Sharma, Wu, Dalal 2005) for two
// colors that both go to c.
func metricAt(c spectrum.Lab) metric {
	const pow25to7 = 6103515625
	l, a, b := c[0], c[1], c[2]
	c2 := a*a + b*b
	c7 := c2 * c2 * c2 * math.Sqrt(c2)
	g := 1 + .5*(1-math.Sqrt(c7/(c7+pow25to7)))
	ap := g * a
	chroma := math.Sqrt(ap*ap + b*b)
	wl := lightness(l)
	cosh, sinh := 1.0, 0.0
	if chroma > 1e-9 {
		cosh, sinh = ap/chroma, b/chroma
	}
	// T with the cosines of multiples of the hue from the cosine and sine.
	cos2, sin2 := cosh*cosh-sinh*sinh, 2*sinh*cosh
	cos3, sin3 := cos2*cosh-sin2*sinh, sin2*cosh+cos2*sinh
	cos4, sin4 := cos2*cos2-sin2*sin2, 2*sin2*cos2
	t := 1 - .17*(cosh*cos30+sinh*sin30) + .24*cos2 + .32*(cos3*cos6-sin3*sin6) - .20*(cos4*cos63+sin4*sin63)
	sc := 1 + .045*chroma
	sh := 1 + .015*chroma*t
	rt := 0.0
	if sinh < 0 && chroma > 3 { // the rotation is felt in the blues alone
		h := 360 + math.Atan2(sinh, cosh)*180/math.Pi
		theta := math.Pi / 6 * math.Exp(-((h-275)/25)*((h-275)/25))
		p2 := chroma * chroma
		p7 := p2 * p2 * p2 * chroma
		rt = -math.Sin(2*theta) * 2 * math.Sqrt(p7/(p7+pow25to7))
	}

	// ΔC' = cos·da' + sin·db, ΔH' = −sin·da' + cos·db, da' = g·da.
	ca, cb := g*cosh/sc, sinh/sc
	ha, hb := -g*sinh/sh, cosh/sh
	return metric{
		ll: wl * wl,
		aa: ca*ca + ha*ha + rt*ca*ha,
		bb: cb*cb + hb*hb + rt*cb*hb,
		ab: ca*cb + ha*hb + rt*(ca*hb+cb*ha)/2,
	}
}

// lightness is 1/S_L, the weight of a difference in L around l.
func lightness(l float64) float64 {
	l50 := (l - 50) * (l - 50)
	return 1 / (1 + .015*l50/math.Sqrt(20+l50))
}

// Cosines and sines of the angles in T, in degrees.
const (
	cos30 = 0.86602540378443864676
	sin30 = 0.5
	cos6  = 0.99452189536827333692
	sin6  = 0.10452846326765347140
	cos63 = 0.45399049973954679156
	sin63 = 0.89100652418836786236
)

// residual returns r with |r|² = d'·M·d.
func (m *metric) residual(d spectrum.Lab) [3]float64 {
	a := math.Sqrt(m.aa)
	ab := m.ab / a
	return [3]float64{
		math.Sqrt(m.ll) * d[0],
		float64(a*d[1]) + float64(ab*d[2]),
		math.Sqrt(math.Max(0, m.bb-ab*ab)) * d[2],
	}
}

// A target is the color wanted in one spot. Distances to it are weighed around
// the middle between it and the color compared, as CIEDE2000 takes its weights
// from the means of a pair: ΔE00 for small differences, and near it, but
// without its jumps between opposite hues, for large ones.
type target struct {
	lab    spectrum.Lab
	chroma float64
}

func newTarget(c spectrum.Lab) target { return target{c, math.Hypot(c[1], c[2])} }

// residual returns a vector to lab whose squared length is the squared
// distance.
func (t *target) residual(lab spectrum.Lab) [3]float64 {
	var d, mid spectrum.Lab
	for i := range d {
		d[i] = lab[i] - t.lab[i]
		mid[i] = (lab[i] + t.lab[i]) / 2
	}
	m := metricAt(mid)
	return m.residual(d)
}

func (t *target) distance2(lab spectrum.Lab) float64 {
	r := t.residual(lab)
	return float64(r[0]*r[0]) + float64(r[1]*r[1]) + float64(r[2]*r[2])
}

// slope returns the derivatives of the residual, which is r at lab: slope[i][j]
// is ∂r_j/∂lab_i. L moves the first part alone, a and b the two others.
func (t *target) slope(lab spectrum.Lab, r [3]float64) (slope [3][3]float64) {
	const h = 1.0 / 64
	slope[0][0] = ((lab[0]+h-t.lab[0])*lightness((lab[0]+h+t.lab[0])/2) - r[0]) / h
	for i := 1; i < 3; i++ {
		next := lab
		next[i] += h
		rn := t.residual(next)
		for j := 1; j < 3; j++ {
			slope[i][j] = (rn[j] - r[j]) / h
		}
	}
	return slope
}

// rough is distance2 without hue-dependent weights, for ranking many colors.
func (t *target) rough(lab spectrum.Lab) float64 {
	chroma := math.Sqrt(lab[1]*lab[1] + lab[2]*lab[2])
	mean := (chroma + t.chroma) / 2
	l50 := (lab[0]+t.lab[0])/2 - 50
	dl := (lab[0] - t.lab[0]) / (1 + .015*l50*l50/math.Sqrt(20+l50*l50))
	dc := chroma - t.chroma
	da, db := lab[1]-t.lab[1], lab[2]-t.lab[2]
	dh2 := math.Max(0, da*da+db*db-dc*dc)
	sc, sh := 1+.045*mean, 1+.015*mean
	return dl*dl + dc*dc/(sc*sc) + dh2/(sh*sh)
}
