package artwork

import (
	"math"
	"sort"

	"platewright/composite/spectrum"
)

// curve is the tone curve of one channel, between encoded values and linear
// light, both 0 … 1. It continues outside of that range.
type curve interface {
	decode(v float64) float64 // to linear light
	encode(l float64) float64 // the inverse
}

// sound reports whether c can serve as a tone curve: finite, never falling,
// and spanning a range worth the name.
func sound(c curve) bool {
	const n = 1024
	last := c.decode(0)
	if !(last > -.1 && last < .5) {
		return false
	}
	for i := 1; i <= n; i++ {
		v := c.decode(float64(i) / n)
		if !(v >= last) || v > 2 {
			return false
		}
		last = v
	}
	return last > .5
}

type srgbCurve struct{}

func (srgbCurve) decode(v float64) float64 { return spectrum.Decode(v) }
func (srgbCurve) encode(l float64) float64 { return spectrum.Encode(l) }

// parametric is the curve of ICC.1:2010 10.15, kind 4, which holds the kinds
// below it: (a·v + b)^g + e from d up, c·v + f below d. It is odd around zero.
type parametric struct{ g, a, b, c, d, e, f float64 }

func gamma(g float64) parametric { return parametric{g: g, a: 1} }

func (p parametric) decode(v float64) float64 {
	if v < 0 {
		return -p.decode(-v)
	}
	if v < p.d {
		return p.c*v + p.f
	}
	return math.Pow(math.Max(p.a*v+p.b, 0), p.g) + p.e
}

func (p parametric) encode(l float64) float64 {
	if l < 0 {
		return -p.encode(-l)
	}
	if p.d > 0 && l < p.decode(p.d) {
		if p.c == 0 {
			return 0
		}
		return math.Max(0, math.Min(p.d, (l-p.f)/p.c))
	}
	return (math.Pow(math.Max(l-p.e, 0), 1/p.g) - p.b) / p.a
}

// sampled is a tone curve through evenly spaced values, straight between them.
// It needs two or more and they must not fall.
type sampled []float64

func (t sampled) decode(v float64) float64 {
	n := len(t) - 1
	x := v * float64(n)
	i := int(math.Max(0, math.Min(math.Floor(x), float64(n-1))))
	if v > 1 {
		return t[n] + (v-1)*t.endSlope()
	}
	if v < 0 {
		return -t.decode(-v)
	}
	return t[i] + (x-float64(i))*(t[i+1]-t[i])
}

func (t sampled) encode(l float64) float64 {
	n := len(t) - 1
	switch {
	case l < 0:
		return -t.encode(-l)
	case l <= t[0]:
		return 0
	case l > t[n]:
		return 1 + (l-t[n])/t.endSlope()
	}
	i := sort.SearchFloat64s(t, l) // t[i-1] < l ≤ t[i]
	return (float64(i-1) + (l-t[i-1])/(t[i]-t[i-1])) / float64(n)
}

// endSlope is the slope over the last eighth of the curve: a single step of a
// table of 8-bit values is too coarse to go on from.
func (t sampled) endSlope() float64 {
	n := len(t) - 1
	k := max(n/8, 1)
	return math.Max((t[n]-t[n-k])*float64(n)/float64(k), .1)
}
