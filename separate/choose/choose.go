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
	"fmt"
	"math"
	"slices"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
	"platewright/separate"
	"platewright/separate/artwork"
)

// A Choice is a set of inks for a picture.
type Choice struct {
	Uses []composite.Use // in print order, first printed first

	// How near the print comes to the main colors, as separate.Fit.
	MeanDE, P95DE, InReach float64

	Tints separate.TintRule // the rule that the fit follows
	Why   string            // how the choice was made, in words
}

// Best returns the count inks of the shelf that print p best on the paper,
// as they are, in the best order. p is flattened.
func Best(ctx context.Context, shelf *ink.Shelf, paper *ink.Paper, p *artwork.Picture, count int, opt separate.Options) (*Choice, error) {
	s, err := newSearch(shelf, paper, p, count, nil, &opt)
	if err != nil {
		return nil, err
	}
	found, err := s.run(ctx)
	if err != nil {
		return nil, err
	}
	if len(found) == 0 {
		return nil, fmt.Errorf("choose: no set of %d inks", count)
	}
	return s.choice(found[0])
}

func newSearch(shelf *ink.Shelf, paper *ink.Paper, p *artwork.Picture, count int, mask Mask, opt *separate.Options) (*search, error) {
	s := &search{shelf: shelf, paper: paper, count: count, opt: opt}
	var err error
	if s.inks, err = eligible(shelf, paper); err != nil {
		return nil, err
	}
	switch {
	case count < 1 || count > composite.MaxInks:
		return nil, fmt.Errorf("choose: %d inks: a print takes 1 to %d", count, composite.MaxInks)
	case count > len(s.inks):
		return nil, fmt.Errorf("choose: %d inks wanted, but the shelf has %d that show on %q: ask for fewer or add inks", count, len(s.inks), paper.Name)
	}
	s.must = make([]bool, len(s.inks))
	s.rule, s.why = separate.Decide(p, opt)
	switch s.rule {
	case separate.TintsNone:
		s.levels = []float64{0, 1}
	case separate.TintsList:
		s.levels = []float64{0}
		for _, v := range opt.Percents {
			s.levels = append(s.levels, v/100)
		}
		s.levels = append(s.levels, 1)
		if math.Pow(float64(len(s.levels)), float64(count)) > 5000 {
			s.levels = nil // so many steps are as good as all
		}
	}
	b, bare := bins(p, paper.Color, mask, s.rule == separate.TintsNone, opt)
	s.main, s.fine = cluster(b, bare, searchColors), cluster(b, bare, finalColors)
	return s, nil
}

const (
	// invisible is the CIEDE2000 to the bare paper below which an ink alone
	// does nothing a picture could use: transparent base, or white on white.
	invisible = 4
)

// eligible returns the inks that may be chosen for a paper, in the order of the
// rule: all that show on it. Base and, on light paper, white do not.
func eligible(shelf *ink.Shelf, paper *ink.Paper) ([]*ink.Ink, error) {
	var out []*ink.Ink
	for _, i := range shelf.Inks {
		m, err := composite.New(shelf, paper, composite.AsMeasured(i))
		if err != nil {
			return nil, err
		}
		if spectrum.DeltaE(m.Overprint(0).Lab(), m.Overprint(1).Lab()) >= invisible {
			out = append(out, i)
		}
	}
	return out, byRule(shelf, out)
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

// choice gives an answer its figures.
func (s *search) choice(a answer) (*Choice, error) {
	m, err := s.model(a.set, a.order)
	if err != nil {
		return nil, err
	}
	c := &Choice{Uses: s.uses(a.set, a.order), Tints: s.rule}
	printed := s.solve(m, s.fine, nil)
	c.MeanDE, c.P95DE, c.InReach = s.fine.figures(printed)
	c.Why = fmt.Sprintf("best of %d sets of %d from %d inks over %d main colors; %s", s.sets, s.count, len(s.inks), len(s.fine.want), s.why)
	if slices.IsSorted(a.order) {
		c.Why += "; printed in the trade's order, opaque and dark inks first"
		return c, nil
	}
	ruled, err := s.model(a.set, rising(s.count))
	if err != nil {
		return nil, err
	}
	mean, _, _ := s.fine.figures(s.solve(ruled, s.fine, nil))
	c.Why += fmt.Sprintf("; printed in the order that the model finds best: opaque and dark inks first would give %.2f ΔE00, not %.2f", mean, c.MeanDE)
	return c, nil
}

func rising(k int) []int {
	o := make([]int, k)
	for i := range o {
		o[i] = i
	}
	return o
}
