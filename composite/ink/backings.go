package ink

import (
	"math"

	"platewright/composite/spectrum"
)

// defaultBlack is the color of the black under an over_black that does not
// state it: a printed solid, Y = 3 % [common practice].
var defaultBlack = spectrum.XYZ{.03 * 96.422, .03 * 100, .03 * 82.521}

// fromTwo finds K and S from the solid over paper and over black.
func (f *Film) fromTwo(i *Ink, sh *Sheet, solid *spectrum.Reflectance) {
	black := defaultBlack
	if i.Black != nil {
		black = *i.Black
	}
	under, _ := spectrum.Smooth(black)
	under = sh.Surface.Enter(&under)
	if i.OverBlackSpectrum != nil {
		over := sh.Surface.Enter(i.OverBlackSpectrum)
		for b, r := range solid {
			k, s, ok := TwoBackings(r, sh.Inside[b], over[b], under[b])
			if !ok {
				s = leastScattering(r, sh.Inside[b])
				k = absorption(r, sh.Inside[b], s)
			}
			s = min(s, scatterMax)
			f.K[b], f.S[b] = min(k, kMax(s)), s
		}
		return
	}
	f.fitBlack(*i.OverBlack, sh, solid, &under)
}

// fitBlack finds the scattering, smooth over the spectrum (the three observer
// curves as shares), with which the film has the color over black. Where
// several would, the one nearest to equal in all bands is found, as that is
// where the search starts.
func (f *Film) fitBlack(want spectrum.XYZ, sh *Sheet, solid, under *spectrum.Reflectance) {
	share := observerShares()
	build := func(s [3]float64) spectrum.XYZ {
		for b, r := range solid {
			v := share[b][0]*s[0] + share[b][1]*s[1] + share[b][2]*s[2]
			v = min(max(v, leastScattering(r, sh.Inside[b])), scatterMax)
			f.S[b], f.K[b] = v, absorption(r, sh.Inside[b], v)
		}
		over := NewLayer(f).Over(under)
		return sh.Surface.XYZ(&over)
	}
	lo, hi := scatterMin, scatterMax
	for hi/lo > 1.01 {
		mid := math.Sqrt(lo * hi)
		if build([3]float64{mid, mid, mid})[1] < want[1] {
			lo = mid
		} else {
			hi = mid
		}
	}
	s := [3]float64{lo, lo, lo}
	best, bestMiss := s, spectrum.DeltaE(build(s).Lab(), want.Lab())
	for range 30 {
		at := build(s)
		for c := range s {
			// The observer curves overlap little: each channel answers
			// mostly to its own share.
			step := s[c]*.02 + scatterMin
			try := s
			try[c] += step
			slope := (build(try)[c] - at[c]) / step
			if slope > 1e-6 {
				d := (want[c] - at[c]) / slope
				s[c] = min(max(s[c]+.7*d, s[c]/3, 0), s[c]*3+.05, scatterMax)
			}
		}
		if miss := spectrum.DeltaE(build(s).Lab(), want.Lab()); miss < bestMiss {
			best, bestMiss = s, miss
			if miss < 1e-3 {
				break
			}
		}
	}
	build(best)
}

// observerShares divides each band among X, Y and Z by how much it tells in
// each; the shares of a band add up to 1.
func observerShares() (share [spectrum.Bands][3]float64) {
	for b := range share {
		var one spectrum.Reflectance
		one[b] = 1
		c := one.XYZ()
		// X has a second hump in the blue, which belongs to Z here.
		if b < 14 {
			c[0] = 0
		}
		sum := c[0] + c[1] + c[2]
		for i := range c {
			share[b][i] = c[i] / sum
		}
	}
	return share
}
