package separate

import (
	"flag"
	"math"
	"math/rand"
	"testing"

	"gonum.org/v1/gonum/optimize"

	"platewright/composite/spectrum"
)

var targetsFlag = flag.Int("targets", 360, "random colors in the comparison with a general optimizer")

// The solver against a general optimizer (gonum's Nelder–Mead, 16 starts, the
// box by c = sin²u) on random colors, half of them printed by the inks and
// half drawn from the sRGB cube, for six sets of inks. Run with
// -targets 10000 for the full comparison.
func TestSolverAgainstGeneralOptimizer(t *testing.T) {
	rng := rand.New(rand.NewSource(7))
	worse, total, most := 0, 0, 0.0
	for _, inks := range testSets {
		m := testModel(t, inks)
		k := m.Inks()
		s := newSolver(m, k, newStartTable(m))
		for n := 0; n < *targetsFlag/len(testSets); n++ {
			c := make([]float64, k)
			for i := range c {
				c[i] = rng.Float64()
			}
			want := m.Lab(c)
			if n%2 == 0 {
				want = spectrum.RGB{rng.Float64(), rng.Float64(), rng.Float64()}.XYZ().Lab()
			}
			tg := newTarget(want)
			ours := math.Sqrt(s.distance2(s.candidates(&tg, globalStarts, globalSteps)[0].c[:k], &tg))
			best := ours
			problem := optimize.Problem{Func: func(u []float64) float64 {
				for i, v := range u {
					c[i] = math.Sin(v) * math.Sin(v)
				}
				return s.distance2(c, &tg)
			}}
			for start := 0; start < 16; start++ {
				u := make([]float64, k)
				for i := range u {
					u[i] = rng.Float64() * math.Pi / 2
				}
				r, err := optimize.Minimize(problem, u, &optimize.Settings{FuncEvaluations: 600}, &optimize.NelderMead{})
				if r == nil {
					t.Fatal(err)
				}
				best = math.Min(best, math.Sqrt(r.F))
			}
			total++
			most = math.Max(most, ours-best)
			if ours-best > .3 {
				worse++
			}
		}
	}
	t.Logf("%d of %d more than ΔE .3 above the best known; worst %.3f above it", worse, total, most)
	if worse > max(1, total/1000) {
		t.Errorf("%d of %d targets are more than ΔE .3 above the best known", worse, total)
	}
}

// The paper's own color prints nothing.
func TestPaperPrintsNothing(t *testing.T) {
	for _, inks := range testSets {
		m := testModel(t, inks)
		s := NewSolver(m, 3)
		c := make([]float64, m.Inks())
		s.Solve(m.Overprint(0).Lab(), c)
		for i, v := range c {
			if v > 1e-6 {
				t.Errorf("%s: ink %d prints %.6f on bare paper", inks, i, v)
			}
		}
	}
}
