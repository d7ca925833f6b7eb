package separate

import (
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"platewright/composite"
)

// A field is coverages over the color cube of the picture: n nodes along each
// of the encoded R, G and B, k coverages a node. Solved as one, because
// overlapping inks have many nearly equal answers and colors solved one by one
// would jump between them.
type field struct {
	n, k int
	cov  []float64 // ((r·n+g)·n+b)·k + ink
}

func newField(n, k int) *field { return &field{n, k, make([]float64, n*n*n*k)} }

func (f *field) at(node int) []float64 { return f.cov[node*f.k : node*f.k+f.k] }

// node returns the index of grid point r, g, b.
func (f *field) node(r, g, b int) int { return (r*f.n+g)*f.n + b }

// interpolate writes the coverages at the encoded color rgb, each 0 … 1, by
// tetrahedra around the gray diagonal, so that grays come from grays alone.
func (f *field) interpolate(rgb [3]float64, out []float64) {
	var base [3]int
	var frac [3]float64
	for i, v := range rgb {
		x := math.Min(1, math.Max(0, v)) * float64(f.n-1)
		base[i] = min(int(x), f.n-2)
		frac[i] = x - float64(base[i])
	}
	step := [3]int{f.n * f.n, f.n, 1}
	order := [3]int{0, 1, 2}
	for i := 1; i < 3; i++ {
		for j := i; j > 0 && frac[order[j]] > frac[order[j-1]]; j-- {
			order[j], order[j-1] = order[j-1], order[j]
		}
	}
	node := f.node(base[0], base[1], base[2])
	w := 1 - frac[order[0]]
	for i, v := range f.at(node) {
		out[i] = w * v
	}
	for j, ax := range order {
		node += step[ax]
		w := frac[ax]
		if j < 2 {
			w -= frac[order[j+1]]
		}
		for i, v := range f.at(node) {
			out[i] += float64(w * v)
		}
	}
}

// doubled returns f on twice as fine a grid.
func (f *field) doubled() *field {
	d := newField(2*f.n-1, f.k)
	s := 1 / float64(d.n-1)
	for r := 0; r < d.n; r++ {
		for g := 0; g < d.n; g++ {
			for b := 0; b < d.n; b++ {
				f.interpolate([3]float64{float64(r) * s, float64(g) * s, float64(b) * s}, d.at(d.node(r, g, b)))
			}
		}
	}
	return d
}

// A fieldSolver solves fields for one model and one reading of the cube.
type fieldSolver struct {
	m           *composite.Model
	inksPerSpot int
	smooth      float64                     // weight of the neighbor term
	target      func(rgb [3]float64) target // what an encoded color asks for
	starts      *startTable                 // nil to be made
	cells       []bool                      // of cellSide a side, those that are looked at; nil for all
	workers     int
}

// fieldMargin is how many nodes around the cells that are looked at are solved
// with them, so that those feel neighbors as the whole field would have them.
const fieldMargin = 2

// used marks the nodes of a grid of n a side that are to be solved: all but on
// the finest grid.
func (fs *fieldSolver) used(n int) []bool {
	on := make([]bool, n*n*n)
	if fs.cells == nil || n != cellSide+1 {
		for i := range on {
			on[i] = true
		}
		return on
	}
	for i, used := range fs.cells {
		if used {
			on[(i/(cellSide*cellSide)*n+i/cellSide%cellSide)*n+i%cellSide] = true
		}
	}
	// From its lower node a cell reaches to the upper one, and the margin.
	for _, step := range [3]int{n * n, n, 1} {
		was := slices.Clone(on)
		for i, used := range was {
			if used {
				at := i / step % n
				for d := max(-fieldMargin, -at); d <= min(fieldMargin+1, n-1-at); d++ {
					on[i+d*step] = true
				}
			}
		}
	}
	return on
}

// weightNeighbor is the cost of one unit of coverage off the mean of two
// opposite neighbors, squared, in ΔE00², at smooth = 1.
const weightNeighbor = 700

// weightAgree is the cost of a difference between neighbors, squared, while
// one of several local answers is picked on the coarsest grid. It breaks ties;
// a clearly cheaper answer wins.
const weightAgree = 20

// weightBranch holds a refined color to the branch of the field it comes from.
const weightBranch = 30

// weightLoose is weightBranch for the nodes of more inks than a spot may hold:
// the full prices have drawn them further from their colors.
const weightLoose = 10

// solve returns the field on a grid of 2^levels·8+1 nodes a side.
func (fs *fieldSolver) solve(levels int) *field {
	const n0 = 9
	k := fs.m.Inks()
	starts := fs.starts
	if starts == nil {
		starts = newStartTable(fs.m)
	}
	on := fs.used(n0)
	targets := fs.targets(n0, on)
	// A node's neighbors make good what a coarse table misses.
	coarse := newStarts(fs.m, []int{0, 9, 5, 4, 4, 3, 3, 3, 3}[k])
	coarse.price = starts.price
	all := make([][]candidate, n0*n0*n0)
	fs.parallel(len(all), func() func(int) {
		s := newSolver(fs.m, fs.inksPerSpot, coarse).steer()
		return func(i int) { all[i] = s.candidates(&targets[i], 6, 8) }
	})
	f := newField(n0, k)
	for i := range all {
		copy(f.at(i), all[i][0].c[:k])
	}
	if fs.smooth > 0 {
		fs.agree(f, all)
	}
	fs.relax(f, targets, on, starts, 12)
	for l := 0; l < levels; l++ {
		f = f.doubled()
		on = fs.used(f.n)
		targets = fs.targets(f.n, on)
		fs.relax(f, targets, on, starts, 4)
	}
	if fs.smooth > 0 {
		fs.polish(f, targets, on, starts)
	}
	return f
}

// polish gives back the color that smoothing cost: each node goes to its
// target, held to where it is in the directions in which color does not decide.
func (fs *fieldSolver) polish(f *field, targets []target, on []bool, starts *startTable) {
	fs.parallel(len(targets), func() func(int) {
		s := newSolver(fs.m, fs.inksPerSpot, starts).hold()
		return func(i int) {
			if !on[i] {
				return
			}
			c := f.at(i)
			p := pull{weight: fs.smooth * weightBranch}
			if firm(f.k, fs.inksPerSpot) {
				p.weight = fs.smooth * weightLoose
			}
			copy(p.to[:], c)
			s.descend(c, &targets[i], &p, 8)
			s.thin(c, &targets[i], p.weight)
		}
	})
}

// agree picks one of the local answers of each node so that neighbors are
// alike: each node in turn takes the answer of least cost, until none changes.
func (fs *fieldSolver) agree(f *field, all [][]candidate) {
	k := f.k
	for sweep := 0; sweep < 20; sweep++ {
		changed := false
		for node := range all {
			if len(all[node]) == 1 {
				continue
			}
			best, at := math.Inf(1), 0
			for j := range all[node] {
				c := &all[node][j]
				cost := c.cost
				f.neighbors(node, func(other int) {
					o := f.at(other)
					for i := 0; i < k; i++ {
						cost += fs.smooth * weightAgree * (c.c[i] - o[i]) * (c.c[i] - o[i])
					}
				})
				if cost < best-1e-9 {
					best, at = cost, j
				}
			}
			if apart(f.at(node), all[node][at].c[:k]) > 0 {
				copy(f.at(node), all[node][at].c[:k])
				changed = true
			}
		}
		if !changed {
			return
		}
	}
}

// neighbors calls do for each of the up to six neighbors of node.
func (f *field) neighbors(node int, do func(int)) {
	n := f.n
	step := [3]int{n * n, n, 1}
	pos := [3]int{node / (n * n), node / n % n, node % n}
	for ax, p := range pos {
		if p > 0 {
			do(node - step[ax])
		}
		if p < n-1 {
			do(node + step[ax])
		}
	}
}

// settled is how far a node may have moved and be left alone, if its neighbors are too.
const settled = 1e-3

// relax lowers the cost of the whole field, node by node: the nodes whose
// indices sum to even, then those that sum to odd, so that each step sees only
// nodes that do not change in it and the result is the same for any number of
// workers.
func (fs *fieldSolver) relax(f *field, targets []target, on []bool, starts *startTable, sweeps int) {
	n, k := f.n, f.k
	step := [3]int{n * n, n, 1}
	half := (n*n*n + 1) / 2
	// A kink's second difference grows with the spacing of the nodes.
	spacing := 32 / float64(n-1)
	weight := fs.smooth * weightNeighbor / (3 * spacing * spacing)
	moved := make([]float64, n*n*n) // by each node when it was last looked at
	for i := range moved {
		moved[i] = 1
	}
	for sweep := 0; sweep < sweeps; sweep++ {
		for parity := 0; parity < 2; parity++ {
			fs.parallel(half, func() func(int) {
				s := newSolver(fs.m, fs.inksPerSpot, starts).steer()
				return func(i int) {
					// n is odd, so the parity of the index is that of r+g+b,
					// and every neighbor's is the other one.
					node := 2*i + parity
					if node >= n*n*n || !on[node] {
						return
					}
					pos := [3]int{node / (n * n), node / n % n, node % n}
					var p pull
					axes, stirred := 0.0, moved[node]
					for ax, at := range pos {
						if at == 0 || at == n-1 {
							continue
						}
						a, b := f.at(node-step[ax]), f.at(node+step[ax])
						stirred = max(stirred, moved[node-step[ax]], moved[node+step[ax]])
						for i := 0; i < k; i++ {
							p.to[i] += (a[i] + b[i]) / 2
						}
						axes++
					}
					// The gray diagonal, along which a ramp must stay smooth.
					if lo, hi := min(pos[0], pos[1], pos[2]), max(pos[0], pos[1], pos[2]); lo > 0 && hi < n-1 {
						d := step[0] + step[1] + step[2]
						a, b := f.at(node-d), f.at(node+d)
						stirred = max(stirred, moved[node-d], moved[node+d])
						for i := 0; i < k; i++ {
							p.to[i] += (a[i] + b[i]) / 2
						}
						axes++
					}
					if stirred < settled {
						return
					}
					if axes > 0 {
						for i := range p.to {
							p.to[i] /= axes
						}
					}
					p.weight = weight * axes
					c := f.at(node)
					var was [maxInks]float64
					copy(was[:], c)
					s.descend(c, &targets[node], &p, 2)
					moved[node] = apart(c, was[:k])
				}
			})
		}
	}
}

func (fs *fieldSolver) targets(n int, on []bool) []target {
	t := make([]target, n*n*n)
	s := 1 / float64(n-1)
	fs.parallel(len(t), func() func(int) {
		return func(i int) {
			if on[i] {
				t[i] = fs.target([3]float64{float64(i/(n*n)) * s, float64(i/n%n) * s, float64(i%n) * s})
			}
		}
	})
	return t
}

// parallel runs over 0 … n−1 with the solver's workers.
func (fs *fieldSolver) parallel(n int, worker func() func(int)) { parallel(n, fs.workers, worker) }

// parallel runs the function that each worker makes over 0 … n−1.
func parallel(n, workers int, worker func() func(int)) {
	const chunk = 64
	var next atomic.Int64
	parallelWorkers(min(cores(workers), (n+chunk-1)/chunk), func() {
		do := worker()
		for {
			hi := int(next.Add(chunk))
			if hi-chunk >= n {
				return
			}
			for i := hi - chunk; i < min(hi, n); i++ {
				do(i)
			}
		}
	})
}

func cores(workers int) int {
	if workers <= 0 {
		return runtime.GOMAXPROCS(0)
	}
	return workers
}

// parallelWorkers runs work in that many goroutines, one a core for 0, and
// waits for them.
func parallelWorkers(workers int, work func()) {
	workers = cores(workers)
	if workers == 1 {
		work()
		return
	}
	var wg sync.WaitGroup
	for range workers {
		wg.Go(work)
	}
	wg.Wait()
}
