package choose

import (
	"fmt"
	"math"
	"math/rand"
	"testing"

	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

// shelfOf returns a shelf of n invented inks on one white paper, from clear to
// opaque, spread over the hues. The same seed gives the same shelf.
func shelfOf(t testing.TB, n int, seed int64) (*ink.Shelf, *ink.Paper) {
	t.Helper()
	rng := rand.New(rand.NewSource(seed))
	s := &ink.Shelf{Papers: []*ink.Paper{{Name: "linen white", Finish: ink.Uncoated, Color: spectrum.Lab{95, .3, 1.5}.XYZ()}}}
	for len(s.Inks) < n {
		hue := float64(len(s.Inks))*2.4 + .3*rng.Float64()
		l := 30 + 50*rng.Float64()
		chroma := (20 + 45*rng.Float64()) * (1 - math.Abs(l-58)/70)
		c := spectrum.Lab{l, chroma * math.Cos(hue), chroma * math.Sin(hue)}
		if len(s.Inks) == 0 {
			c = spectrum.Lab{19, .5, .5}
		}
		i := ink.NewInk(fmt.Sprintf("tin %d", len(s.Inks)+1), c.XYZ())
		i.Opacity = []float64{.05, .08, .1, .15, .3, .5, .9}[rng.Intn(7)]
		s.Inks = append(s.Inks, i)
	}
	if err := s.Prepare(); err != nil {
		t.Fatal(err)
	}
	return s, s.Papers[0]
}
