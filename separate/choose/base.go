package choose

import (
	"context"
	"math"
	"slices"

	"platewright/composite"
	"platewright/composite/spectrum"
)

const (
	// mostBase is the largest share of base that is proposed: beyond it hardly
	// any ink is left to weigh.
	mostBase = 95
	// baseLead is how much of the mean difference a base has to win to be
	// proposed: each is a mix that has to be weighed.
	baseLead = .99
)

// bases finds for each answer how much base each ink is best printed with, in
// steps that can be weighed, and ranks them anew. From the base as measured,
// and from half base throughout, each ink's is moved by ever smaller steps as
// long as that helps.
func (s *search) bases(ctx context.Context, in []answer) ([]answer, error) {
	step := s.q.BaseStep
	if step <= 0 {
		step = 5
	}
	out := slices.Clone(in)
	targets := s.targets(s.main)
	err := parallel(len(in), func() func(int) error {
		sk := s.sketcher()
		printed := make([]spectrum.Lab, len(s.main.want))
		return func(i int) error {
			if err := ctx.Err(); err != nil {
				return err
			}
			a := &out[i]
			floor := make([]float64, len(a.set))
			for j, v := range a.set {
				f, err := s.shelf.Film(s.inks[v])
				if err != nil {
					return err
				}
				floor[j] = f.Base
			}
			try := func(base []float64) (float64, error) {
				b := *a
				b.base = base
				m, err := composite.New(s.shelf, s.paper, s.answerUses(b))
				if err != nil {
					return 0, err
				}
				sk.Fit(m, targets(m), printed, nil)
				return s.main.mean(printed), nil
			}
			asIs, err := try(nil)
			if err != nil {
				return err
			}
			half := slices.Clone(floor)
			for j := range half {
				half[j] = max(half[j], math.Round(50/step)*step)
			}
			best, bestScore := []float64(nil), baseLead*asIs
			for _, start := range [][]float64{floor, half} {
				base, score, err := descendBases(slices.Clone(start), floor, step, try)
				if err != nil {
					return err
				}
				if score < bestScore {
					best, bestScore = base, score
				}
			}
			if best == nil {
				return nil
			}
			for j := range best {
				if best[j] == floor[j] {
					best[j] = math.NaN() // as measured
				}
			}
			a.base = best
			m, err := composite.New(s.shelf, s.paper, s.answerUses(*a))
			if err != nil {
				return err
			}
			a.score = s.fine.mean(s.solve(m, s.fine, nil))
			if a.score > baseLead*in[i].score {
				*a = in[i]
			}
			return nil
		}
	})
	slices.SortFunc(out, compareAnswers)
	return out, err
}

// descendBases moves one base at a time, by a quarter of the range at first
// and by one step at last. A base at its floor is the ink as measured.
func descendBases(base, floor []float64, step float64, try func([]float64) (float64, error)) ([]float64, float64, error) {
	score, err := try(base)
	if err != nil {
		return nil, 0, err
	}
	for by := math.Max(step, math.Round(24/step)*step); ; by = math.Max(step, math.Floor(by/2/step)*step) {
		for round := 0; round < 4; round++ {
			moved := false
			for j := range base {
				for _, d := range []float64{by, -by} {
					was := base[j]
					// Steps are whole ones of the scale, above the floor.
					v := math.Round((was+d)/step) * step
					v = math.Min(mostBase, math.Max(floor[j], v))
					if v == was {
						continue
					}
					base[j] = v
					next, err := try(base)
					if err != nil {
						return nil, 0, err
					}
					if next < score-1e-9 {
						score, moved = next, true
						break
					}
					base[j] = was
				}
			}
			if !moved {
				break
			}
		}
		if by == step {
			return base, score, nil
		}
	}
}
