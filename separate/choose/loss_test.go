package choose

import (
	"context"
	"math"
	"testing"

	"platewright/composite"
	"platewright/composite/spectrum"
	"platewright/separate"
)

// Colors that print alike are told of flat art, whatever tints it gets, and
// never of a photograph, whose neighbors always do. What is far off is told of
// both.
func TestWhatIsLost(t *testing.T) {
	shelf, paper := shelfOf(t, 5, 6)
	flat := stripes([][3]uint8{{230, 20, 20}, {20, 20, 230}, {250, 240, 10}}, []int{24, 24, 16})
	for _, c := range []struct {
		name string
		opt  separate.Options
		flat bool
	}{
		{"flat", separate.Options{}, true},
		{"flat with tints", separate.Options{Tints: separate.TintsAny}, true},
		{"soft", separate.Options{}, false},
		{"soft without tints", separate.Options{Tints: separate.TintsNone}, false},
	} {
		p := flat
		if !c.flat {
			p = soft(64, 48, 3)
		}
		s, err := newSearch(shelf, paper, p, &Question{Count: 1, Options: c.opt})
		if err != nil {
			t.Fatal(err)
		}
		if s.flat != c.flat {
			t.Errorf("%s: flat %v", c.name, s.flat)
		}
		got, err := Best(context.Background(), shelf, paper, p, 1, c.opt)
		if err != nil {
			t.Fatal(err)
		}
		// One ink prints these colors on one line: some of them alike.
		if !c.flat && len(got.Merged) > 0 || c.flat && c.opt.Tints == separate.TintsAuto && len(got.Merged) == 0 {
			t.Errorf("%s: %d colors print alike", c.name, len(got.Merged))
		}
		if f := got.Farthest; f == nil || f.DE < got.MeanDE || math.Abs(f.DE-spectrum.DeltaE(f.Want, f.Printed)) > 1e-9 {
			t.Errorf("%s: the worst is %+v, the mean %.2f", c.name, f, got.MeanDE)
		}
	}
	u := composite.AsMeasured(shelf.Inks[1])
	if got, err := Best(context.Background(), shelf, paper, printOf(t, shelf, paper, u), 1, separate.Options{}); err != nil || got.Farthest != nil {
		t.Errorf("nothing is far off, but %+v, %v", got.Farthest, err)
	}
}

// With colors out of reach eased, the figures are those that separating so
// gives, and not those of the nearest.
func TestEasedFigures(t *testing.T) {
	shelf, paper := shelfOf(t, 6, 6)
	p := soft(96, 64, 5)
	eased := separate.Options{OutOfReach: separate.Ease}
	got, err := Best(context.Background(), shelf, paper, p, 2, eased)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		opt  separate.Options
		same bool
	}{{eased, true}, {separate.Options{}, false}} {
		pr, err := NewProof(context.Background(), shelf, paper, p, got.Uses, c.opt, 96, false)
		if err != nil {
			t.Fatal(err)
		}
		if d := math.Abs(pr.Fit.MeanDE - got.MeanDE); d < .4 != c.same {
			t.Errorf("eased %v: separated with a mean of %.2f, suggested with %.2f", c.same, pr.Fit.MeanDE, got.MeanDE)
		}
	}
}
