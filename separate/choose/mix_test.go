package choose

import (
	"bytes"
	"context"
	"errors"
	"math"
	"math/rand"
	"strings"
	"testing"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

// A mix of parts is the film of their sums. The check values are those of a
// Kubelka–Munk layer with K = .8, S = .2, X = 1 over three backgrounds,
// [calc] from the equation of Kubelka (1948); here the film is mixed, half of
// one twice as strong and half of nothing, and two parts that add up to it.
func TestMixedFilmAgainstKubelka(t *testing.T) {
	film := func(k, s float64) *ink.Film {
		return &ink.Film{K: spectrum.Flat(k), S: spectrum.Flat(s)}
	}
	nothing := component{film: film(0, 0)}
	for _, mix := range []struct {
		parts []component
		c     []float64
	}{
		{[]component{{film: film(1.6, .4)}}, []float64{.5}},
		{[]component{{film: film(2, 0)}, {film: film(1, 1)}}, []float64{.3, .2}},
	} {
		var f ink.Film
		mixed(&f, mix.parts, &nothing, mix.c)
		l := ink.NewLayer(&f)
		for _, c := range []struct{ under, want float64 }{{.85, .213982}, {.05, .093863}, {0, .086910}} {
			under := spectrum.Flat(c.under)
			if r := l.Over(&under); math.Abs(r[7]-c.want) > 1e-6 {
				t.Errorf("over %g: %.6f, want %.6f", c.under, r[7], c.want)
			}
		}
	}
}

// A known mixture is found again, the same inks within 2 % or another way to
// its color.
func TestMixFindsKnownMixtures(t *testing.T) {
	shelf := ink.BuiltIn()
	paper := shelf.Papers[0]
	all, base, err := components(shelf, &Mixing{})
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewSource(2))
	same := 0
	const n = 8
	for range n {
		parts := make([]component, 1+rng.Intn(3))
		c := make([]float64, len(parts))
		sum := 0.0
		for i, p := range rng.Perm(len(all))[:len(parts)] {
			parts[i] = all[p]
			c[i] = .1 + rng.Float64()
			sum += c[i]
		}
		strength := .2 + .7*rng.Float64()
		for i := range c {
			c[i] *= strength / sum
		}
		var f ink.Film
		mixed(&f, parts, &base, c)
		got, err := Mix(context.Background(), shelf, paper, printed(&f, shelf.Sheet(paper)), Mixing{})
		if err != nil {
			t.Fatal(err)
		}
		r := got[0]
		found := 0
		for i, p := range parts {
			for _, q := range r.Parts {
				if q.Ink == p.ink && math.Abs(q.Percent-100*c[i]) <= 2 {
					found++
				}
			}
		}
		if found == len(parts) && len(r.Parts) <= len(parts)+1 {
			same++
		} else if r.DE > .5 {
			t.Errorf("%v of %v: %s, ΔE00 %.2f", c, parts, r.Words(), r.DE)
		}
	}
	if same < n/3 {
		t.Errorf("%d of %d mixtures were found as they were mixed", same, n)
	}
}

// Percents sum to 100, grams to the total in whole steps of the scale, and the
// prediction is what composite prints.
func TestRecipesAreWeighable(t *testing.T) {
	shelf := ink.BuiltIn()
	for _, c := range []struct {
		color, paper string
		m            Mixing
		reach        bool
	}{
		{"2f6d58", "linen white", Mixing{}, true},
		{"lab:75,10,40", "oat cream", Mixing{Grams: 333, Step: .5}, true},
		{"f4d9c6", "porcelain gloss", Mixing{Grams: 20, Step: .01, Inks: 2}, true},
		{"lab:70,10,20", "slate night", Mixing{}, true},
		{"lab:50,0,0", "linen white", Mixing{Opacity: .8}, true},
		{"ff00ff", "linen white", Mixing{}, false},
	} {
		paper, err := shelf.Paper(c.paper)
		if err != nil {
			t.Fatal(err)
		}
		want, err := ink.ParseColor(c.color)
		if err != nil {
			t.Fatal(err)
		}
		all, err := Mix(context.Background(), shelf, paper, want, c.m)
		if err != nil {
			t.Fatal(err)
		}
		if all[0].InReach != c.reach {
			t.Errorf("%s on %s: in reach %v, ΔE00 %.2f with %s", c.color, c.paper, all[0].InReach, all[0].DE, all[0].Words())
		}
		if c.m.Opacity > 0 && math.Abs(all[0].Opacity-c.m.Opacity) > .1 {
			t.Errorf("%s: opacity %.2f, want %.2f", c.color, all[0].Opacity, c.m.Opacity)
		}
		for _, r := range all {
			percent, grams, inks := 0.0, 0.0, 0
			for _, p := range r.Parts {
				percent += p.Percent
				grams += p.Grams
				if p.Ink != nil && p.Name != "clear glaze" {
					inks++
				}
				if steps := p.Grams / c.m.step(); math.Abs(steps-math.Round(steps)) > 1e-6 || p.Grams <= 0 {
					t.Errorf("%s: %v g of %s in steps of %v", c.color, p.Grams, p.Name, c.m.step())
				}
			}
			if math.Abs(percent-100) > 1e-9 || math.Abs(grams-c.m.grams()) > 1e-6 || inks > c.m.inks() {
				t.Errorf("%s: %v %%, %v g, %d inks in %s", c.color, percent, grams, inks, r.Words())
			}
			m, err := composite.New(shelf, paper, composite.AsMeasured(r.Ink("a mix", shelf, paper)))
			if err != nil {
				t.Fatal(err)
			}
			if d := spectrum.DeltaE(m.Overprint(1).Lab(), r.Color.Lab()); d > .01 {
				t.Errorf("%s: the model prints it ΔE00 %.3f from the prediction", c.color, d)
			}
		}
	}
}

// A mix that is saved on a shelf prints after it is read again as it did.
func TestMixOnAShelf(t *testing.T) {
	shelf := ink.BuiltIn()
	paper := shelf.Papers[0]
	want, err := ink.ParseColor("2f6d58")
	if err != nil {
		t.Fatal(err)
	}
	all, err := Mix(context.Background(), shelf, paper, want, Mixing{})
	if err != nil {
		t.Fatal(err)
	}
	r := all[0]
	saved := &ink.Shelf{Papers: shelf.Papers, Inks: append(shelf.Inks, r.Ink("pond green", shelf, paper))}
	var b bytes.Buffer
	if err := saved.Write(&b); err != nil {
		t.Fatal(err)
	}
	back, err := ink.Load(&b, "saved")
	if err != nil {
		t.Fatal(err)
	}
	mix, err := back.Ink("pond green")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(mix.Note, r.Parts[0].Name) {
		t.Errorf("note %q does not hold the recipe", mix.Note)
	}
	for _, on := range r.OnInks {
		below, err := back.Ink(on.Name)
		if err != nil {
			t.Fatal(err)
		}
		m, err := composite.New(back, back.Papers[0], composite.AsMeasured(below, mix))
		if err != nil {
			t.Fatal(err)
		}
		if d := spectrum.DeltaE(m.Overprint(3).Lab(), on.Color.Lab()); d > .3 {
			t.Errorf("over %s it prints ΔE00 %.2f from the prediction", on.Name, d)
		}
	}
}

func TestScale(t *testing.T) {
	r := &Recipe{Parts: []Part{{Name: "a", Percent: 33.4}, {Name: "b", Percent: 16.6}, {Name: BaseName, Percent: 50}}}
	for _, grams := range []float64{50, 250, 999.9} {
		s, err := r.Scale(grams, .1)
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for i, p := range s.Parts {
			sum += p.Grams
			if math.Abs(p.Grams-r.Parts[i].Percent/100*grams) > .1501 {
				t.Errorf("%v g of %s in %v g", p.Grams, p.Name, grams)
			}
		}
		if math.Abs(sum-grams) > 1e-6 {
			t.Errorf("sums to %v g, not %v", sum, grams)
		}
	}
	s, err := r.ScaleTo("b", 83, .1)
	if err != nil || math.Abs(s.Parts[1].Grams-83) > .05 || math.Abs(s.Parts[2].Grams-250) > .05 {
		t.Errorf("all of b: %+v, %v", s, err)
	}
	if _, err := r.ScaleTo("c", 83, .1); err == nil {
		t.Error("a part that is not in it is taken")
	}
	if _, err := r.Scale(1, .5); err == nil {
		t.Error("a scale of half the weight is taken")
	}
}

// A mix that got too much of one ink is brought back by adding the rest.
func TestCorrect(t *testing.T) {
	shelf := ink.BuiltIn()
	paper := shelf.Papers[0]
	want, err := ink.ParseColor("lab:62,18,26")
	if err != nil {
		t.Fatal(err)
	}
	all, err := Mix(context.Background(), shelf, paper, want, Mixing{Grams: 200})
	if err != nil {
		t.Fatal(err)
	}
	r := all[0]
	comps, base, err := components(shelf, &Mixing{})
	if err != nil {
		t.Fatal(err)
	}
	wrongly := *r
	wrongly.Parts = append([]Part(nil), r.Parts...)
	wrongly.Parts[0].Percent *= 1.6
	total := 0.0
	for _, p := range wrongly.Parts {
		total += p.Percent
	}
	for i := range wrongly.Parts {
		wrongly.Parts[i].Percent *= 100 / total
	}
	got := printed(wrongly.film(comps, &base), shelf.Sheet(paper))
	c, err := Correct(context.Background(), shelf, paper, r, got, Mixing{})
	if err != nil {
		t.Fatal(err)
	}
	if c.GotDE < 2 || c.DE > .5 || len(c.Add) == 0 {
		t.Errorf("from ΔE00 %.2f to %.2f by adding %+v", c.GotDE, c.DE, c.Add)
	}
	sum := 200.0
	for _, p := range c.Add {
		sum += p.Grams
		if p.Grams <= 0 {
			t.Errorf("adds %v g of %s", p.Grams, p.Name)
		}
	}
	if math.Abs(sum-c.Grams) > 1e-6 {
		t.Errorf("%v g after, %v g were added to 200", c.Grams, sum-200)
	}
	if !strings.Contains(c.Explain, r.Parts[0].Name) {
		t.Errorf("explained %q, it had too much %s", c.Explain, r.Parts[0].Name)
	}
	// What came out right needs nothing.
	if c, err := Correct(context.Background(), shelf, paper, r, r.Color, Mixing{}); err != nil || len(c.Add) != 0 || c.Grams != 200 {
		t.Errorf("a good mix is corrected: %+v, %v", c, err)
	}
}

// For a color lighter than all that the inks can do, the base alone is the
// recipe.
func TestMixOfNothing(t *testing.T) {
	shelf := &ink.Shelf{Papers: []*ink.Paper{{Name: "linen white", Finish: ink.Uncoated, Color: spectrum.Lab{90, 0, 0}.XYZ()}},
		Inks: []*ink.Ink{ink.NewInk("tin 1", spectrum.Lab{30, 40, 10}.XYZ())}}
	if err := shelf.Prepare(); err != nil {
		t.Fatal(err)
	}
	all, err := Mix(context.Background(), shelf, shelf.Papers[0], spectrum.Lab{97, -4, 0}.XYZ(), Mixing{})
	if err != nil || len(all[0].Parts) != 1 || all[0].Parts[0].Name != BaseName || all[0].Parts[0].Grams != 100 || all[0].InReach {
		t.Errorf("%+v, %v", all, err)
	}
}

func TestWrongMixing(t *testing.T) {
	shelf, paper := shelfOf(t, 4, 1)
	want := spectrum.Lab{50, 10, 10}.XYZ()
	for _, c := range []struct {
		m    Mixing
		want string
	}{
		{Mixing{Grams: -1}, "more than 0"},
		{Mixing{Grams: 1, Step: 1}, "finer scale"},
		{Mixing{Inks: 4}, "give 1 to 3"},
		{Mixing{Opacity: 2}, "from 0 to 1"},
		{Mixing{With: []string{"tin 1"}, Without: []string{"TIN 1"}}, "one of the two lists"},
		{Mixing{With: []string{"tin"}}, "no ink"},
		{Mixing{Inks: 1, With: []string{"tin 1", "tin 2"}}, "keep fewer"},
		{Mixing{Without: []string{"tin 1", "tin 2", "tin 3", "tin 4"}}, "leave fewer out|add inks"},
	} {
		_, err := Mix(context.Background(), shelf, paper, want, c.m)
		var q *QuestionError
		ok := false
		for _, w := range strings.Split(c.want, "|") {
			ok = ok || err != nil && strings.Contains(err.Error(), w)
		}
		if !errors.As(err, &q) || !ok {
			t.Errorf("%+v: %v, want %q", c.m, err, c.want)
		}
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := Mix(ctx, shelf, paper, want, Mixing{}); !errors.Is(err, context.Canceled) {
		t.Errorf("after a cancel: %v", err)
	}
}
