package ink

import (
	"math"

	"platewright/composite/spectrum"
)

// A Layer is a printed film of ink made ready to be laid over something. What
// Kubelka–Munk says of a film with absorption K and scattering S (both for the
// whole thickness) over a background Rg is a fraction of two straight lines,
//
//	R = (S − A·Rg) / (C − S·Rg)
//	x = √(K² + 2KS),  u = 2x/(e^2x − 1)
//	A = S − 2KS/(K+x) − u,  C = S + K + x + u
//
// which is [1−Rg(a−b·coth bS)]/[a−Rg+b·coth bS] (Kubelka and Munk 1931; Kubelka
// 1948) freed of what cancels: for S → 0 it goes over smoothly into
// Rg·exp(−2K), Beer and Lambert's law, and for K → 0 into
// (S + Rg(1−S))/(1 + S(1−Rg)).
type Layer struct{ s, a, c spectrum.Reflectance }

// NewLayer prepares the layer of a film.
func NewLayer(f *Film) *Layer {
	var l Layer
	for i := range f.K {
		l.s[i] = f.S[i]
		l.a[i], l.c[i] = bounds(f.K[i], f.S[i])
	}
	return &l
}

// Over returns the reflectance, inside the sheet, of the layer over under.
func (l *Layer) Over(under *spectrum.Reflectance) (r spectrum.Reflectance) {
	for i, g := range under {
		r[i] = (l.s[i] - float64(l.a[i]*g)) / (l.c[i] - float64(l.s[i]*g))
	}
	return r
}

func bounds(k, s float64) (a, c float64) {
	x := math.Sqrt(k * (k + 2*s))
	u := 1.0
	if x > 1e-9 {
		u = 2 * x / math.Expm1(2*x)
	}
	lost := 0.0
	if k > 0 {
		lost = 2 * k * s / (k + x)
	}
	return s - lost - u, s + k + x + u
}

// Over returns the reflectance of a film with absorption k and scattering s,
// both ≥ 0, over a background with the reflectance under, 0 … 1. See Layer.
func Over(k, s, under float64) float64 {
	a, c := bounds(k, s)
	return (s - a*under) / (c - s*under)
}

// TwoBackings returns absorption and scattering of a film from its reflectance
// over two backings: rw over gw, rb over gb, gw > gb (algebra of the same
// theory). It is false where no film does that, as noise makes it happen: a
// film cannot keep all of the difference between the backings, nor turn it
// round.
func TwoBackings(rw, gw, rb, gb float64) (k, s float64, ok bool) {
	if !(gw > gb && rw > 0 && rb >= 0 && rw < 1 && rb < 1) {
		return 0, 0, false
	}
	cross := rw*gb - rb*gw
	if math.Abs(cross) < 1e-12 || rb/rw-gb/gw < 1e-9 {
		// The backings shine through in proportion: nothing scatters.
		if rw > gw {
			return 0, 0, false
		}
		return math.Log(gw/rw) / 2, 0, true
	}
	a := ((rw-rb)*(1+gw*gb) - (gw-gb)*(1+rw*rb)) / (2 * cross)
	if !(a > 1) {
		return 0, 0, false
	}
	b := math.Sqrt(a*a - 1)
	y := (1 - a*(rb+gb) + rb*gb) / (b * (rb - gb))
	if !(y > 1) && !(y < -1) {
		return 0, 0, false
	}
	s = math.Log((y+1)/(y-1)) / (2 * b)
	if !(s >= 0) || math.IsInf(s, 0) {
		return 0, 0, false
	}
	return s * (a - 1), s, true
}

// leastScattering is the S below which no film over under reaches r: with it,
// K is 0.
func leastScattering(r, under float64) float64 {
	if r <= under {
		return 0
	}
	return (r - under) / ((1 - r) * (1 - under))
}

// kMax is the largest absorption of a film: without scattering R = Rg·e^−24,
// with it R∞ ≈ S/2K = .0005, both as black as black.
func kMax(s float64) float64 { return 12 + 1000*s }

// absorption returns the K with which a film of scattering s turns under into
// r, 0 where even K = 0 stays below r. ln R falls almost linearly with K,
// exactly so without scattering, and ever less steeply with it, so that the
// secant is quick and stays on its side of the root.
func absorption(r, under, s float64) float64 {
	r = max(r, 1e-9)
	miss := func(k float64) float64 { return math.Log(Over(k, s, under) / r) }
	lo, flo := 0.0, miss(0)
	if !(flo > 0) {
		return 0
	}
	k := flo / 2
	limit := kMax(s)
	hi := limit
	for range 60 {
		k = min(k, limit)
		f := miss(k)
		if math.Abs(f) < 1e-11 || k == limit && f > 0 {
			return k
		}
		next := k + f*(k-lo)/(flo-f)
		if f > 0 {
			lo, flo = k, f
		} else {
			hi = k
		}
		if !(next > lo && next <= hi) {
			next = (lo + hi) / 2
		}
		if next == k || hi-lo < 1e-14 {
			return next
		}
		k = next
	}
	return k
}
