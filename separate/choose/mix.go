package choose

import (
	"cmp"
	"context"
	"math"
	"slices"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

// A component is an ink as it stands in its tin, without added base.
type component struct {
	ink  *ink.Ink
	film *ink.Film
}

// components returns the inks of the shelf that can be mixed and the base to
// thin them with: the shelf's own, or one that hardly hazes.
func components(shelf *ink.Shelf, m *Mixing) (all []component, base component, err error) {
	with, err := named(shelf, m.With)
	if err != nil {
		return nil, base, err
	}
	without, err := named(shelf, m.Without)
	if err != nil {
		return nil, base, err
	}
	for i := range with {
		if without[i] {
			return nil, base, wrong("ink %q is to be kept and to be left out: take it from one of the two lists", i.Name)
		}
	}
	if len(with) > m.inks() {
		return nil, base, wrong("%d inks to be kept in a recipe of %d: keep fewer", len(with), m.inks())
	}
	for _, i := range shelf.Inks {
		f, err := shelf.Film(i)
		if err != nil {
			return nil, base, err
		}
		f = f.WithBase(0)
		if isBase(f) {
			if base.film == nil {
				base = component{i, f}
			}
			continue
		}
		if !without[i] {
			all = append(all, component{i, f})
		}
	}
	if base.film == nil {
		// A film of nothing but base is any ink's at 100 %.
		if len(all) == 0 {
			return nil, base, wrong("no ink to mix from: add inks to the shelf")
		}
		base.film = all[0].film.WithBase(100)
	}
	if len(all) == 0 {
		return nil, base, wrong("no ink to mix from: leave fewer out")
	}
	return all, base, nil
}

// isBase reports whether a film neither colors nor hides.
func isBase(f *ink.Film) bool {
	k, s := 0.0, 0.0
	for b := range f.K {
		k, s = math.Max(k, f.K[b]), math.Max(s, f.S[b])
	}
	return k < .05 && s < .05
}

func (b *component) name() string {
	if b.ink == nil {
		return BaseName
	}
	return b.ink.Name
}

// mixed sets f to the film of amounts c of the components in a total of one,
// the rest base.
func mixed(f *ink.Film, parts []component, base *component, c []float64) {
	left := 1.0
	*f = ink.Film{}
	for i, p := range parts {
		add(f, p.film, c[i])
		left -= c[i]
	}
	add(f, base.film, math.Max(0, left))
	f.Base = 100 * math.Max(0, left)
}

func add(f, g *ink.Film, c float64) {
	for b := range f.K {
		f.K[b] += c * g.K[b]
		f.S[b] += c * g.S[b]
	}
	for i := range f.Glow {
		f.Glow[i] += c * g.Glow[i]
	}
}

const (
	// simpler is the CIEDE2000 that one ink less in a recipe is worth.
	simpler = .3
	// steadier is what a CIEDE2000 of sensitivity is worth: of two recipes for
	// a color, the one that forgives a scale.
	steadier = .2
	// mixTop is the number of recipes that are returned at most.
	mixTop = 5
	// mixClose is the number that are looked at closely.
	mixClose = 60
)

// trial is a recipe in the making.
type trial struct {
	parts []int // indices of components, rising
	c     []float64
	miss  float64
	score float64
}

func compareTrials(a, b trial) int {
	return cmp.Or(cmp.Compare(a.score, b.score), slices.Compare(a.parts, b.parts))
}

// Mix returns recipes for a color on the paper, best first: of up to three inks
// of the shelf and base, every combination is tried. A recipe with fewer inks
// and one that forgives errors of the scale go before one that is nearer by
// less than can be seen. Where the color is out of reach the first is the
// nearest, with InReach false.
func Mix(ctx context.Context, shelf *ink.Shelf, paper *ink.Paper, want spectrum.XYZ, m Mixing) ([]*Recipe, error) {
	if err := m.check(); err != nil {
		return nil, err
	}
	all, base, err := components(shelf, &m)
	if err != nil {
		return nil, err
	}
	with, _ := named(shelf, m.With)
	sheet := shelf.Sheet(paper)
	var sets [][]int
	for n := 1; n <= min(m.inks(), len(all)); n++ {
		combinations(len(all), n, func(set []int) {
			kept := 0
			for _, i := range set {
				if with[all[i].ink] {
					kept++
				}
			}
			if kept == len(with) {
				sets = append(sets, slices.Clone(set))
			}
		})
	}
	if len(sets) == 0 {
		return nil, wrong("the inks to be kept leave no recipe: keep fewer")
	}
	found := make([]trial, len(sets))
	at := func() func(int) *blend {
		b := &blend{sheet: sheet, want: want.Lab(), opacity: m.Opacity, most: 1}
		return func(i int) *blend {
			parts := make([]component, len(found[i].parts))
			for j, p := range found[i].parts {
				parts[j] = all[p]
			}
			b.film = func(x []float64, f *ink.Film) { mixed(f, parts, &base, x) }
			return b
		}
	}
	err = parallel(len(sets), func() func(int) error {
		blendOf := at()
		return func(i int) error {
			if i%64 == 0 {
				if err := ctx.Err(); err != nil {
					return err
				}
			}
			t := &found[i]
			t.parts = sets[i]
			b := blendOf(i)
			t.miss = math.Inf(1)
			for _, start := range []float64{.3, .03} {
				x := make([]float64, len(t.parts))
				for j := range x {
					x[j] = start
				}
				if left := math.Sqrt(b.fit(x, 12)); left < t.miss {
					t.miss, t.c = left, x
				}
				if t.miss < .05 {
					break
				}
			}
			t.score = t.miss + simpler*float64(len(t.parts)-1)
			return nil
		}
	})
	if err != nil {
		return nil, err
	}
	slices.SortFunc(found, compareTrials)
	found = found[:min(mixClose, len(found))]
	_ = parallel(len(found), func() func(int) error {
		blendOf := at()
		return func(i int) error {
			t := &found[i]
			b := blendOf(i)
			b.fit(t.c, 30)
			t.miss = b.polish(t.c)
			t.score = t.miss + simpler*float64(len(t.parts)-1) + steadier*b.sensitivity(t.c)
			return nil
		}
	})
	slices.SortFunc(found, compareTrials)
	var out []*Recipe
	for _, t := range found {
		if len(out) == mixTop {
			break
		}
		r := newRecipe(all, &base, t)
		if r == nil || slices.ContainsFunc(out, func(o *Recipe) bool { return o.sameInks(r) }) {
			continue
		}
		r.weigh(m.grams(), m.step())
		r.trim(all, &base, sheet, want, m.grams(), m.step())
		if err := r.predict(shelf, paper, all, &base, want); err != nil {
			return nil, err
		}
		out = append(out, r)
	}
	if len(out) == 0 { // the bare paper is nearest
		r := newRecipe(all, &base, trial{})
		r.weigh(m.grams(), m.step())
		return []*Recipe{r}, r.predict(shelf, paper, all, &base, want)
	}
	return out, nil
}

// sensitivity is the most that 3 % more of one part changes the color.
func (b *blend) sensitivity(x []float64) float64 {
	was := b.color(x).Lab()
	most := 0.0
	for j := range x {
		v := x[j]
		x[j] = 1.03 * v
		most = math.Max(most, spectrum.DeltaE(was, b.color(x).Lab()))
		x[j] = v
	}
	return most
}

// newRecipe returns the recipe of a trial, nil where an ink of it has no part.
func newRecipe(all []component, base *component, t trial) *Recipe {
	r := &Recipe{}
	left := 1.0
	for j, p := range t.parts {
		if t.c[j] < 1e-4 {
			return nil
		}
		r.Parts = append(r.Parts, Part{Name: all[p].ink.Name, Ink: all[p].ink, Percent: 100 * t.c[j]})
		left -= t.c[j]
	}
	slices.SortStableFunc(r.Parts, func(a, b Part) int { return cmp.Compare(b.Percent, a.Percent) })
	if left > 5e-4 {
		r.Parts = append(r.Parts, Part{Name: base.name(), Ink: base.ink, Percent: 100 * left})
	}
	return r
}

func (r *Recipe) sameInks(o *Recipe) bool {
	if len(r.Parts) != len(o.Parts) {
		return false
	}
	for _, p := range r.Parts {
		if !slices.ContainsFunc(o.Parts, func(q Part) bool { return q.Name == p.Name }) {
			return false
		}
	}
	return true
}

// film is the film of the parts as they are weighed.
func (r *Recipe) film(all []component, base *component) *ink.Film {
	f := &ink.Film{}
	for _, p := range r.Parts {
		g := base.film
		if p.Name == base.name() {
			f.Base = p.Percent
		} else {
			for _, c := range all {
				if c.ink == p.Ink {
					g = c.film
				}
			}
		}
		add(f, g, p.Percent/100)
	}
	f.Opacity = contrast(f)
	return f
}

// trim moves single steps of the scale between parts as long as that brings
// the color nearer, and drops parts that are weighed as nothing.
func (r *Recipe) trim(all []component, base *component, sheet *ink.Sheet, want spectrum.XYZ, grams, step float64) {
	units := math.Round(grams / step)
	miss := func() float64 {
		return spectrum.DeltaE(want.Lab(), printed(r.film(all, base), sheet).Lab())
	}
	best := miss()
	for range 20 {
		moved := false
		for i := range r.Parts {
			for j := range r.Parts {
				if i == j || r.Parts[i].Grams < 1.5*step {
					continue
				}
				r.Parts[i].Percent -= 100 / units
				r.Parts[j].Percent += 100 / units
				if m := miss(); m < best-1e-9 {
					best, moved = m, true
					continue
				}
				r.Parts[i].Percent += 100 / units
				r.Parts[j].Percent -= 100 / units
			}
		}
		r.weigh(grams, step)
		if !moved {
			break
		}
	}
	r.Parts = slices.DeleteFunc(r.Parts, func(p Part) bool { return p.Grams == 0 })
}

// predict sets what the recipe prints.
func (r *Recipe) predict(shelf *ink.Shelf, paper *ink.Paper, all []component, base *component, want spectrum.XYZ) error {
	r.Want = want
	r.Film = r.film(all, base)
	r.Color = printed(r.Film, shelf.Sheet(paper))
	r.Opacity = r.Film.Opacity
	r.DE = spectrum.DeltaE(want.Lab(), r.Color.Lab())
	r.InReach = r.DE <= MixReach
	mix := r.Ink("mix", shelf, paper)
	for _, c := range all {
		m, err := composite.New(shelf, paper, composite.AsMeasured(c.ink, mix))
		if err != nil {
			return err
		}
		r.OnInks = append(r.OnInks, OnInk{c.ink.Name, m.Overprint(3)})
	}
	return nil
}
