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
type Targets struct{ t []target }

// NewTargets returns the targets of wanted colors.
func NewTargets(want []spectrum.Lab) *Targets {
	t := make([]target, len(want))
	for i, c := range want {
		t[i] = newTarget(c)
	}
	return &Targets{t}
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
	// Rough starts from the nearest entry of the grid alone.
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
		first := s.nearest(tg)
		copy(c[:k], s.starts.cov[first*k:first*k+k])
		printed[i] = s.starts.lab[first]
		if s.Levels == nil {
			cost := sv.descend(c[:k], tg, nil, 8)
			if !s.Rough {
				if second := s.apart(k, first, tg); second >= 0 {
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

// nearest returns the entry of least cost.
func (s *Sketcher) nearest(t *target) int {
	best, at := math.Inf(1), 0
	add := s.add[:len(s.starts.lab)]
	ll, aa, bb, ab := t.m.ll, t.m.aa, t.m.bb, 2*t.m.ab
	for j := range s.starts.lab {
		lab := &s.starts.lab[j]
		x, y, z := lab[0]-t.lab[0], lab[1]-t.lab[1], lab[2]-t.lab[2]
		d := float64(ll*x)*x + float64(aa*y)*y + float64(bb*z)*z + float64(ab*y)*z + add[j]
		if d < best {
			best, at = d, j
		}
	}
	return at
}

// apart returns the entry of least cost whose coverages are apart from those
// of first, −1 where there is none.
func (s *Sketcher) apart(k, first int, t *target) int {
	best, at := math.Inf(1), -1
	c := s.starts.cov[first*k : first*k+k]
	for j, lab := range s.starts.lab {
		if d := t.distance2(lab) + s.add[j]; d < best && apart(s.starts.cov[j*k:j*k+k], c) > .6 {
			best, at = d, j
		}
	}
	return at
}
