// Package choose finds which inks of a shelf print a picture best, in which
// order and with how much base, and mixes inks.
//
// Call Best for one set, or Rank for all that come near. A picture stands for
// itself by its main colors, clusters of its histogram weighted by area. Every
// set of the wanted size is judged by composite's model and separate's solver,
// in three passes that each look closer at fewer sets; see Rank for what that
// guarantees.
package choose

import (
	"context"
	"math"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
	"platewright/separate"
	"platewright/separate/artwork"
)

// A Question is what is asked of a shelf. Only Count has to be set.
type Question struct {
	Count   int      // inks in a set, 1 … composite.MaxInks
	With    []string // inks that have to be in it
	Without []string // inks that must not be in it
	Mask    Mask     // how much each pixel counts; nil: all alike

	// Bases also finds how much transparent base each ink is printed with, in
	// steps of BaseStep percent (0: 5). Without it inks are printed as they
	// were measured. Only the dozen sets that are best as measured are tried
	// with base: one that needs it to come among them is missed.
	Bases    bool
	BaseStep float64

	Top      int     // how many sets are returned at most; 0: 5
	WidthMM  float64 // of the print, for what a register error does; 0: 297
	Register float64 // mm; 0: 0.5, a hand's usual error

	Options separate.Options
}

func (q *Question) top() int {
	if q.Top == 0 {
		return 5
	}
	return q.Top
}

// Best returns the count inks of the shelf that print p best on the paper,
// as they are, in the best order. p is flattened.
func Best(ctx context.Context, shelf *ink.Shelf, paper *ink.Paper, p *artwork.Picture, count int, opt separate.Options) (*Choice, error) {
	all, err := Rank(ctx, shelf, paper, p, Question{Count: count, Top: 1, Options: opt})
	if err != nil {
		return nil, err
	}
	return all[0], nil
}

// Rank returns the sets of inks that print the flattened picture p best on the
// paper, best first: by the mean CIEDE2000 to its main colors, each set in its
// best order.
//
// All sets are looked at. First by their parts of three inks, each solved for
// every main color in each order that shows; no set prints a color worse than
// its best part does. The best 1500 by that, each color from the part and order
// that suit it, are put in order; the best 48 are solved with all inks at once,
// and of the best 12 every order. Up to three inks the ranking is therefore
// exhaustive; beyond, a set can be missed only if a fourth ink in one spot wins
// it more than it wins the 48 that were solved. Colors out of reach count with
// their distance to the nearest that prints, or with separate.Ease to what is
// printed in their place; parts know nothing of that, so 192 sets are solved
// then to find the 48, and the ranking of two and three inks is not exhaustive
// either.
func Rank(ctx context.Context, shelf *ink.Shelf, paper *ink.Paper, p *artwork.Picture, q Question) ([]*Choice, error) {
	s, err := newSearch(shelf, paper, p, &q)
	if err != nil {
		return nil, err
	}
	found, err := s.run(ctx)
	if err != nil {
		return nil, err
	}
	if q.Bases {
		if found, err = s.bases(ctx, found); err != nil {
			return nil, err
		}
	}
	found = found[:min(q.top(), len(found))]
	out := make([]*Choice, len(found))
	err = parallel(len(found), func() func(int) error {
		return func(i int) (err error) {
			out[i], err = s.choice(found[i])
			return err
		}
	})
	return out, err
}

// Fewest returns the ranking of the smallest sets, from one ink to q.Count, of
// which the best comes within a mean CIEDE2000 of the artwork, and false with
// the ranking of q.Count inks where none does.
func Fewest(ctx context.Context, shelf *ink.Shelf, paper *ink.Paper, p *artwork.Picture, within float64, q Question) ([]*Choice, bool, error) {
	most := q.Count
	for q.Count = max(1, len(q.With)); ; q.Count++ {
		all, err := Rank(ctx, shelf, paper, p, q)
		if err != nil {
			return nil, false, err
		}
		if all[0].MeanDE <= within {
			return all, true, nil
		}
		if q.Count >= most {
			return all, false, nil
		}
	}
}

func newSearch(shelf *ink.Shelf, paper *ink.Paper, p *artwork.Picture, q *Question) (*search, error) {
	s := &search{shelf: shelf, paper: paper, count: q.Count, opt: &q.Options, q: q, pic: p}
	if q.Count < 1 || q.Count > composite.MaxInks {
		return nil, wrong("%d inks: a print takes 1 to %d", q.Count, composite.MaxInks)
	}
	if q.Mask != nil && len(q.Mask) != p.Width*p.Height {
		return nil, wrong("the mask has %d pixels and the picture %d × %d: give a mask of the picture's size", len(q.Mask), p.Width, p.Height)
	}
	if err := s.eligible(); err != nil {
		return nil, err
	}
	s.rule, s.why = separate.Decide(p, s.opt)
	s.flat = s.rule == separate.TintsNone
	if s.opt.Tints != separate.TintsAuto {
		auto := *s.opt
		auto.Tints = separate.TintsAuto
		own, _ := separate.Decide(p, &auto)
		s.flat = own == separate.TintsNone
	}
	switch s.rule {
	case separate.TintsNone:
		s.levels = []float64{0, 1}
	case separate.TintsList:
		s.levels = []float64{0}
		for _, v := range s.opt.Percents {
			s.levels = append(s.levels, v/100)
		}
		s.levels = append(s.levels, 1)
		if math.Pow(float64(len(s.levels)), float64(q.Count)) > 5000 {
			s.levels = nil // so many steps are as good as all
		}
	}
	h := newHistogram(p, paper.Color, q.Mask, s.rule == separate.TintsNone, s.opt)
	s.main, s.fine = h.cluster(searchColors), h.cluster(finalColors)
	return s, nil
}

// invisible is the CIEDE2000 to the bare paper below which an ink alone does
// nothing a picture could use: transparent base, or white on white.
const invisible = 4

// eligible sets the inks that may be chosen, in the order of the rule: all that
// show on the paper. Base and, on light paper, white do not, and take part only
// where they are asked for.
func (s *search) eligible() error {
	with, err := named(s.shelf, s.q.With)
	if err != nil {
		return err
	}
	without, err := named(s.shelf, s.q.Without)
	if err != nil {
		return err
	}
	for i := range with {
		if without[i] {
			return wrong("ink %q is to be kept and to be left out: take it from one of the two lists", i.Name)
		}
	}
	for _, i := range s.shelf.Inks {
		m, err := composite.New(s.shelf, s.paper, composite.AsMeasured(i))
		if err != nil {
			return err
		}
		shows := spectrum.DeltaE(m.Overprint(0).Lab(), m.Overprint(1).Lab()) >= invisible
		if with[i] || shows && !without[i] {
			s.inks = append(s.inks, i)
		}
	}
	if n := s.count; n > len(s.inks) {
		return wrong("%d inks wanted, but %d of the shelf may be chosen and show on %q: ask for fewer or add inks", n, len(s.inks), s.paper.Name)
	}
	if n := s.count; n < len(with) {
		return wrong("%d inks to be kept in a set of %d: keep fewer or ask for more", len(with), n)
	}
	if err := byRule(s.shelf, s.inks); err != nil {
		return err
	}
	for _, i := range s.inks {
		s.must = append(s.must, with[i])
	}
	return nil
}

// named returns the inks of the names.
func named(shelf *ink.Shelf, names []string) (map[*ink.Ink]bool, error) {
	set := make(map[*ink.Ink]bool, len(names))
	for _, n := range names {
		i, err := shelf.Ink(n)
		if err != nil {
			return nil, &QuestionError{err.Error()}
		}
		set[i] = true
	}
	return set, nil
}

func uses(base map[*ink.Ink]float64, inks ...*ink.Ink) []composite.Use {
	u := composite.AsMeasured(inks...)
	for i := range u {
		if b, ok := base[u[i].Ink]; ok {
			u[i].Base = b
		}
	}
	return u
}

func rising(k int) []int {
	o := make([]int, k)
	for i := range o {
		o[i] = i
	}
	return o
}
