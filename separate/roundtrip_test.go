package separate

import (
	"context"
	"math"
	"math/rand"
	"sort"
	"testing"

	"platewright/composite/spectrum"
	"platewright/separate/artwork"
)

// Random coverages, printed by the model, exchanged as 16-bit sRGB and
// separated again: the proof has the same color, and with up to three inks the
// coverages come back.
func TestRoundTrip(t *testing.T) {
	zero := 0.0
	cases := []struct {
		name         string
		opt          Options
		mean, p95    float64
		coverage     float64
		withCoverage bool
	}{
		{"neighbor term off", Options{Tints: TintsAny, Solve: SolveExact, Smooth: &zero, InksPerSpot: 8}, .2, .6, .02, true},
		{"defaults", Options{Tints: TintsAny}, .5, 2, 1, false},
	}
	for _, inks := range testSets {
		m := testModel(t, inks)
		k := m.Inks()
		rng := rand.New(rand.NewSource(11))
		const n = 200
		p := &artwork.Picture{Width: n, Height: 1, Pix16: make([]uint16, 3*n)}
		cov := make([][]float64, n)
		for i := 0; i < n; {
			c := make([]float64, k)
			for j := range c {
				c[j] = rng.Float64()
			}
			rgb := m.XYZ(c).RGB()
			if rgb != rgb.Clamp() { // sRGB cannot carry it
				continue
			}
			cov[i] = c
			for j, v := range rgb {
				p.Pix16[3*i+j] = uint16(math.Round(v * 65535))
			}
			i++
		}
		for _, c := range cases {
			r, err := Separate(context.Background(), p, m, c.opt)
			if err != nil {
				t.Fatal(err)
			}
			de := make([]float64, n)
			sum, off := 0.0, 0.0
			got := make([]float64, k)
			for i := range cov {
				for j := range got {
					got[j] = float64(r.Ink[j][i]) / 65535
					off += math.Abs(got[j]-cov[i][j]) / float64(n*k)
				}
				want := spectrum.RGB{float64(p.Pix16[3*i]) / 65535, float64(p.Pix16[3*i+1]) / 65535, float64(p.Pix16[3*i+2]) / 65535}.XYZ().Lab()
				de[i] = spectrum.DeltaE(want, m.Lab(got))
				sum += de[i]
			}
			sort.Float64s(de)
			mean, p95 := sum/n, percentile(de, .95)
			t.Logf("%-45s %-18s mean ΔE00 %.3f, 95th %.3f, coverage %.2f %%", inks, c.name, mean, p95, 100*off)
			if mean > c.mean || p95 > c.p95 {
				t.Errorf("%s, %s: mean ΔE00 %.3f (at most %.1f), 95th %.3f (%.1f)", inks, c.name, mean, c.mean, p95, c.p95)
			}
			if c.withCoverage && k <= 3 && off > c.coverage {
				t.Errorf("%s, %s: coverages come back within %.2f %%", inks, c.name, 100*off)
			}
		}
	}
}
