package separate

import (
	"math"

	"platewright/composite"
	"platewright/composite/spectrum"
	"platewright/separate/artwork"
)

// Decide returns the rule of tints that Separate follows for a flattened
// picture, and says why.
func Decide(p *artwork.Picture, opt *Options) (TintRule, string) {
	e := &engine{p: p, opt: opt}
	return e.rule()
}

// Bare returns the function that reports whether the pixel at x, y of a
// flattened picture is left bare by Separate: transparent, white on light
// paper, the paper's own color, or unprinted.
func Bare(p *artwork.Picture, paper spectrum.XYZ, opt *Options) func(x, y int) bool {
	r := &reading{space: p.Space, paper: paper.Lab()}
	r.light = r.paper[0] >= lightPaper
	full := 255.0
	if p.Pix == nil {
		full = 65535
	}
	codes := bareSet(r.bareCodes(opt, full))
	return func(x, y int) bool {
		if p.Bare(x, y) {
			return true
		}
		i := 3 * (y*p.Width + x)
		if p.Pix != nil {
			return codes.has(uint16(p.Pix[i]), uint16(p.Pix[i+1]), uint16(p.Pix[i+2]))
		}
		return codes.has(p.Pix16[i], p.Pix16[i+1], p.Pix16[i+2])
	}
}

// Targets are wanted colors made ready to be solved with many models. They do
// not change and are safe for concurrent use.
type Targets struct {
	t []target
	m []metric // around each
}

// NewTargets returns the targets of wanted colors.
func NewTargets(want []spectrum.Lab) *Targets {
	t := &Targets{make([]target, len(want)), make([]metric, len(want))}
	for i, c := range want {
		t.t[i], t.m[i] = newTarget(c), metricAt(c)
	}
	return t
}

// A Sketcher finds coverages for many models in turn: as Solver does, but from
// the nearest two of a coarse grid, so that a model costs microseconds to set
// up. InksPerSpot is as in Options. The zero Sketcher is ready; make one for
// each goroutine.
type Sketcher struct {
	InksPerSpot int
	// Levels are the coverages that plates may hold, 0 … 1, both ends among
	// them; nil allows all.
	Levels []float64
	// Rough starts from the nearest entry of the grid alone and takes few
	// steps from there.
	Rough bool

	starts startTable
	add    []float64
}

// sketchLevels is the number of levels an ink in the coarse grid, by inks.
var sketchLevels = [maxInks + 1]int{0, 9, 7, 5, 4, 3, 3, 2, 2}

// Fit writes the color that m prints for each target to printed and, unless it
// is nil, the coverages to coverage, one per ink and target, inks fastest.
func (s *Sketcher) Fit(m *composite.Model, t *Targets, printed []spectrum.Lab, coverage []float64) {
	k := m.Inks()
	o := Options{InksPerSpot: s.InksPerSpot}
	sv := newSolver(m, o.inksPerSpot(), &s.starts)
	s.grid(sv)
	var c, d [maxInks]float64
	for i := range t.t {
		tg := &t.t[i]
		first := s.nearest(tg, &t.m[i])
		copy(c[:k], s.starts.cov[first*k:first*k+k])
		printed[i] = s.starts.lab[first]
		if s.Levels == nil {
			steps := 8
			if s.Rough {
				steps = 3
			}
			cost := sv.descend(c[:k], tg, nil, steps)
			if !s.Rough {
				if second := s.apart(k, first, tg, &t.m[i]); second >= 0 {
					copy(d[:k], s.starts.cov[second*k:second*k+k])
					if sv.descend(d[:k], tg, nil, 8) < cost {
						c = d
					}
				}
			}
			printed[i] = sv.e.XYZ(c[:k]).Lab()
		}
		if coverage != nil {
			copy(coverage[i*k:i*k+k], c[:k])
		}
	}
}

// grid fills the table of starts with the colors of m.
func (s *Sketcher) grid(sv *solver) {
	k := sv.k
	levels := len(s.Levels)
	if s.Levels == nil {
		levels = sketchLevels[k]
	}
	n := 1
	for range k {
		n *= levels
	}
	if cap(s.add) < n || cap(s.starts.cov) < n*k {
		s.starts.cov = make([]float64, n*k)
		s.starts.lab = make([]spectrum.Lab, n)
		s.add = make([]float64, n)
	}
	s.starts.cov, s.starts.lab, s.add = s.starts.cov[:n*k], s.starts.lab[:n], s.add[:n]
	for j := range n {
		c := s.starts.cov[j*k : j*k+k]
		r := j
		for i := range c {
			if s.Levels != nil {
				c[i] = s.Levels[r%levels]
			} else {
				c[i] = float64(r%levels) / float64(levels-1)
			}
			r /= levels
		}
		s.starts.lab[j] = sv.e.XYZ(c).Lab()
		s.add[j] = sv.small(c)
	}
}

// nearest returns the entry of least cost. Where entries are answers by
// themselves that is exact, where they are starts it is by m, the metric around
// the target.
func (s *Sketcher) nearest(t *target, m *metric) int {
	best, at := math.Inf(1), 0
	add := s.add[:len(s.starts.lab)]
	for j := range s.starts.lab {
		var d float64
		if s.Levels != nil {
			d = t.distance2(s.starts.lab[j]) + add[j]
		} else {
			d = m.distance2(&t.lab, &s.starts.lab[j]) + add[j]
		}
		if d < best {
			best, at = d, j
		}
	}
	return at
}

// distance2 is the squared distance between a and b.
func (m *metric) distance2(a, b *spectrum.Lab) float64 {
	x, y, z := b[0]-a[0], b[1]-a[1], b[2]-a[2]
	return float64(float64(m.ll*x)*x) + float64(float64(m.aa*y)*y) + float64(float64(m.bb*z)*z) + float64(float64(2*m.ab*y)*z)
}

// apart returns the entry of least cost by m whose coverages are apart from
// those of first, −1 where there is none.
func (s *Sketcher) apart(k, first int, t *target, m *metric) int {
	best, at := math.Inf(1), -1
	c := s.starts.cov[first*k : first*k+k]
	for j := range s.starts.lab {
		if d := m.distance2(&t.lab, &s.starts.lab[j]) + s.add[j]; d < best && apart(s.starts.cov[j*k:j*k+k], c) > .6 {
			best, at = d, j
		}
	}
	return at
}
