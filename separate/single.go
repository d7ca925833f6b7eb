package separate

import (
	"platewright/composite"
	"platewright/composite/spectrum"
	"platewright/separate/artwork"
)

// A Solver finds the coverages for one color at a time, each on its own: no
// neighbor term. It has workspace of its own; make one for each goroutine.
type Solver struct{ s *solver }

// NewSolver returns a Solver for m in which each ink of a spot beyond
// inksPerSpot costs; 0 means 3.
func NewSolver(m *composite.Model, inksPerSpot int) *Solver {
	o := Options{InksPerSpot: inksPerSpot}
	return &Solver{newSolver(m, o.inksPerSpot(), newStartTable(m))}
}

// Solve writes to coverage, one value 0 … 1 an ink, the answer of least cost
// for a wanted color, searched from several starts, and returns the color that
// it prints.
func (s *Solver) Solve(want spectrum.Lab, coverage []float64) spectrum.Lab {
	t := newTarget(want)
	copy(coverage, s.s.candidates(&t, globalStarts, globalSteps)[0].c[:s.s.k])
	return s.s.e.XYZ(coverage).Lab()
}

// Quick is Solve from the single best start: two to ten times as fast, and now
// and then in a local answer.
func (s *Solver) Quick(want spectrum.Lab, coverage []float64) spectrum.Lab {
	t := newTarget(want)
	copy(coverage, s.s.candidates(&t, 1, globalSteps)[0].c[:s.s.k])
	return s.s.e.XYZ(coverage).Lab()
}

// Wanted returns the function that says which color a print on the given paper
// should have where the artwork has the encoded color rgb, each 0 … 1: the
// artwork's own, except that what is lighter than a light paper, or unprinted,
// is left to the paper. Only Unprinted of opt counts.
func Wanted(space artwork.Space, paper spectrum.XYZ, opt *Options) func(rgb [3]float64) spectrum.Lab {
	r := &reading{space: space, paper: paper.Lab()}
	r.light = r.paper[0] >= lightPaper
	for _, c := range opt.Unprinted {
		r.clear = append(r.clear, c.Lab())
	}
	return r.wanted
}
