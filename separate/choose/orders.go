package choose

import (
	"cmp"
	"context"
	"slices"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
	"platewright/separate"
	"platewright/separate/artwork"
)

// An Ordered is one print order of some inks.
type Ordered struct {
	Uses   []composite.Use // first printed first
	MeanDE float64         // CIEDE2000 over the picture's main colors, by area
	Rules  []string        // the rules of thumb that it follows
}

// Rules of thumb for the print order. They contradict each other where opaque
// inks are light or dark ones clear; the model decides between them.
const (
	// RuleOpaque is common practice for transparent layering.
	RuleOpaque = "opaque and dark inks first"
	// RuleLight is what many shops do (common practice).
	RuleLight = "light to dark, key last"
)

// Orders returns all orders in which the inks can be printed, best for the
// flattened picture first, and says which follow a rule of thumb. Orders that
// print alike are all listed. Two to six inks take 2 to 720 orders; more are
// refused, and Rank orders those by itself.
func Orders(ctx context.Context, shelf *ink.Shelf, paper *ink.Paper, p *artwork.Picture, u []composite.Use, opt separate.Options) ([]Ordered, error) {
	if len(u) > 6 {
		return nil, wrong("more than 6 inks have too many orders to list: name 2 to 6")
	}
	var names []string
	for _, v := range u {
		names = append(names, v.Ink.Name)
	}
	s, err := newSearch(shelf, paper, p, &Question{Count: len(u), With: names, Options: opt})
	if err != nil {
		return nil, err
	}
	rules, err := s.ruledOrders(u)
	if err != nil {
		return nil, err
	}
	orders := permutations(len(u))
	out := make([]Ordered, len(orders))
	targets := s.targets(s.main)
	err = parallel(len(orders), func() func(int) error {
		sk := s.sketcher()
		printed := make([]spectrum.Lab, len(s.main.want))
		return func(i int) error {
			if err := ctx.Err(); err != nil {
				return err
			}
			o := &out[i]
			for _, at := range orders[i] {
				o.Uses = append(o.Uses, u[at])
			}
			m, err := composite.New(shelf, paper, o.Uses)
			if err != nil {
				return err
			}
			sk.Fit(m, targets(m), printed, nil)
			o.MeanDE, _, _ = s.main.figures(printed)
			for rule, order := range rules {
				if slices.Equal(order, orders[i]) {
					o.Rules = append(o.Rules, rule)
				}
			}
			slices.Sort(o.Rules)
			return nil
		}
	})
	slices.SortStableFunc(out, func(a, b Ordered) int {
		return cmp.Or(cmp.Compare(a.MeanDE, b.MeanDE), cmp.Compare(len(b.Rules), len(a.Rules)))
	})
	return out, err
}

// ruledOrders returns the orders of the uses by the rules of thumb.
func (s *search) ruledOrders(u []composite.Use) (map[string][]int, error) {
	key := make([]float64, len(u))
	light := make([]float64, len(u))
	for i, v := range u {
		f, err := s.shelf.Film(v.Ink)
		if err != nil {
			return nil, err
		}
		light[i] = v.Ink.Color.Lab()[0]
		key[i] = 100*f.WithBase(v.Base).Opacity + 100 - light[i]
	}
	byKey, byLight := rising(len(u)), rising(len(u))
	slices.SortStableFunc(byKey, func(a, b int) int { return cmp.Compare(key[b], key[a]) })
	slices.SortStableFunc(byLight, func(a, b int) int { return cmp.Compare(light[b], light[a]) })
	return map[string][]int{RuleOpaque: byKey, RuleLight: byLight}, nil
}
