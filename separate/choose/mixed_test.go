package choose

import (
	"context"
	"testing"

	"platewright/composite/ink"
	"platewright/composite/spectrum"
	"platewright/separate"
)

// With any inks a picture prints at least as well as with those of the shelf,
// and each free ink is one that a film on the paper can have.
func TestFreeInks(t *testing.T) {
	shelf := ink.BuiltIn()
	paper := shelf.Papers[0]
	p := stripes([][3]uint8{{214, 120, 60}, {120, 160, 140}, {70, 60, 110}, {250, 248, 240}}, []int{24, 24, 12, 4})
	for count := 1; count <= 2; count++ {
		free, c, err := FreeInks(context.Background(), shelf, paper, p, Question{Count: count}, Mixing{})
		if err != nil {
			t.Fatal(err)
		}
		best, err := Best(context.Background(), shelf, paper, p, count, separate.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if c.MeanDE > best.MeanDE+1e-6 || len(free) != count || len(c.Uses) != count {
			t.Errorf("%d free inks: mean ΔE00 %.3f, with %v of the shelf %.3f", len(free), c.MeanDE, best.Names(), best.MeanDE)
		}
		for i, f := range free {
			if !f.Recipe.InReach && f.Recipe.DE < MixReach {
				t.Errorf("ink %d: %+v", i, f.Recipe)
			}
			if l := f.Color.Lab()[0]; l > paper.Color.Lab()[0]+.5 && c.Uses[i].Ink.Opacity == 0 {
				t.Errorf("clear ink %d is lighter than the paper: L %.1f", i, l)
			}
			for j, w := range spectrum.White() {
				if f.Color[j] < shelf.Sheet(paper).Surface.Re*w {
					t.Errorf("ink %d is darker than the surface: %v", i, f.Color)
				}
			}
		}
	}
	// Three inks for a picture of one color are more than it needs.
	plain := stripes([][3]uint8{{120, 160, 140}}, []int{16})
	free, c, err := FreeInks(context.Background(), shelf, paper, plain, Question{Count: 1}, Mixing{})
	if err != nil || len(free) != 1 || c.MeanDE > .5 || !free[0].Recipe.InReach {
		t.Errorf("one flat color: %+v, %v, %v", free, c, err)
	}
	if _, _, err := FreeInks(context.Background(), shelf, paper, stripes([][3]uint8{{255, 255, 255}}, []int{8}), Question{Count: 1}, Mixing{}); err == nil {
		t.Error("bare paper needs inks")
	}
}
