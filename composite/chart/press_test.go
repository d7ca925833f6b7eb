package chart

import (
	"math"
	"os"
	"sync"
	"testing"

	"platewright/composite/spectrum"
)

// press is a measured printing condition as a press.
type press struct {
	samples map[string]spectrum.XYZ
	list    []Sample
	inks    [4]spectrum.Reflectance // ratio of solid to paper of like inks
	mu      sync.Mutex
	spectra map[[5]uint8]*spectrum.Reflectance
	colors  map[[5]uint8]spectrum.XYZ
}

func newPress(t testing.TB, file string) *press {
	p := &press{samples: map[string]spectrum.XYZ{}, list: measured(t, file), spectra: map[[5]uint8]*spectrum.Reflectance{}, colors: map[[5]uint8]spectrum.XYZ{}}
	for _, s := range p.list {
		if _, ok := p.samples[s.key()]; !ok {
			p.samples[s.key()] = s.Color
		}
	}
	f, err := os.Open("../../testdata/spectral-single-ink-ramps.cgats")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	tab, err := ReadTable(f, "spectral-single-ink-ramps.cgats")
	if err != nil {
		t.Fatal(err)
	}
	var paper *spectrum.Reflectance
	for _, s := range tab.Samples {
		if m, _ := s.mask(); m == 0 {
			paper = s.Spectrum
		}
	}
	for _, s := range tab.Samples {
		if m, solid := s.mask(); solid && m&(m-1) == 0 && m > 0 {
			for i := range 4 {
				if m == 1<<i {
					for b := range p.inks[i] {
						// The proof's paper is dark in the violet, where ratios are noise.
						p.inks[i][b] = math.Min(1, math.Max(.02, s.Spectrum[max(b, 6)]/paper[max(b, 6)]))
					}
				}
			}
		}
	}
	return p
}

// color is what is measured where the inks have these percents; state[4] is 1
// over the black bar, which is the press's own black.
func (p *press) color(state [5]uint8) spectrum.XYZ {
	if c, ok := p.colors[state]; ok {
		return c
	}
	film := []float64{float64(state[0]), float64(state[1]), float64(state[2]), float64(state[3])}
	if state[4] == 1 {
		film[3] = 100
	}
	c, ok := p.samples[(&Sample{Film: film}).key()]
	if !ok { // at the edges of patches out of register
		best := math.Inf(1)
		for _, s := range p.list {
			d := 0.0
			for i, f := range s.Film {
				d += (f - film[i]) * (f - film[i])
			}
			if d < best {
				best, c = d, s.Color
			}
		}
	}
	p.colors[state] = c
	return c
}

// spectrum has exactly the color of a state.
func (p *press) spectrum(state [5]uint8) *spectrum.Reflectance {
	p.mu.Lock()
	defer p.mu.Unlock()
	if r := p.spectra[state]; r != nil {
		return r
	}
	want := p.color(state)
	var est spectrum.Reflectance
	for b := range est {
		est[b] = .9
		for i := range 4 {
			a := float64(state[i]) / 100
			if i == 3 && state[4] == 1 {
				a = 1
			}
			est[b] *= 1 + a*(p.inks[i][b]-1)
		}
		est[b] = math.Max(est[b], .003)
	}
	r := bendTo(est, want)
	p.spectra[state] = r
	return r
}

// bendTo multiplies a spectrum by the exponential of a parabola so that it has a
// color (Newton's method).
func bendTo(est spectrum.Reflectance, want spectrum.XYZ) *spectrum.Reflectance {
	var k [3]float64
	build := func(k [3]float64) (r spectrum.Reflectance) {
		for b := range r {
			t := float64(b)/17.5 - 1
			r[b] = est[b] * math.Exp(k[0]+k[1]*t+k[2]*t*t)
		}
		return r
	}
	for range 40 {
		r := build(k)
		at := r.XYZ()
		var j [3][4]float64
		for c := range 3 {
			j[c][3] = want[c] - at[c]
			for i := range 3 {
				q := k
				q[i] += 1e-5
				s := build(q)
				j[c][i] = (s.XYZ()[c] - at[c]) / 1e-5
			}
		}
		for c := range 3 {
			for r := range 3 {
				if r != c {
					f := j[r][c] / j[c][c]
					for i := range 4 {
						j[r][i] -= f * j[c][i]
					}
				}
			}
		}
		for i := range 3 {
			k[i] += math.Max(-.5, math.Min(.5, j[i][3]/j[i][i]))
		}
	}
	r := build(k)
	return &r
}
