package separate

import (
	"context"
	"math/rand"
	"testing"

	"platewright/separate/artwork"
)

// A cap below three is a cost and no cliff: three inks still print grays.
func TestSmallCapIsSoft(t *testing.T) {
	p := &artwork.Picture{Width: 256, Height: 1}
	for v := range 256 {
		p.Pix = append(p.Pix, uint8(v), uint8(v), uint8(v))
	}
	for _, solve := range []Solve{SolveExact, SolveLattice} {
		fit := func(inksPerSpot int) float64 {
			r, err := Separate(context.Background(), p, testModel(t, testSets[1]), Options{Tints: TintsAny, Solve: solve, InksPerSpot: inksPerSpot})
			if err != nil {
				t.Fatal(err)
			}
			return r.Fit.MeanDE
		}
		if free, capped := fit(3), fit(2); capped > free+1 {
			t.Errorf("%v: mean ΔE00 %.2f with a cap of two inks, %.2f without", solve, capped, free)
		}
	}
}

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
