package choose

import (
	"context"
	"fmt"
	"math"
	"slices"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
	"platewright/separate"
	"platewright/separate/artwork"
)

// A Free is one ink that a picture would like to have.
type Free struct {
	Color  spectrum.XYZ // its solid on the paper
	Recipe *Recipe      // from the shelf, the nearest where it is out of reach
}

const (
	// freePool is the number of colors that the search for free inks starts
	// from.
	freePool = 22
	// freeStarts is the number of sets of them that are improved.
	freeStarts = 4
	// freeGain is the share of the difference that a further round has to win.
	freeGain = .002
	// freeDark bounds what one film takes away: in no band is a solid darker
	// inside the sheet than this share of the paper. A printed black has about
	// as little [common practice: a solid black reflects about 3 %].
	freeDark = .008
)

// FreeInks returns the q.Count colors of ink that would print the flattened picture
// best if the shelf had anything: colors that one film, clear or hiding, can
// have on this paper. They are found from the picture's own main colors,
// stronger ones of their hues, and the best sets of the shelf, and moved
// through CIELAB, opacity and print order as long as the print improves. A
// picture of fewer colors gets fewer inks. The choice prints with them; the
// recipes mix them from the shelf. q.With, Without and Bases do not count.
func FreeInks(ctx context.Context, shelf *ink.Shelf, paper *ink.Paper, p *artwork.Picture, q Question, m Mixing) ([]Free, *Choice, error) {
	q.With, q.Without, q.Bases = nil, nil, false
	f := &free{paper: paper, sheet: shelf.Sheet(paper)}
	h := newHistogram(p, paper.Color, q.Mask, false, &q.Options)
	if len(h.bins) == 0 {
		return nil, nil, wrong("the picture leaves the paper bare: there is nothing to print")
	}
	f.seed(h)
	if q.Count = min(q.Count, len(f.pool)); q.Count == 0 {
		return nil, nil, wrong("no ink on %q has a color of the picture: choose another paper", paper.Name)
	}
	// The inks of the shelf stay on it, as they say what paper it is.
	f.shelf = &ink.Shelf{Papers: shelf.Papers, Inks: append(slices.Clone(shelf.Inks), f.pool...), Overprints: shelf.Overprints}
	if err := f.shelf.Prepare(); err != nil {
		return nil, nil, err
	}
	own := q
	for _, i := range shelf.Inks {
		own.Without = append(own.Without, i.Name)
	}
	s, err := newSearch(f.shelf, paper, p, &own)
	if err != nil {
		return nil, nil, err
	}
	found, err := s.run(ctx)
	if err != nil {
		return nil, nil, err
	}
	f.s, f.targets = s, s.targets(s.main)
	var sets [][]*ink.Ink
	for _, a := range found[:min(freeStarts, len(found))] {
		var inks []*ink.Ink
		for _, o := range a.order {
			inks = append(inks, s.inks[a.set[o]])
		}
		sets = append(sets, inks)
	}
	have, err := f.haves(ctx, shelf, p, q)
	if err != nil {
		return nil, nil, err
	}
	sets = append(sets, have...)
	scores := make([]float64, len(sets))
	err = parallel(len(sets), func() func(int) error {
		return func(i int) (err error) {
			sets[i], scores[i], err = f.improve(ctx, sets[i])
			return err
		}
	})
	if err != nil {
		return nil, nil, err
	}
	best := 0
	for i := range scores {
		if scores[i] < scores[best] {
			best = i
		}
	}
	return f.finish(ctx, shelf, sets[best], m)
}

// free is the search for inks that do not exist yet.
type free struct {
	paper   *ink.Paper
	sheet   *ink.Sheet
	pool    []*ink.Ink // invented inks to start from
	shelf   *ink.Shelf // that of the question with these on it
	s       *search
	targets func(*composite.Model) *separate.Targets
}

// seed puts inks in the colors of the picture on the shelf, each as it is and
// stronger.
func (f *free) seed(h *histogram) {
	paper := f.paper.Color.Lab()
	var had []spectrum.Lab
	put := func(c spectrum.Lab) {
		if len(f.pool) >= freePool || spectrum.DeltaE(c, paper) < 8 {
			return
		}
		for _, o := range had {
			if spectrum.DeltaE(o, c) < 7 {
				return
			}
		}
		i := f.ink(c, 0)
		for by := .9; i == nil && by > .3; by -= .1 {
			// A color that no ink has is sought on the way from the paper.
			near := paper
			for j := range near {
				near[j] += by * (c[j] - paper[j])
			}
			i = f.ink(near, 0)
		}
		if i == nil { // on dark paper an ink has to hide it
			i = f.ink(c, freeOpacities[len(freeOpacities)-1])
		}
		if i == nil {
			return
		}
		had = append(had, c)
		i.Name = fmt.Sprintf("free %d", len(had))
		f.pool = append(f.pool, i)
	}
	main := h.cluster(freePool / 2)
	for _, c := range main.want {
		put(c)
	}
	for l := 16.0; l <= 24; l += 2 {
		put(spectrum.Lab{l, 0, 0}) // black, as deep as the paper takes it
	}
	for _, by := range []float64{1.5, 2.2, 1.25} {
		for _, c := range main.want {
			for i := range c {
				c[i] = paper[i] + by*(c[i]-paper[i])
			}
			put(c)
		}
	}
}

// freeOpacities are the contrast ratios that a free ink may have: clear, half
// and opaque.
var freeOpacities = [...]float64{0, .5, .92}

// ink returns an ink of that color and opacity, nil where one film cannot have
// it: where the surface alone gives back more light, where no film that absorbs
// leads there, or only one that takes away more than inks do. It has a spectrum,
// so that its film is quickly made.
func (f *free) ink(c spectrum.Lab, opacity float64) *ink.Ink {
	xyz := c.XYZ()
	for i, w := range spectrum.White() {
		// Nothing darker than the darkest on the shelf: that is what the
		// paper's surface was judged by, and it is to stay as it is.
		if !(xyz[i] >= max(f.sheet.Surface.Re/.9, 1e-3)*w) {
			return nil
		}
	}
	r, ok := spectrum.SmoothRatio(xyz, &f.sheet.Inside, f.sheet.Surface)
	under := f.sheet.Inside
	if ok && slices.Min(r[:]) < freeDark && opacity == 0 {
		return nil
	}
	if !ok && opacity > 0 { // lighter than the paper somewhere, as white is on dark
		under = spectrum.Flat(.985)
		r, ok = spectrum.SmoothRatio(xyz, &under, f.sheet.Surface)
	}
	if !ok {
		return nil
	}
	for b := range r {
		r[b] *= under[b]
	}
	r = f.sheet.Surface.Leave(&r)
	i := ink.NewInk("free", xyz)
	i.On, i.Opacity, i.Spectrum = f.paper.Name, opacity, &r
	i.By = "asked for"
	return i
}

// haves returns the best sets of the shelf as inks to start from.
func (f *free) haves(ctx context.Context, shelf *ink.Shelf, p *artwork.Picture, q Question) ([][]*ink.Ink, error) {
	s, err := newSearch(shelf, f.paper, p, &q)
	if err != nil {
		return nil, nil // a shelf of too few inks is no place to start from
	}
	found, err := s.run(ctx)
	if err != nil {
		return nil, err
	}
	var sets [][]*ink.Ink
	for _, a := range found[:min(freeStarts/2, len(found))] {
		var inks []*ink.Ink
		for _, o := range a.order {
			was := s.inks[a.set[o]]
			film, err := shelf.Film(was)
			if err != nil {
				return nil, err
			}
			m, err := composite.New(shelf, f.paper, composite.AsMeasured(was))
			if err != nil {
				return nil, err
			}
			i := f.ink(m.Overprint(1).Lab(), film.Opacity)
			if i == nil {
				return sets, nil
			}
			inks = append(inks, i)
		}
		sets = append(sets, inks)
	}
	return sets, nil
}

// improve moves the inks of a set, one at a time, by shorter and shorter steps,
// as long as that helps the print.
func (f *free) improve(ctx context.Context, inks []*ink.Ink) ([]*ink.Ink, float64, error) {
	sk := f.s.sketcher()
	printed := make([]spectrum.Lab, len(f.s.main.want))
	try := func(inks []*ink.Ink) (float64, error) {
		m, err := composite.New(f.shelf, f.paper, composite.AsMeasured(inks...))
		if err != nil {
			return 0, err
		}
		sk.Fit(m, f.targets(m), printed, nil)
		return f.s.main.mean(printed), nil
	}
	best, err := try(inks)
	if err != nil {
		return nil, 0, err
	}
	take := func(next []*ink.Ink) error {
		score, err := try(next)
		if err == nil && score < best-1e-6 {
			best = score
			copy(inks, next)
		}
		return err
	}
	for by := 16.0; by >= 1; {
		if err := ctx.Err(); err != nil {
			return nil, 0, err
		}
		before := best
		for n := range inks {
			for _, i := range f.around(inks[n], by) {
				next := slices.Clone(inks)
				next[n] = i
				if err := take(next); err != nil {
					return nil, 0, err
				}
			}
			if n > 0 {
				next := slices.Clone(inks)
				next[n], next[n-1] = next[n-1], next[n]
				if err := take(next); err != nil {
					return nil, 0, err
				}
			}
		}
		if !(best < (1-freeGain)*before) {
			by /= 2
		}
	}
	return inks, best, nil
}

// around returns the inks whose color is by away from that of i, along the
// axes of CIELAB and the line from the paper, and those of its color with
// another opacity.
func (f *free) around(i *ink.Ink, by float64) (out []*ink.Ink) {
	was, paper := i.Color.Lab(), f.paper.Color.Lab()
	put := func(c spectrum.Lab, opacity float64) {
		if j := f.ink(c, opacity); j != nil {
			out = append(out, j)
		}
	}
	long := math.Max(1, math.Sqrt(distance2(was, paper)))
	for _, d := range []float64{by, -by} {
		line := was
		for j := range was {
			c := was
			c[j] += d
			put(c, i.Opacity)
			line[j] += d * (was[j] - paper[j]) / long
		}
		put(line, i.Opacity)
	}
	for _, o := range freeOpacities {
		if o != i.Opacity {
			put(was, o)
		}
	}
	return out
}

// finish names the inks in print order, ranks their order and mixes them.
func (f *free) finish(ctx context.Context, shelf *ink.Shelf, inks []*ink.Ink, m Mixing) ([]Free, *Choice, error) {
	for n, i := range inks {
		i.Name = fmt.Sprintf("mix %d", n+1)
	}
	f.s.inks, f.s.must = slices.Clone(inks), make([]bool, len(inks))
	order := rising(len(inks))
	c, err := f.s.choice(answer{set: rising(len(inks)), order: order})
	if err != nil {
		return nil, nil, err
	}
	c.Why = fmt.Sprintf("of all colors that one film can have on %q, %d that print the picture best; %s", f.paper.Name, len(inks), f.s.why)
	out := make([]Free, len(inks))
	for n, i := range inks {
		r, err := Mix(ctx, shelf, f.paper, i.Color, m)
		if err != nil {
			return nil, nil, err
		}
		out[n] = Free{i.Color, r[0]}
	}
	return out, c, nil
}
