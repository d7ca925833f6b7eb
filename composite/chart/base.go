package chart

import (
	"fmt"
	"math"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

// A Base is how much transparent base a print looks to have been made with: where
// the shelf knew the ink at another base, or without any, that ink let down by base
// (see ink.Film.WithBase) comes nearest to the solids that were measured.
type Base struct {
	Ink       string
	Percent   float64 // by weight; a thinner film of ink looks like base, too
	PlusMinus float64 // two standard deviations
	Stated    float64 // of this print, else on the shelf; NaN: nobody said
	Written   float64 // on the new shelf; NaN: nothing
	Off       float64 // mean ΔE00 that is left between it and the solids
	Differs   bool    // from what was stated, by more than can be chance
}

func (b *Base) String() string {
	text := fmt.Sprintf("%s prints like %.0f %% base (±%.0f)", b.Ink, b.Percent, b.PlusMinus)
	if !math.IsNaN(b.Stated) {
		text += fmt.Sprintf("; %g %% was stated", b.Stated)
	}
	return text
}

const (
	// surestBase is the least difference in base that counts, percent: films by
	// hand vary by that much in thickness [common practice].
	surestBase = 5

	// otherInk is the mean ΔE00 left at the best base beyond which what was
	// printed is another ink than the shelf's: batches of one ink differ by less
	// [common practice].
	otherInk = 6

	// vagueBase is the uncertainty in percent beyond which nothing is told.
	vagueBase = 15

	// halfOpaque is an opacity that an ink may have of which none is known.
	halfOpaque = .5

	// guessed is by how much of its logarithm the share of ink is misjudged as
	// spectra are guessed from colors, a standard deviation [calc: of the simulated
	// inks of the test].
	guessed = .06

	// agreement is how far two instruments differ on a color, ΔE00 [common
	// practice].
	agreement = .5
)

// bases finds with how much base each ink was printed and writes it on the new
// shelf where it says something else than what was stated: with it, base leads
// from what is measured now to what the old shelf had measured. What was printed
// through another mesh has another film, of which the old shelf says nothing.
func (f *fitter) bases(old *ink.Shelf) error {
	if old == nil {
		return nil
	}
	was, err := f.asNow(old, math.NaN())
	if err != nil {
		return nil // the old shelf has no such paper or surface: nothing to hold against
	}
	hazy, err := f.asNow(old, halfOpaque)
	if err != nil {
		return nil
	}
	changed := false
	for i, u := range f.uses {
		o, err := was.Ink(u.Name)
		if err != nil {
			continue
		}
		given := f.print.Base != nil && f.print.Base[i] >= 0
		if !given && !(o.Base >= 0) && o.By == "" {
			continue // neither then nor now a word on base, and nothing measured
		}
		b := f.base(was, o, i)
		if !o.OpacityKnown() {
			// Taken as clear, an ink that scatters seems to be let down by less.
			if o, err := hazy.Ink(u.Name); err == nil {
				b.PlusMinus = math.Hypot(b.PlusMinus, f.base(hazy, o, i).Percent-b.Percent)
			}
		}
		if !(b.Off <= otherInk && b.PlusMinus <= vagueBase) {
			continue
		}
		b.Stated, b.Written = u.Base, u.Base
		stated := 0.
		if u.Base > 0 {
			stated = u.Base
		}
		b.Differs = math.Abs(b.Percent-stated) > math.Max(2*b.PlusMinus, surestBase)
		otherMesh := o.Mesh != "" && f.print.Record.Mesh != "" && o.Mesh != f.print.Record.Mesh
		if b.Differs && !otherMesh {
			percent := math.Round(10*b.Percent) / 10
			if !f.nearer(was, o, u, percent) {
				continue // the spectra that the colors stand for do not agree
			}
			u.Base, b.Written, changed = percent, percent, true
		}
		if b.Differs || u.Base > 0 {
			f.out.Bases = append(f.out.Bases, b)
		}
	}
	if !changed {
		return nil
	}
	return f.shelf.Prepare()
}

// asNow is the old shelf with the surface that is measured now, so that the old
// films and the new ones are under the same, and with an opacity for inks that
// have none.
func (f *fitter) asNow(old *ink.Shelf, opacity float64) (*ink.Shelf, error) {
	s := &ink.Shelf{}
	for _, i := range old.Inks {
		c := *i
		if !c.OpacityKnown() {
			c.Opacity = opacity
		}
		s.Inks = append(s.Inks, &c)
	}
	re := f.shelf.Sheet(f.paper).Surface.Re
	for _, p := range old.Papers {
		c := *p
		if c.Finish == f.paper.Finish {
			c.Surface = re
		}
		s.Papers = append(s.Papers, &c)
	}
	return s, s.Prepare()
}

// base fits the base of the i-th ink; o is the ink as it was known.
func (f *fitter) base(was *ink.Shelf, o *ink.Ink, i int) (b Base) {
	b.Ink = f.uses[i].Name
	type backing struct {
		paper *ink.Paper
		seen  *patch
	}
	paper := *f.paper
	paper.Surface = f.shelf.Sheet(f.paper).Surface.Re
	on := []backing{{&paper, f.find(1<<i, false)}}
	if over := f.find(1<<i, true); over != nil && o.OpacityKnown() {
		if u := f.uses[i]; u.Black != nil {
			black := &ink.Paper{Name: "black", Finish: paper.Finish, Color: *u.Black, Surface: paper.Surface}
			on = append(on, backing{black, over})
		}
	}
	at := func(percent float64) (out []spectrum.XYZ) {
		for _, g := range on {
			m, err := composite.New(was, g.paper, []composite.Use{{Ink: o, Base: percent}})
			if err != nil {
				return nil
			}
			out = append(out, m.Overprint(1))
		}
		return out
	}
	off := func(percent float64) (sum float64) {
		colors := at(percent)
		if colors == nil {
			return math.Inf(1)
		}
		for k, c := range colors {
			d := deltaE(c, on[k].seen.Color)
			sum += d * d
		}
		return sum
	}
	best, least := 0., off(0)
	for step := 8.; step > .1; step /= 4 { // coarse first, then around the best
		from, to := best-3*step, best+3*step
		if step == 8 {
			from, to = step, 96
		}
		for p := math.Max(from, 0); p <= math.Min(to, 99); p += step {
			if d := off(p); d < least {
				best, least = p, d
			}
		}
	}
	n := float64(len(on))
	b.Percent, b.Off = best, math.Sqrt(least/n)
	if math.IsInf(least, 1) {
		return b
	}
	// How fast the colors change with the share of ink says how well they tell it,
	// now and then. What is left between them and the measurement counts as chance
	// in every direction.
	then := 0.
	if o.Base > 0 {
		then = o.Base
	}
	steep := func(percent float64) (sum float64) { // (ΔE per logarithm of the share)²
		low, high := at(math.Max(percent-1, 0)), at(math.Min(percent+1, 99))
		step := math.Log((100 - math.Max(percent-1, 0)) / (100 - math.Min(percent+1, 99)))
		for k := range low {
			d := deltaE(low[k], high[k]) / step
			sum += d * d
		}
		return math.Max(sum, 1e-9)
	}
	ratio := math.Log((100 - best) / (100 - then))
	chance := least/(3*n-1) + f.out.Repeat*f.out.Repeat + agreement*agreement
	wide := chance/steep(best) + agreement*agreement/steep(then) + guessed*guessed*ratio*ratio
	b.PlusMinus = 2 * math.Sqrt(wide) * (100 - best)
	return b
}

// nearer reports whether the new shelf, with its ink u said to hold percent of
// base, predicts what the old one measured better than it does now.
func (f *fitter) nearer(was *ink.Shelf, o, u *ink.Ink, percent float64) bool {
	p, err := was.Paper(o.On)
	if err != nil {
		return false
	}
	then := 0.
	if o.Base > 0 {
		then = o.Base
	}
	var off [2]float64
	for k, base := range [2]float64{u.Base, percent} {
		now := *u
		now.Base = base
		m, err := composite.New(f.shelf, p, []composite.Use{{Ink: &now, Base: then}})
		if err != nil {
			return false
		}
		off[k] = deltaE(m.Overprint(1), o.Color)
	}
	return off[1] < off[0]
}
