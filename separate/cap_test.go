package separate

import (
	"context"
	"math/rand"
	"testing"

	"platewright/separate/artwork"
)

// Over all colors there are, more inks than a spot may hold lie above 2 % in
// less than one spot of a hundred, where tints are looked up and where each
// color is refined.
func TestCapOfASpot(t *testing.T) {
	rng := rand.New(rand.NewSource(8))
	for _, inks := range testSets[3:] {
		for _, c := range []struct {
			solve  Solve
			pixels int
		}{{SolveLattice, 100000}, {SolveExact, 3000}} {
			p := &artwork.Picture{Width: c.pixels, Height: 1, Pix: make([]uint8, 3*c.pixels)}
			rng.Read(p.Pix)
			r, err := Separate(context.Background(), p, testModel(t, inks), Options{Tints: TintsAny, Solve: c.solve})
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%-45s %-8v %.2f %%, mean ΔE00 %.2f", inks, c.solve, r.Fit.ManyInks, r.Fit.MeanDE)
			if r.Fit.ManyInks >= 1 {
				t.Errorf("%s, %v: %.2f %% of the colors hold more than 3 inks", inks, c.solve, r.Fit.ManyInks)
			}
		}
	}
}
