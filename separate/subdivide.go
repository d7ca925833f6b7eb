package separate

import (
	"math"
	"sort"

	"platewright/composite/spectrum"
)

// Cells whose middle is off by more than these are subdivided.
const (
	cellColor    = .25 // ΔE00 lost by interpolating
	cellCoverage = .03
	cellCrowd    = .02  // of inks beyond the cap
	cellLimit    = 6000 // subdivided cells at most; the worst come first
)

// subdivide refines, in t, the cells of the picture's colors in which straight
// interpolation is off: where inks switch or reach their bounds. A node that a
// coarse cell shares keeps the coarse value, so that no seam opens.
func (e *engine) subdivide(f *field, t *table) {
	n := f.n - 1
	type bad struct {
		cell int
		by   float64
	}
	var found []bad
	var cells []int
	for i, used := range e.pal.cells {
		if used {
			cells = append(cells, i)
		}
	}
	off := make([]float64, len(cells))
	parallel(len(cells), e.opt.Workers, func() func(int) {
		s := newSolver(e.m, e.opt.inksPerSpot(), e.starts).hold()
		mid, c := make([]float64, f.k), make([]float64, f.k)
		return func(i int) {
			v := cellPoint(cells[i], n, .5, .5, .5)
			f.interpolate(v, mid)
			copy(c, mid)
			tg := e.read.target(v)
			p := pull{weight: weightBranch * e.opt.smooth()}
			copy(p.to[:], mid)
			s.descend(c, &tg, &p, 6)
			lost := math.Sqrt(s.distance2(mid, &tg)) - math.Sqrt(s.distance2(c, &tg))
			off[i] = math.Max(lost/cellColor, apart(mid, c)/cellCoverage)
			for corner := range 8 {
				at := func(bit int) float64 { return .25 + .5*float64(corner>>bit&1) }
				f.interpolate(cellPoint(cells[i], n, at(0), at(1), at(2)), c)
				if firm(f.k, s.cap) {
					_, over := s.beyond(c)
					off[i] = math.Max(off[i], over/cellCrowd)
				}
			}
		}
	})
	for i, by := range off {
		if by > 1 {
			found = append(found, bad{cells[i], by})
		}
	}
	if len(found) == 0 {
		return
	}
	sort.SliceStable(found, func(a, b int) bool { return found[a].by > found[b].by })
	found = found[:min(len(found), cellLimit)]
	sub := t.sub
	for i, b := range found {
		sub[f.node(b.cell/(n*n), b.cell/n%n, b.cell%n)] = uint16(i + 1)
	}
	for w := range t.fine {
		if t.node[w] != nil {
			t.fine[w] = make([]fineCell, len(found))
		}
	}
	set := func(i, node int, c []float64) {
		for w := range t.fine {
			if t.fine[w] != nil {
				cell := &t.fine[w][i]
				cell.even[node], cell.odd[node] = pack(c, w)
			}
		}
	}
	// Each cell solves its nodes but those at its upper ends, which are the
	// next cells' and are taken from them where those are subdivided.
	parallel(len(found), e.opt.Workers, func() func(int) {
		s := newSolver(e.m, e.opt.inksPerSpot(), e.starts).hold()
		c := make([]float64, f.k)
		return func(i int) {
			cell := found[i].cell
			at := [3]int{cell / (n * n), cell / n % n, cell % n}
			for node := 0; node < fineNodes; node++ {
				in := fineNode(node)
				if owner, _ := fineOwner(at, in, n); owner != at {
					continue
				}
				v := cellPoint(cell, n, float64(in[0])/divide, float64(in[1])/divide, float64(in[2])/divide)
				f.interpolate(v, c)
				if sharedBySubdivided(f, sub, at, in) {
					tg := e.read.target(v)
					p := pull{weight: weightBranch * e.opt.smooth()}
					copy(p.to[:], c)
					s.descend(c, &tg, &p, 4)
					s.thin(c, &tg, p.weight)
				}
				set(i, node, c)
			}
		}
	})
	parallel(len(found), e.opt.Workers, func() func(int) {
		c := make([]float64, f.k)
		return func(i int) {
			cell := found[i].cell
			for node := 0; node < fineNodes; node++ {
				in := fineNode(node)
				owner, from := fineOwner([3]int{cell / (n * n), cell / n % n, cell % n}, in, n)
				if from == in {
					continue
				}
				if next := sub[f.node(owner[0], owner[1], owner[2])]; next != 0 {
					other := (from[0]*fineSide+from[1])*fineSide + from[2]
					for w := range t.fine {
						if t.fine[w] != nil {
							to, of := &t.fine[w][i], &t.fine[w][next-1]
							to.even[node], to.odd[node] = of.even[other], of.odd[other]
						}
					}
					continue
				}
				f.interpolate(cellPoint(cell, n, float64(in[0])/divide, float64(in[1])/divide, float64(in[2])/divide), c)
				set(i, node, c)
			}
		}
	})
}

// fineOwner returns the cell that a node at in of the cell at belongs to, and its
// place there: nodes at upper ends are the next cells', of n a side.
func fineOwner(at, in [3]int, n int) (owner, place [3]int) {
	for ax := range in {
		if in[ax] == divide && at[ax] < n-1 {
			at[ax], in[ax] = at[ax]+1, 0
		}
	}
	return at, in
}

// fineNode is the place of a node in a subdivided cell, 0 … divide an axis.
func fineNode(node int) [3]int {
	return [3]int{node / (fineSide * fineSide), node / fineSide % fineSide, node % fineSide}
}

// cellPoint returns the encoded color in a cell of a grid of n cells a side.
func cellPoint(cell, n int, r, g, b float64) [3]float64 {
	s := 1 / float64(n)
	return [3]float64{(float64(cell/(n*n)) + r) * s, (float64(cell/n%n) + g) * s, (float64(cell%n) + b) * s}
}

// sharedBySubdivided reports whether every cell that has the fine node in of
// the cell at is subdivided.
func sharedBySubdivided(f *field, sub *[1 << 16]uint16, at, in [3]int) bool {
	var lo, hi [3]int
	for ax := range at {
		lo[ax], hi[ax] = at[ax], at[ax]
		if in[ax] == 0 {
			lo[ax] = max(0, at[ax]-1)
		}
		if in[ax] == divide {
			hi[ax] = min(f.n-2, at[ax]+1)
		}
	}
	for r := lo[0]; r <= hi[0]; r++ {
		for g := lo[1]; g <= hi[1]; g++ {
			for b := lo[2]; b <= hi[2]; b++ {
				if sub[f.node(r, g, b)] == 0 {
					return false
				}
			}
		}
	}
	return true
}

// latticeError compares the lattice with the refined answer on up to 2,000 of
// the picture's colors.
func (e *engine) latticeError(f *field, t *table) {
	const most = 2000
	stride := max(1, len(e.pal.colors)/most)
	n := (len(e.pal.colors) + stride - 1) / stride
	de := make([]float64, n)
	sq := make([]float64, n)
	parallel(n, e.opt.Workers, func() func(int) {
		s := newSolver(e.m, e.opt.inksPerSpot(), e.starts).hold()
		a, b := make([]float64, f.k), make([]float64, f.k)
		return func(i int) {
			rgb := e.pal.colors[i*stride]
			t.at(rgb, a)
			e.refine(s, f, rgb, b)
			de[i] = spectrum.DeltaE(s.e.XYZ(a).Lab(), s.e.XYZ(b).Lab())
			for j := range a {
				sq[i] += (a[j] - b[j]) * (a[j] - b[j])
			}
		}
	})
	sum, sumSq := 0.0, 0.0
	for i := range de {
		sum += de[i]
		sumSq += sq[i]
	}
	sort.Float64s(de)
	fit := &e.res.Fit
	fit.LatticeDE = sum / float64(n)
	fit.LatticeDE99 = percentile(de, .99)
	fit.LatticePercent = 100 * math.Sqrt(sumSq/float64(n*f.k))
}

// percentile returns the value below which the share q of sorted values lies.
func percentile(sorted []float64, q float64) float64 {
	if len(sorted) == 0 {
		return 0
	}
	return sorted[min(len(sorted)-1, int(math.Ceil(q*float64(len(sorted))))-1)]
}
