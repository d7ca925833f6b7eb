package choose

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

// A Correction says what to add to a mix that came out wrong.
type Correction struct {
	Add     []Part       // grams in steps of the scale; percents of the weight after
	Grams   float64      // weight after
	Got     spectrum.XYZ // as it came out
	Color   spectrum.XYZ // predicted after
	GotDE   float64      // CIEDE2000 from what was wanted, before
	DE      float64      // and after
	Explain string       // what the mix behaved like
}

const (
	// mostAdded is how much may be added at most, in weights of the mix.
	mostAdded = 2.0
	// addedDE is the CIEDE2000 that adding once the weight of the mix is held
	// equal to: a little less exact is better than twice the ink.
	addedDE = 1.0
)

// Correct returns what to add to r, mixed as written and printed solid on the
// paper, when it came out as got. Nothing can be taken out, so a mix that got
// too strong grows. The mix is taken for what its parts can explain: other
// amounts of them that print got; or, where none do, for a film that absorbs
// in each band as much more as got says. Parts of the recipe and base are
// preferred, one other ink of the shelf may come in.
func Correct(ctx context.Context, shelf *ink.Shelf, paper *ink.Paper, r *Recipe, got spectrum.XYZ, m Mixing) (*Correction, error) {
	m.Grams = 0
	for _, p := range r.Parts {
		m.Grams += p.Grams
	}
	if err := m.check(); err != nil {
		return nil, err
	}
	all, base, err := components(shelf, &m)
	if err != nil {
		return nil, err
	}
	sheet := shelf.Sheet(paper)
	c := &Correction{Got: got, GotDE: spectrum.DeltaE(r.Want.Lab(), got.Lab())}
	film, err := c.became(shelf, paper, r, all, &base)
	if err != nil {
		return nil, err
	}
	// What may be added: first of the recipe, then anything.
	var own, other []component
	for _, p := range all {
		if slices.ContainsFunc(r.Parts, func(q Part) bool { return q.Ink == p.ink }) {
			own = append(own, p)
		} else {
			other = append(other, p)
		}
	}
	own = append(own, base)
	var sets [][]component
	pool := append(slices.Clone(own), other...)
	for n := 1; n <= 3; n++ {
		combinations(len(pool), n, func(set []int) {
			var s []component
			foreign := 0
			for _, i := range set {
				if i >= len(own) {
					foreign++
				}
				s = append(s, pool[i])
			}
			if foreign <= 1 {
				sets = append(sets, s)
			}
		})
	}
	type outcome struct {
		set   int
		x     []float64
		score float64
	}
	tried := make([]outcome, len(sets))
	err = parallel(len(sets), func() func(int) error {
		b := &blend{sheet: sheet, want: r.Want.Lab(), most: mostAdded}
		return func(i int) error {
			if err := ctx.Err(); err != nil {
				return err
			}
			set := sets[i]
			b.film = func(x []float64, f *ink.Film) {
				sum := 1.0
				for _, v := range x {
					sum += v
				}
				*f = ink.Film{}
				add(f, film, 1/sum)
				for j, p := range set {
					add(f, p.film, x[j]/sum)
				}
			}
			x := make([]float64, len(set))
			for j := range x {
				x[j] = .05
			}
			b.fit(x, 25)
			for j := range x {
				x[j] = math.Round(x[j]*m.grams()/m.step()) * m.step() / m.grams()
			}
			o := outcome{i, x, b.miss(x) + simpler*float64(len(set)-1)}
			for j, v := range x {
				o.score += addedDE * v
				if !slices.ContainsFunc(own, func(p component) bool { return p.film == set[j].film }) {
					o.score += simpler
				}
			}
			tried[i] = o
			return nil
		}
	})
	if err != nil {
		return nil, err
	}
	slices.SortFunc(tried, func(a, b outcome) int { return cmp.Or(cmp.Compare(a.score, b.score), a.set-b.set) })
	c.Grams = m.grams()
	best := tried[0]
	if c.GotDE <= best.score { // as good as it gets
		c.Color, c.DE = got, c.GotDE
		return c, nil
	}
	for j, p := range sets[best.set] {
		if g := best.x[j] * m.grams(); g > 0 {
			c.Add = append(c.Add, Part{Name: p.name(), Ink: p.ink, Grams: math.Round(g*1e6) / 1e6})
			c.Grams += g
		}
	}
	if len(c.Add) == 0 {
		c.Color, c.DE = got, c.GotDE
		return c, nil
	}
	after := &ink.Film{}
	add(after, film, m.grams()/c.Grams)
	for i, p := range c.Add {
		c.Add[i].Percent = 100 * p.Grams / c.Grams
		for _, q := range sets[best.set] {
			if q.name() == p.Name {
				add(after, q.film, p.Grams/c.Grams)
			}
		}
	}
	slices.SortStableFunc(c.Add, func(a, b Part) int { return cmp.Compare(b.Grams, a.Grams) })
	c.Color = printed(after, sheet)
	c.DE = spectrum.DeltaE(r.Want.Lab(), c.Color.Lab())
	return c, nil
}

// became returns the film that a mix of r's parts must be to print got.
func (c *Correction) became(shelf *ink.Shelf, paper *ink.Paper, r *Recipe, all []component, base *component) (*ink.Film, error) {
	sheet := shelf.Sheet(paper)
	var parts []component
	var x []float64
	for _, p := range r.Parts {
		for _, q := range all {
			if q.ink == p.Ink {
				parts = append(parts, q)
				x = append(x, p.Percent/100)
			}
		}
	}
	b := &blend{sheet: sheet, want: c.Got.Lab(), most: 1}
	b.film = func(x []float64, f *ink.Film) { mixed(f, parts, base, x) }
	was := slices.Clone(x)
	if len(x) <= 3 {
		b.fit(x, 40)
	}
	if b.miss(x) <= MixReach {
		worst, at := 0.0, -1
		for i := range x {
			if d := math.Abs(x[i] - was[i]); d > worst {
				worst, at = d, i
			}
		}
		c.Explain = "as if it were mixed as written"
		if at >= 0 && worst > .001 {
			c.Explain = fmt.Sprintf("as if it held %.1f %% of %s and not %.1f %%", 100*x[at], parts[at].ink.Name, 100*was[at])
		}
		f := &ink.Film{}
		b.film(x, f)
		return f, nil
	}
	// How much more or less an ink of that color absorbs than one of the
	// predicted color, band by band.
	guess := func(color spectrum.XYZ) (*ink.Film, error) {
		i := ink.NewInk("mix", color)
		i.On, i.Opacity = paper.Name, r.Opacity
		return shelf.Film(i)
	}
	is, err := guess(c.Got)
	if err != nil {
		return nil, err
	}
	should, err := guess(r.Color)
	if err != nil {
		return nil, err
	}
	f := *r.Film
	for b := range f.K {
		ratio := (is.K[b] + .01) / (should.K[b] + .01)
		f.K[b] *= math.Min(5, math.Max(.2, ratio))
	}
	c.Explain = "as its parts cannot make it: one of them is another ink than the shelf describes, or something else got in"
	if spectrum.DeltaE(printed(&f, sheet).Lab(), c.Got.Lab()) > MixReach {
		return is, nil
	}
	return &f, nil
}
