package ink

import (
	"fmt"
	"math"

	"platewright/composite/spectrum"
)

// A Film is one printed layer of an ink: absorption and scattering per band for
// its whole thickness. It does not depend on the paper it was measured on.
type Film struct {
	K, S spectrum.Reflectance
	Glow spectrum.XYZ // light beyond what any reflectance gives back (fluorescence), seen without a layer above
	Base float64      // percent of transparent base in it

	Opacity float64 // contrast ratio, surface removed
	Raised  bool    // the opacity had to be more than stated to reach the color
}

// Notes says in plain words where the film departs from what was stated.
func (f *Film) Notes() []string {
	var notes []string
	if f.Raised {
		notes = append(notes, fmt.Sprintf("its color cannot be reached on its paper with less than an opacity of %.2f, which is taken", f.Opacity))
	}
	if f.Glow != (spectrum.XYZ{}) {
		notes = append(notes, "its color is beyond any reflectance, as of fluorescent ink: measure the overlaps")
	}
	return notes
}

// A Sheet is a paper made ready for layers.
type Sheet struct {
	Surface spectrum.Surface
	Inside  spectrum.Reflectance // bare paper inside the surface
	N       float64              // Yule–Nielsen factor of tints on it
}

const (
	// baseScattering is the S of a film of nothing but transparent base: a
	// hardly visible haze, half a percent over black [common practice: a good
	// base is all but invisible on black].
	baseScattering = 0.005

	// backing is the reflectance of the white that an opacity refers to.
	backing = 0.8

	scatterMin = 1e-6 // no different from none
	scatterMax = 60.0 // over black this gives back 98 % in white
)

// constants returns the surface and the Yule–Nielsen factor of a finish. They
// are starting values found by trial on offset prints, see package composite.
func (f Finish) constants() (re, ri, n float64) {
	if f == Coated {
		return .01, .6, 1.5
	}
	return .06, .6, 2
}

// Sheet returns p ready for layers.
func (s *Shelf) Sheet(p *Paper) *Sheet {
	if sh := s.sheets[p]; sh != nil {
		return sh
	}
	return s.makeSheet(p)
}

func (s *Shelf) makeSheet(p *Paper) *Sheet {
	re, ri, n := p.Finish.constants()
	if p.Surface > 0 {
		re = p.Surface
	}
	if p.N > 0 {
		n = p.N
	}
	re = min(re, surfaceShare*s.darkest(p))
	sh := &Sheet{Surface: spectrum.Surface{Re: re, Ri: ri}, N: n}
	var measured spectrum.Reflectance
	if p.Spectrum != nil {
		measured = *p.Spectrum
	} else {
		measured, _ = spectrum.Smooth(p.Color)
	}
	sh.Inside = sh.Surface.Enter(&measured)
	for i, v := range sh.Inside {
		sh.Inside[i] = min(max(v, 1e-4), .999)
	}
	return sh
}

const (
	// surfaceShare is the part of the darkest measurement that the surface may
	// have given back.
	surfaceShare = 0.9

	// darkestPrint is darker than any print: what is below was typed or is an
	// instrument's noise, as #000000 for a black [common practice].
	darkestPrint = 0.004
)

// darkest returns the least reflectance measured in any band on papers of p's
// finish: of spectra the least band, of colors the least of X, Y and Z against
// white.
func (s *Shelf) darkest(p *Paper) float64 {
	least := 1.0
	one := func(v float64) {
		if v >= darkestPrint {
			least = min(least, v)
		}
	}
	color := func(c *spectrum.XYZ) {
		if c != nil {
			for i, w := range spectrum.White() {
				one(c[i] / w)
			}
		}
	}
	bands := func(r *spectrum.Reflectance) {
		if r != nil {
			for _, v := range r {
				one(v)
			}
		}
	}
	bands(p.Spectrum)
	color(&p.Color)
	for _, i := range s.Inks {
		if q, err := s.Paper(i.On); err == nil && q.Finish == p.Finish {
			color(&i.Color)
			color(i.OverBlack)
			color(i.Black)
			bands(i.Spectrum)
			bands(i.OverBlackSpectrum)
		}
	}
	for n := range s.Overprints {
		o := &s.Overprints[n]
		if q, err := s.OverprintPaper(o); err == nil && q.Finish == p.Finish {
			color(&o.Color)
		}
	}
	return least
}

// OverprintPaper returns the paper that o was measured on.
func (s *Shelf) OverprintPaper(o *Overprint) (*Paper, error) {
	on := o.On
	if on == "" && len(o.Inks) > 0 {
		i, err := s.Ink(o.Inks[0])
		if err != nil {
			return nil, err
		}
		on = i.On
	}
	return s.Paper(on)
}

// Film returns the printed film of i as it was measured.
func (s *Shelf) Film(i *Ink) (*Film, error) {
	if f := s.films[i]; f != nil {
		return f, nil
	}
	return s.FilmWith(i, i.Opacity)
}

// FilmWith returns the film that i would be had it the opacity given. An ink
// measured over black has the one it has.
func (s *Shelf) FilmWith(i *Ink, opacity float64) (*Film, error) {
	p, err := s.Paper(i.On)
	if err != nil {
		return nil, err
	}
	sh := s.Sheet(p)
	f := &Film{}
	if i.Base > 0 {
		f.Base = i.Base
	}
	solid := f.solid(i, sh)
	floor := 0.0
	for b, r := range solid {
		floor = max(floor, leastScattering(r, sh.Inside[b]))
	}
	switch {
	case i.OverBlackSpectrum != nil || i.OverBlack != nil:
		f.fromTwo(i, sh, &solid)
	case !(opacity > 0):
		f.Raised = floor > 0
		f.scatter(&solid, sh, floor)
	default:
		f.Raised = f.fromOpacity(opacity, floor, &solid, sh)
	}
	f.Opacity = f.contrast()
	return f, nil
}

// solid returns the reflectance of i's solid inside the sheet.
func (f *Film) solid(i *Ink, sh *Sheet) spectrum.Reflectance {
	if i.Spectrum != nil {
		r := sh.Surface.Enter(i.Spectrum)
		for b, v := range r {
			if v > .99 {
				r[b] = .99
			}
		}
		measured := sh.Surface.XYZ(&r)
		for c := range f.Glow {
			// Below one percent of white it is rounding, not fluorescence.
			if d := i.Color[c] - measured[c]; d > 1 {
				f.Glow[c] = d
			}
		}
		return r
	}
	t, ok := spectrum.SmoothRatio(i.Color, &sh.Inside, sh.Surface)
	var r spectrum.Reflectance
	for b := range r {
		r[b] = t[b] * sh.Inside[b]
	}
	// A difference below one is a measurement's own uncertainty, and a black
	// darker than the surface is as black as can be.
	near := sh.Surface.XYZ(&r)
	if ok || spectrum.DeltaE(near.Lab(), i.Color.Lab()) < 1 || i.Color[1] < near[1] && i.Color[1] < 150*sh.Surface.Re {
		return r
	}
	white := spectrum.Flat(.985)
	direct, ok := spectrum.SmoothRatio(i.Color, &white, sh.Surface)
	for b := range direct {
		direct[b] *= white[b]
	}
	if ok {
		return direct
	}
	// Fluorescent inks are clear ones that also shine. Only where the paper is
	// darker than the ink does it have to cover it.
	if sh.Inside.Luminance() < direct.Luminance() {
		r = direct
	}
	near = sh.Surface.XYZ(&r)
	for c := range f.Glow {
		f.Glow[c] = i.Color[c] - near[c]
	}
	return r
}

// scatter sets S to s in all bands and K to what the solid then needs.
func (f *Film) scatter(solid *spectrum.Reflectance, sh *Sheet, s float64) {
	for b, r := range solid {
		f.S[b] = s
		f.K[b] = absorption(r, sh.Inside[b], s)
	}
}

// fromOpacity finds by bisection the scattering that gives the opacity.
func (f *Film) fromOpacity(opacity, floor float64, solid *spectrum.Reflectance, sh *Sheet) (raised bool) {
	f.scatter(solid, sh, floor)
	if f.contrast() >= opacity {
		return f.contrast() > opacity+.005
	}
	lo, hi := max(floor, scatterMin), scatterMax
	for range 40 {
		mid := math.Sqrt(lo * hi)
		f.scatter(solid, sh, mid)
		if f.contrast() < opacity {
			lo = mid
		} else {
			hi = mid
		}
		if hi/lo < 1.0005 {
			break
		}
	}
	return false
}

// contrast is luminance over nothing divided by luminance over the backing
// (the idea of ISO 6504-3), surface removed.
func (f *Film) contrast() float64 {
	l := NewLayer(f)
	black, white := spectrum.Flat(0), spectrum.Flat(backing)
	dark, light := l.Over(&black), l.Over(&white)
	if y := light.Luminance(); y > 0 {
		return dark.Luminance() / y
	}
	return 1
}

// WithBase returns the film as it prints with percent of transparent base, by
// weight: absorption and scattering of the pigment go with its share, and the
// base adds a little scattering of its own (linear in concentration, Duncan
// 1940). A negative percentage or NaN leaves f as it was measured.
func (f *Film) WithBase(percent float64) *Film {
	if !(percent >= 0) || percent == f.Base {
		return f
	}
	share := (100 - min(percent, 100)) / (100 - f.Base)
	own := baseScattering * f.Base / 100
	out := *f
	out.Base = percent
	for b := range f.K {
		out.K[b] = f.K[b] * share
		out.S[b] = max(0, f.S[b]-own)*share + baseScattering*percent/100
	}
	for c := range f.Glow {
		out.Glow[c] = f.Glow[c] * min(1, share)
	}
	out.Opacity = out.contrast()
	return &out
}
