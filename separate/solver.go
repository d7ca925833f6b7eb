package separate

import (
	"math"
	"sort"
	"sync"

	"platewright/composite"
	"platewright/composite/spectrum"
)

// Weights of the small terms beside the color distance, in ΔE00² per unit of
// coverage. They only decide where color does not: a gradient of w in a
// direction in which full coverage moves the color by σ ΔE00 shifts the color
// by w/(2σ).
const (
	// Little ink: a shift of .01 ΔE00 at σ = 10.
	weightInk = 0.2
	// The same end of many equal answers, see prices; of which a part counts once
	// a color is held to a branch.
	weightEnd = 80
	endHeld   = 16
	// Each ink beyond the cap of a spot: pays for itself only where it wins
	// color. Held to a branch a color pays less, see hold.
	weightFew     = 60
	weightFewHeld = 2
	// Keeps the quadratic definite where an ink has no effect.
	ridge = 1e-3
)

// A solver finds coverages for one model. It has workspace of its own and is
// not safe for concurrent use.
type solver struct {
	e   *composite.Evaluator
	k   int
	cap int // inks in one spot before each further one costs
	q   quadratic
	// starts are coverages spread over the cube with the colors they print.
	starts *startTable
	work   []float64        // the cost of each start
	price  [maxInks]float64 // cost of each ink per unit of coverage
	few    float64          // cost of each ink beyond the cap
	top    [maxInks]float64 // the most of each ink
}

// A startTable holds the colors of a regular grid of coverages, from which a
// search without a neighbor begins.
type startTable struct {
	cov   []float64 // k per entry
	lab   []spectrum.Lab
	price func() [maxInks]float64 // what each ink costs, worked out when first asked for
}

func newStartTable(m *composite.Model) *startTable {
	// 3 to 17 levels an ink, below about 6,600 entries in all.
	return newStarts(m, []int{0, 17, 9, 7, 6, 5, 4, 3, 3}[m.Inks()])
}

func newStarts(m *composite.Model, levels int) *startTable {
	k := m.Inks()
	n := 1
	for i := 0; i < k; i++ {
		n *= levels
	}
	t := &startTable{cov: make([]float64, n*k), lab: make([]spectrum.Lab, n)}
	e := m.NewEvaluator()
	for j := range t.lab {
		c := t.cov[j*k : j*k+k]
		r := j
		for i := range c {
			c[i] = float64(r%levels) / float64(levels-1)
			r /= levels
		}
		t.lab[j] = e.XYZ(c).Lab()
	}
	t.price = sync.OnceValue(func() [maxInks]float64 { return prices(m, t) })
	return t
}

func newSolver(m *composite.Model, inksPerSpot int, starts *startTable) *solver {
	s := &solver{e: m.NewEvaluator(), k: m.Inks(), cap: inksPerSpot, starts: starts, few: weightFew}
	for i := range s.price {
		s.price[i] = weightInk
	}
	for i := range s.top {
		s.top[i] = 1
	}
	return s
}

// steer makes the solver pay the full prices, which pick the same end of many
// equal answers all over the color cube.
func (s *solver) steer() *solver {
	s.price = s.starts.price()
	return s
}

// hold makes the solver pay little for many inks and of the prices: held to a
// branch by a pull, a color must not tip over to another for them.
func (s *solver) hold() *solver {
	s.few = weightFewHeld
	for i, v := range s.starts.price() {
		s.price[i] = weightInk + (v-weightInk)/endHeld
	}
	return s
}

// labJacobian returns the color of c and its derivatives in CIELAB.
func (s *solver) labJacobian(c []float64, jac *[maxInks]spectrum.Lab) spectrum.Lab {
	xyz, dx := s.e.XYZJacobian(c)
	w := spectrum.White()
	var f, df [3]float64
	for i := range f {
		f[i], df[i] = labRoot(xyz[i] / w[i])
		df[i] /= w[i]
	}
	for i, d := range dx {
		x, y, z := d[0]*df[0], d[1]*df[1], d[2]*df[2]
		jac[i] = spectrum.Lab{116 * y, 500 * (x - y), 200 * (y - z)}
	}
	return spectrum.Lab{116*f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])}
}

// labRoot is the cube root of CIELAB with its straight part, and its slope.
func labRoot(t float64) (f, slope float64) {
	const knee = (6.0 / 29) * (6.0 / 29) * (6.0 / 29)
	if t > knee {
		f = math.Cbrt(t)
		return f, 1 / (3 * f * f)
	}
	return 841.0/108*t + 16.0/116, 841.0 / 108
}

func dot(a, b [3]float64) float64 {
	return float64(a[0]*b[0]) + float64(a[1]*b[1]) + float64(a[2]*b[2])
}

// distance2 is the squared weighted distance of what c prints to t.
func (s *solver) distance2(c []float64, t *target) float64 {
	return t.distance2(s.e.XYZ(c).Lab())
}

// small is the cost of ink and of many inks in c.
func (s *solver) small(c []float64) float64 {
	cost := 0.0
	for i, v := range c {
		cost += float64(s.price[i] * v)
	}
	if s.k > s.cap {
		_, over := s.beyond(c)
		cost += s.few * over
	}
	return cost
}

// beyond returns a mask of the inks in c beyond the cap, the thinnest ones,
// and their coverage in all.
func (s *solver) beyond(c []float64) (mask uint, sum float64) {
	for n := s.k - s.cap; n > 0; n-- {
		at := -1
		for i, v := range c {
			if mask>>i&1 == 0 && (at < 0 || v < c[at]) {
				at = i
			}
		}
		mask |= 1 << at
		sum += c[at]
	}
	return mask, sum
}

// A pull draws a solution toward given coverages: weight·|c − to|².
type pull struct {
	to     [maxInks]float64
	weight float64
}

func (p *pull) cost(c []float64) float64 {
	if p == nil {
		return 0
	}
	s := 0.0
	for i, v := range c {
		s += float64((v - p.to[i]) * (v - p.to[i]))
	}
	return p.weight * s
}

// descend improves c, in place, by damped Gauss–Newton steps, each a bounded
// least-squares problem, and returns the cost reached: distance² + small terms
// + pull.
func (s *solver) descend(c []float64, t *target, p *pull, steps int) float64 {
	k := s.k
	var x, lo, hi [maxInks]float64
	var jac [maxInks]spectrum.Lab
	r := t.residual(s.e.XYZ(c).Lab())
	cost := dot(r, r) + s.small(c) + p.cost(c)
	damping := 0.0
	for round := 0; round < steps; round++ {
		slope := t.slope(s.labJacobian(c, &jac), r)
		var step [maxInks][3]float64
		q := &s.q
		q.k = k
		var mask uint
		if k > s.cap {
			mask, _ = s.beyond(c)
		}
		trace := 0.0
		for i := 0; i < k; i++ {
			step[i] = toResidual(&slope, jac[i])
			for j := 0; j <= i; j++ {
				h := 2 * dot(step[i], step[j])
				q.h[i*maxInks+j], q.h[j*maxInks+i] = h, h
			}
			trace += q.h[i*maxInks+i]
			q.g[i] = 2*dot(step[i], r) + s.price[i]
			if mask>>i&1 == 1 {
				q.g[i] += s.few
			}
			if p != nil {
				q.g[i] += 2 * p.weight * (c[i] - p.to[i])
				q.h[i*maxInks+i] += 2 * p.weight
			}
			q.h[i*maxInks+i] += ridge
		}
		better := false
		for try := 0; try < 8; try++ {
			for i := 0; i < k; i++ {
				q.h[i*maxInks+i] += damping
				lo[i], hi[i] = -c[i], s.top[i]-c[i]
				x[i] = 0
			}
			q.minimize(&x, &lo, &hi)
			for i := 0; i < k; i++ {
				q.h[i*maxInks+i] -= damping
			}
			moved := 0.0
			var next [maxInks]float64
			for i := 0; i < k; i++ {
				next[i] = math.Min(s.top[i], math.Max(0, c[i]+x[i]))
				moved = math.Max(moved, math.Abs(x[i]))
			}
			if moved < 1e-6 {
				return cost
			}
			nr := t.residual(s.e.XYZ(next[:k]).Lab())
			nc := dot(nr, nr) + s.small(next[:k]) + p.cost(next[:k])
			if nc < cost {
				gain := cost - nc
				copy(c, next[:k])
				cost, r = nc, nr
				damping /= 4
				if damping < 1e-3*trace {
					damping = 0
				}
				if gain < 1e-7*(1+cost) {
					return cost
				}
				better = true
				break
			}
			if damping == 0 {
				damping = .02*trace/float64(k) + 1
			} else {
				damping *= 6
			}
		}
		if !better {
			return cost
		}
	}
	return cost
}

// A candidate is one local answer for a target.
type candidate struct {
	c    [maxInks]float64
	cost float64
}

// candidates returns the distinct local answers found from up to n starts by so
// many steps each, best first.
func (s *solver) candidates(t *target, n, steps int) []candidate {
	k := s.k
	// The cheapest starts, but none near another.
	cost := s.work[:0]
	for j, lab := range s.starts.lab {
		cost = append(cost, t.rough(lab)+s.small(s.starts.cov[j*k:j*k+k]))
	}
	s.work = cost
	var found []candidate
	at := 0
	for j, v := range cost {
		if v < cost[at] {
			at = j
		}
	}
	for i := 0; i < n && at >= 0; i++ {
		from := s.starts.cov[at*k : at*k+k]
		at = -1
		least := math.Inf(1)
		for j, v := range cost {
			if math.IsInf(v, 1) {
				continue
			}
			if alike(s.starts.cov[j*k:j*k+k], from, .3) {
				cost[j] = math.Inf(1)
			} else if v < least {
				least, at = v, j
			}
		}
		var f candidate
		copy(f.c[:], from)
		f.cost = s.descend(f.c[:k], t, nil, steps)
		same := -1
		for i := range found {
			if apart(found[i].c[:k], f.c[:k]) < .02 {
				same = i
				break
			}
		}
		if same < 0 {
			found = append(found, f)
		} else if f.cost < found[same].cost {
			found[same] = f
		}
	}
	sort.SliceStable(found, func(a, b int) bool { return found[a].cost < found[b].cost })
	return found
}

// apart is the largest difference of coverage between a and b.
func apart(a, b []float64) float64 {
	d := 0.0
	for i := range a {
		d = math.Max(d, math.Abs(a[i]-b[i]))
	}
	return d
}

// alike reports whether a and b are less than d apart.
func alike(a, b []float64, d float64) bool {
	for i, v := range a {
		if v -= b[i]; v >= d || v <= -d {
			return false
		}
	}
	return true
}

// globalStarts is the number of starts from which a color is searched on its
// own: enough to come within ΔE .3 of the best known in all but one of a
// thousand colors (TestSolverAgainstGeneralOptimizer).
const (
	globalStarts = 16
	globalSteps  = 25
)
