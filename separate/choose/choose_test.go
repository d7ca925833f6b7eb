package choose

import (
	"context"
	"errors"
	"math"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
	"platewright/separate"
	"platewright/separate/artwork"
)

// A picture that three inks of a shelf of 20 print, in which all of their eight
// solids occur, is best printed by those three, in that order.
func TestKnownInksAreFound(t *testing.T) {
	shelf, paper := shelfOf(t, 20, 3)
	for _, set := range [][3]int{{0, 7, 12}, {4, 19, 9}, {11, 3, 17}} {
		u := composite.AsMeasured(shelf.Inks[set[0]], shelf.Inks[set[1]], shelf.Inks[set[2]])
		p := printOf(t, shelf, paper, u)
		got, err := Best(context.Background(), shelf, paper, p, 3, separate.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if got.MeanDE > 1 { // some of the solids lie outside of sRGB
			t.Errorf("inks %v: mean ΔE00 %.3f with %v", set, got.MeanDE, got.Names())
		}
		want := []string{u[0].Ink.Name, u[1].Ink.Name, u[2].Ink.Name}
		if names := got.Names(); !slices.Equal(names, want) {
			m, err := composite.New(shelf, paper, got.Uses)
			if err != nil {
				t.Fatal(err)
			}
			n, err := composite.New(shelf, paper, u)
			if err != nil {
				t.Fatal(err)
			}
			// Another order is right only where order does not matter.
			slices.Sort(want)
			slices.Sort(names)
			if d := spectrum.DeltaE(m.Overprint(7).Lab(), n.Overprint(7).Lab()); !slices.Equal(names, want) || d > 1 {
				t.Errorf("inks %v: got %v, the overprint of all three differs by %.2f", want, got.Names(), d)
			}
		}
	}
}

func TestRankDoesNotDependOnCores(t *testing.T) {
	shelf, paper := shelfOf(t, 6, 5)
	p := soft(24, 16, 4)
	ask := func() []*Choice {
		all, err := Rank(context.Background(), shelf, paper, p, Question{Count: 3})
		if err != nil {
			t.Fatal(err)
		}
		return all
	}
	many := ask()
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if one := ask(); len(one) != len(many) {
		t.Fatalf("%d sets on one core, %d on many", len(one), len(many))
	} else {
		for i := range one {
			if !reflect.DeepEqual(one[i].Names(), many[i].Names()) || one[i].MeanDE != many[i].MeanDE || one[i].RegisterDE != many[i].RegisterDE || one[i].Why != many[i].Why {
				t.Errorf("set %d: %v %v on one core, %v %v on many", i, one[i].Names(), one[i].MeanDE, many[i].Names(), many[i].MeanDE)
			}
		}
	}
}

func TestKeptAndExcludedInks(t *testing.T) {
	shelf, paper := shelfOf(t, 7, 5)
	p := soft(24, 16, 4)
	free, err := Rank(context.Background(), shelf, paper, p, Question{Count: 3, Top: 1})
	if err != nil {
		t.Fatal(err)
	}
	out := free[0].Names()[1]
	var in string
	for _, i := range shelf.Inks {
		if !slices.Contains(free[0].Names(), i.Name) {
			in = i.Name
		}
	}
	for count := 1; count <= 4; count++ {
		all, err := Rank(context.Background(), shelf, paper, p, Question{Count: count, Top: 2, With: []string{strings.ToUpper(in)}, Without: []string{out}})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range all {
			if names := c.Names(); !slices.Contains(names, in) || slices.Contains(names, out) || len(names) != count {
				t.Errorf("with %q, without %q, %d inks: %v", in, out, count, names)
			}
		}
	}
}

func TestWrongQuestions(t *testing.T) {
	shelf, paper := shelfOf(t, 5, 1)
	p := soft(16, 16, 1)
	for _, c := range []struct {
		q    Question
		want string
	}{
		{Question{Count: 6}, "ask for fewer or add inks"},
		{Question{Count: 0}, "a print takes 1 to 8"},
		{Question{Count: 9}, "a print takes 1 to 8"},
		{Question{Count: 2, With: []string{"tin 1"}, Without: []string{"Tin 1"}}, "take it from one of the two lists"},
		{Question{Count: 2, With: []string{"tin1"}}, `did you mean "tin 1"`},
		{Question{Count: 1, With: []string{"tin 1", "tin 2"}}, "keep fewer or ask for more"},
		{Question{Count: 2, Mask: Mask{1, 2}}, "a mask of the picture's size"},
	} {
		_, err := Rank(context.Background(), shelf, paper, p, c.q)
		var q *QuestionError
		if !errors.As(err, &q) || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%+v: %v; want one line with %q", c.q, err, c.want)
		}
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := Rank(ctx, shelf, paper, p, Question{Count: 3}); !errors.Is(err, context.Canceled) {
		t.Errorf("after a cancel: %v", err)
	}
}

// Base never is an ink to choose, and white only where it shows.
func TestWhiteAndBase(t *testing.T) {
	shelf := ink.BuiltIn()
	for _, c := range []struct {
		paper string
		pic   *artwork.Picture
		white bool
	}{
		{"linen white", stripes([][3]uint8{{255, 255, 255}, {200, 200, 200}, {90, 90, 90}}, []int{40, 12, 12}), false},
		{"slate night", stripes([][3]uint8{{255, 255, 255}, {200, 200, 200}, {40, 42, 48}}, []int{40, 12, 12}), true},
	} {
		paper, err := shelf.Paper(c.paper)
		if err != nil {
			t.Fatal(err)
		}
		got, err := Best(context.Background(), shelf, paper, c.pic, 2, separate.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if has := slices.Contains(got.Names(), "chalk cliff"); has != c.white {
			t.Errorf("on %s: %v", c.paper, got.Names())
		}
		if slices.Contains(got.Names(), "clear glaze") {
			t.Errorf("on %s transparent base was chosen: %v", c.paper, got.Names())
		}
	}
}

// A mask says what matters.
func TestMask(t *testing.T) {
	shelf := ink.BuiltIn()
	paper := shelf.Papers[0]
	p := stripes([][3]uint8{code(spectrum.Lab{54, 67, 46}.XYZ()), code(spectrum.Lab{44, -6, -46}.XYZ())}, []int{56, 8})
	mask := make(Mask, p.Width*p.Height)
	for i := range mask {
		if p.Pix[3*i+2] > 120 { // the blue part
			mask[i] = 255
		}
	}
	for _, c := range []struct {
		mask Mask
		want string
	}{{nil, "poppy field"}, {mask, "harbor blue"}} {
		got, err := Rank(context.Background(), shelf, paper, p, Question{Count: 1, Mask: c.mask})
		if err != nil {
			t.Fatal(err)
		}
		if names := got[0].Names(); names[0] != c.want {
			t.Errorf("mask %v: %v, want %s", c.mask != nil, names, c.want)
		}
	}
}

// A color of a thousandth of the area is a main color when it is like no other.
func TestSmallDistinctColorsCount(t *testing.T) {
	p := soft(400, 250, 7)
	for i := range 150 {
		copy(p.Pix[3*(100*400+100+i%30+i/30*400):], []uint8{255, 0, 0})
	}
	paper := ink.BuiltIn().Papers[0]
	h := newHistogram(p, paper.Color, nil, false, &separate.Options{})
	pal := h.cluster(searchColors)
	found := false
	sum := pal.bare
	for i, c := range pal.want {
		sum += pal.share[i]
		if spectrum.DeltaE(c, spectrum.RGB{1, 0, 0}.XYZ().Lab()) < 3 {
			found = true
			if pal.count[i] < .0019 {
				t.Errorf("the red counts for %.5f", pal.count[i])
			}
		}
	}
	if !found {
		t.Error("no main color is the red")
	}
	if math.Abs(sum-1) > 1e-9 {
		t.Errorf("shares sum to %v", sum)
	}
}

// Paler inks print a pastel picture better, and the base that is found can be
// weighed.
func TestBases(t *testing.T) {
	shelf := ink.BuiltIn()
	paper := shelf.Papers[0]
	strong, err := shelf.Ink("swim lane")
	if err != nil {
		t.Fatal(err)
	}
	m, err := composite.New(shelf, paper, []composite.Use{{Ink: strong, Base: 70}})
	if err != nil {
		t.Fatal(err)
	}
	p := stripes([][3]uint8{code(m.Overprint(1)), {255, 255, 255}}, []int{32, 32})
	q := Question{Count: 1, With: []string{"swim lane"}}
	plain, err := Rank(context.Background(), shelf, paper, p, q)
	if err != nil {
		t.Fatal(err)
	}
	q.Bases, q.BaseStep = true, 2.5
	based, err := Rank(context.Background(), shelf, paper, p, q)
	if err != nil {
		t.Fatal(err)
	}
	if got := based[0].Uses[0].Base; math.Abs(got-70) > 2.5 || math.Mod(got, 2.5) != 0 {
		t.Errorf("base %v %%, want 70 in steps of 2.5", got)
	}
	if based[0].MeanDE > plain[0].MeanDE/5 {
		t.Errorf("mean ΔE00 %.2f with base, %.2f without", based[0].MeanDE, plain[0].MeanDE)
	}
}

func TestFewest(t *testing.T) {
	shelf, paper := shelfOf(t, 8, 3)
	p := printOf(t, shelf, paper, composite.AsMeasured(shelf.Inks[1], shelf.Inks[5]))
	all, ok, err := Fewest(context.Background(), shelf, paper, p, .5, Question{Count: 4})
	if err != nil || !ok || len(all[0].Uses) != 2 {
		t.Errorf("%v %v: want the two inks it was printed with", ok, err)
	}
	all, ok, err = Fewest(context.Background(), shelf, paper, soft(16, 16, 3), 1e-6, Question{Count: 2})
	if err != nil || ok || len(all[0].Uses) != 2 {
		t.Errorf("%v %v: nothing comes that near", ok, err)
	}
}

func TestOrders(t *testing.T) {
	shelf := ink.BuiltIn()
	paper := shelf.Papers[0]
	inks := func(names ...string) []composite.Use {
		var out []*ink.Ink
		for _, n := range names {
			i, err := shelf.Ink(n)
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, i)
		}
		return composite.AsMeasured(out...)
	}
	u := inks("lemon peel", "lamp soot", "winter sky")
	p := printOf(t, shelf, paper, u)
	all, err := Orders(context.Background(), shelf, paper, p, u, separate.Options{Tints: separate.TintsNone})
	if err != nil {
		t.Fatal(err)
	}
	if len(all) != 6 || all[0].MeanDE > .3 {
		t.Fatalf("%d orders, the best with %.2f", len(all), all[0].MeanDE)
	}
	rules := map[string][]string{}
	for i, o := range all {
		if i > 0 && o.MeanDE < all[i-1].MeanDE {
			t.Error("not in order of the difference")
		}
		for _, r := range o.Rules {
			for _, v := range o.Uses {
				rules[r] = append(rules[r], v.Ink.Name)
			}
		}
	}
	want := map[string][]string{
		RuleOpaque: {"lamp soot", "winter sky", "lemon peel"},
		RuleLight:  {"lemon peel", "winter sky", "lamp soot"},
	}
	if !reflect.DeepEqual(rules, want) {
		t.Errorf("rules: %v, want %v", rules, want)
	}
	if all[5].MeanDE < 2 {
		t.Errorf("opaque inks in the worst order differ by only %.2f", all[5].MeanDE)
	}
}

// The two plates of a picture whose edges lie on each other suffer from a
// register error in proportion to it; a picture of one flat does not.
func TestRegister(t *testing.T) {
	shelf, paper := shelfOf(t, 8, 3)
	p := printOf(t, shelf, paper, composite.AsMeasured(shelf.Inks[1], shelf.Inks[5]))
	ask := func(p *artwork.Picture, mm float64) float64 {
		all, err := Rank(context.Background(), shelf, paper, p, Question{Count: 2, Top: 1, Register: mm, WidthMM: 200})
		if err != nil {
			t.Fatal(err)
		}
		return all[0].RegisterDE
	}
	a, b := ask(p, .5), ask(p, 1)
	if !(a > 0) || math.Abs(b-2*a) > 1e-9 {
		t.Errorf("half a millimeter %.4f, a whole one %.4f", a, b)
	}
	if d := ask(stripes([][3]uint8{{200, 90, 60}}, []int{16}), 1); d != 0 {
		t.Errorf("a plain picture suffers %.3f", d)
	}
}

func TestFiguresAreConsistent(t *testing.T) {
	shelf, paper := shelfOf(t, 6, 6)
	all, err := Rank(context.Background(), shelf, paper, soft(24, 16, 5), Question{Count: 3, Top: 2})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range all {
		share, mean := 0.0, 0.0
		for _, o := range c.Overlaps {
			for _, m := range o.Colors {
				share += m.Share
				mean += m.DE * m.Share / 100
			}
		}
		if share > 100+1e-6 || mean > c.MeanDE+1e-6 {
			t.Errorf("%v: overlaps make %.1f %% with a mean of %.2f of %.2f", c.Names(), share, mean, c.MeanDE)
		}
		if c.P95DE < c.MeanDE || c.InksPerSpot <= 0 || c.InksPerSpot > 3 || c.MostInks > 3 || c.TotalCoverage > 300+1e-9 || c.RuleDE < c.MeanDE-1e-9 {
			t.Errorf("%v: %+v", c.Names(), c)
		}
	}
}

// A photograph that is to be printed without tints is all edges, and counts.
func TestSolidsOfAPhotograph(t *testing.T) {
	shelf, paper := shelfOf(t, 5, 6)
	p := soft(40, 30, 3)
	got, err := Best(context.Background(), shelf, paper, p, 2, separate.Options{Tints: separate.TintsNone})
	if err != nil || got.MeanDE < 1 || got.Tints != separate.TintsNone || len(got.Overlaps) == 0 {
		t.Errorf("%+v, %v", got, err)
	}
}

// A picture that stays bare is no reason to fail, nor is one of a single pixel.
func TestEmptyPictures(t *testing.T) {
	shelf, paper := shelfOf(t, 4, 6)
	for _, p := range []*artwork.Picture{
		stripes([][3]uint8{{255, 255, 255}}, []int{8}),
		{Width: 1, Height: 1, Pix: []uint8{10, 20, 30}},
		{Width: 3, Height: 1, Pix16: make([]uint16, 9)},
	} {
		if got, err := Best(context.Background(), shelf, paper, p, 2, separate.Options{}); err != nil || len(got.Uses) != 2 {
			t.Errorf("%d × %d: %v", p.Width, p.Height, err)
		}
	}
}
