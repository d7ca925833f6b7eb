package chart

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

// Print says what was measured.
type Print struct {
	Inks   []string     // in print order, first printed first
	Paper  string       // "": the shelf's first
	Finish ink.Finish   // of a paper that the shelf does not have
	Base   []float64    // percent of transparent base of each ink, NaN: as the shelf says; nil: all so
	Black  spectrum.XYZ // the black under patches over black, where no sample tells it
	Record ink.Record   // where the measurements come from
}

// A Doubtful patch was measured and not used.
type Doubtful struct {
	Sample Sample
	Words  string  // what is printed there
	Off    float64 // ΔE00 between it and what the other patches say
}

func (d *Doubtful) String() string {
	return fmt.Sprintf("%s (%s) is off by ΔE %.1f from what the other patches say", d.Sample.Name, d.Words, d.Off)
}

// Errors are ΔE00 between a model and measured patches.
type Errors struct {
	Patches         int
	Mean, P95, Most float64
}

func (e Errors) String() string {
	return fmt.Sprintf("mean ΔE %.2f, 95 %% under %.2f, largest %.2f", e.Mean, e.P95, e.Most)
}

// A Fitted shelf carries what a print measured.
type Fitted struct {
	Shelf    *ink.Shelf
	Paper    *ink.Paper
	Inks     []*ink.Ink
	Repeat   float64 // how far patches printed twice differ from their mean, ΔE00; 0: none was
	Before   Errors  // of the shelf as it was; no patches where it lacks an ink
	After    Errors
	Doubtful []Doubtful
	Bases    []Base // of inks that the shelf knew, where there is something to say
	Notes    []string
}

// patch is the mean of the samples of one patch.
type patch struct {
	Sample
	n int
}

// Fit puts a measured print on a shelf: the color of the paper and of each
// solid, spectra where they are measured, tints, overlaps and their tints, solids
// over black, the surface's share and the Yule–Nielsen factor. What a print does
// not say stays as old has it; old itself is not changed, and may be nil. Of an ink
// that old knows it says with how much base it looks to be printed.
//
// The surface and the factor take the place of what the paper's finish says only
// where they take away a twentieth of the error or more. A patch far from what
// all others say is left out and named.
func Fit(old *ink.Shelf, p Print, samples []Sample) (*Fitted, error) {
	if len(p.Inks) < 1 || len(p.Inks) > composite.MaxInks {
		return nil, fmt.Errorf("%d inks; a print takes 1 to %d", len(p.Inks), composite.MaxInks)
	}
	for _, s := range samples {
		if len(s.Film) != len(p.Inks) {
			return nil, fmt.Errorf("%s has %d film percents for %d inks", s.Name, len(s.Film), len(p.Inks))
		}
	}
	f := &fitter{print: p, out: &Fitted{}}
	if err := f.gather(samples); err != nil {
		return nil, err
	}
	if err := f.begin(old); err != nil {
		return nil, err
	}
	f.inks()
	if err := f.ramps(); err != nil {
		return nil, err
	}
	if err := f.overlaps(); err != nil {
		return nil, err
	}
	if err := f.surface(); err != nil {
		return nil, err
	}
	if err := f.factor(); err != nil {
		return nil, err
	}
	if err := f.middles(); err != nil {
		return nil, err
	}
	if err := f.shelf.Prepare(); err != nil {
		return nil, err
	}
	if err := f.bases(old); err != nil {
		return nil, err
	}
	m, err := f.model()
	if err != nil {
		return nil, err
	}
	f.out.After = f.errors(m)
	f.out.Shelf, f.out.Paper, f.out.Inks = f.shelf, f.paper, f.uses
	return f.out, nil
}

// Predict returns the errors of a model over samples on paper.
func Predict(m *composite.Model, samples []Sample) Errors {
	var d []float64
	e := m.NewEvaluator()
	cov := make([]float64, m.Inks())
	for i := range samples {
		if s := &samples[i]; !s.OverBlack {
			d = append(d, deltaE(e.XYZ(s.coverage(cov)), s.Color))
		}
	}
	return summarize(d)
}

func (s *Sample) coverage(cov []float64) []float64 {
	for i, v := range s.Film {
		cov[i] = v / 100
	}
	return cov
}

func summarize(d []float64) Errors {
	if len(d) == 0 {
		return Errors{}
	}
	sort.Float64s(d)
	e := Errors{Patches: len(d), P95: d[min(len(d)-1, len(d)*95/100)], Most: d[len(d)-1]}
	for _, v := range d {
		e.Mean += v / float64(len(d))
	}
	return e
}

type fitter struct {
	print   Print
	patches []*patch
	shelf   *ink.Shelf
	paper   *ink.Paper
	uses    []*ink.Ink
	out     *Fitted
}

// gather takes the mean of patches that are there twice, in linear light, and
// of three and more the one in the middle of each of X, Y and Z.
func (f *fitter) gather(samples []Sample) error {
	groups := map[string][]Sample{}
	var order []string
	for _, s := range samples {
		k := s.key()
		if groups[k] == nil {
			order = append(order, k)
		}
		groups[k] = append(groups[k], s)
	}
	sum, n := 0.0, 0
	for _, k := range order {
		g := groups[k]
		out := &patch{Sample: g[0], n: len(g)}
		for c := range out.Color {
			v := make([]float64, len(g))
			for i := range g {
				v[i] = g[i].Color[c]
			}
			out.Color[c] = center(v)
		}
		if out.Spectrum != nil {
			mean := *out.Spectrum
			for b := range mean {
				v := make([]float64, 0, len(g))
				for i := range g {
					if g[i].Spectrum != nil {
						v = append(v, g[i].Spectrum[b])
					}
				}
				mean[b] = center(v)
			}
			out.Spectrum = &mean
		}
		if len(g) > 1 {
			for i := range g {
				d := deltaE(g[i].Color, out.Color)
				sum += d * d * float64(len(g)) / float64(len(g)-1)
				n++
			}
		}
		f.patches = append(f.patches, out)
	}
	if n > 0 {
		f.out.Repeat = math.Sqrt(sum / float64(n))
	}
	return nil
}

// center is the mean of one or two numbers and the median of more.
func center(v []float64) float64 {
	sort.Float64s(v)
	return (v[(len(v)-1)/2] + v[len(v)/2]) / 2
}

// find returns the patch of the solids in mask.
func (f *fitter) find(mask uint, overBlack bool) *patch {
	for _, p := range f.patches {
		if m, solid := p.mask(); m == mask && solid && p.OverBlack == overBlack {
			return p
		}
	}
	return nil
}

// begin copies the shelf and finds or adds paper and inks.
func (f *fitter) begin(old *ink.Shelf) error {
	f.shelf = &ink.Shelf{}
	if old != nil {
		for _, p := range old.Papers {
			c := *p
			f.shelf.Papers = append(f.shelf.Papers, &c)
		}
		for _, i := range old.Inks {
			c := *i
			f.shelf.Inks = append(f.shelf.Inks, &c)
		}
		f.shelf.Overprints = slices.Clone(old.Overprints)
		f.shelf.Sets = slices.Clone(old.Sets)
	}
	bare := f.find(0, false)
	paper, err := f.shelf.Paper(f.print.Paper)
	switch {
	case err == nil:
	case bare == nil:
		return fmt.Errorf("no patch of the bare paper; measure it, with 0 percent of all inks")
	default:
		name := f.print.Paper
		if name == "" {
			name = "paper"
		}
		paper = &ink.Paper{Name: name, Finish: f.print.Finish}
		if paper.Finish == "" {
			paper.Finish = ink.Uncoated
			f.note("the paper is taken as uncoated; say --finish coated where it is")
		}
		f.shelf.Papers = append(f.shelf.Papers, paper)
	}
	known := 0
	for i, name := range f.print.Inks {
		solid := f.find(1<<i, false)
		u, err := f.shelf.Ink(name)
		if err == nil {
			known++
		} else if solid != nil {
			u = ink.NewInk(name, solid.Color)
			f.shelf.Inks = append(f.shelf.Inks, u)
		}
		if solid == nil {
			return fmt.Errorf("no patch of %s solid on bare paper; measure it, with 100 percent of it alone", name)
		}
		f.uses = append(f.uses, u)
	}
	if err == nil && known == len(f.uses) {
		if m, err := composite.New(f.shelf, paper, composite.AsMeasured(f.uses...)); err == nil {
			f.out.Before = f.errors(m)
		}
	}
	f.paper = paper
	if bare != nil {
		if d := deltaE(bare.Color, paper.Color); err == nil && d > 2 {
			f.note("the paper measures ΔE %.1f from what the shelf says of %s; the measurement is taken", d, paper.Name)
		}
		paper.Color, paper.Spectrum = bare.Color, bare.Spectrum
		paper.Record = f.print.Record
	}
	// Earlier overlaps of these inks on this paper give way to this print's.
	f.shelf.Overprints = slices.DeleteFunc(f.shelf.Overprints, func(o ink.Overprint) bool {
		on, err := f.shelf.OverprintPaper(&o)
		if err != nil || on != paper {
			return false
		}
		for _, name := range o.Inks {
			if i, err := f.shelf.Ink(name); err != nil || !slices.Contains(f.uses, i) {
				return false
			}
		}
		return true
	})
	return nil
}

func (f *fitter) note(format string, args ...any) {
	f.out.Notes = append(f.out.Notes, fmt.Sprintf(format, args...))
}

func (f *fitter) errors(m *composite.Model) Errors {
	var s []Sample
	for _, p := range f.patches {
		s = append(s, p.Sample)
	}
	return Predict(m, s)
}

// inks writes what the solids say.
func (f *fitter) inks() {
	for i, u := range f.uses {
		solid := f.find(1<<i, false)
		u.On, u.Color, u.Spectrum = f.paper.Name, solid.Color, solid.Spectrum
		if f.paper.Spectrum == nil {
			u.Spectrum = nil // a ratio of a spectrum to a guess would be neither
		}
		u.OverBlack, u.OverBlackSpectrum, u.Black = nil, nil, nil
		u.Tints, u.ToneCurve = nil, nil
		u.Record = f.print.Record
		if f.print.Base != nil && f.print.Base[i] >= 0 {
			u.Base = f.print.Base[i]
		}
		if over := f.find(1<<i, true); over != nil {
			black := f.print.Black
			if b := f.find(0, true); b != nil {
				black = b.Color
			}
			c := over.Color
			// What is darker over black than black itself hides nothing.
			u.OverBlack = &c
			if black != (spectrum.XYZ{}) {
				u.Black = &black
			}
			if u.Spectrum != nil {
				u.OverBlackSpectrum = over.Spectrum
			}
			u.Opacity = math.NaN()
		}
	}
}

// model prints the inks as the shelf has them now.
func (f *fitter) model() (*composite.Model, error) {
	return composite.New(f.shelf, f.paper, composite.AsMeasured(f.uses...))
}

// drop leaves a patch out and says so.
func (f *fitter) drop(p *patch, off float64) {
	f.out.Doubtful = append(f.out.Doubtful, Doubtful{Sample: p.Sample, Words: p.Words(f.print.Inks), Off: off})
	f.patches = slices.DeleteFunc(f.patches, func(q *patch) bool { return q == p })
}
