package composite

import (
	"math"

	"platewright/composite/internal/cholesky"
	"platewright/composite/spectrum"
)

// midtone is a measured color of inks over each other of which one or more are
// tints.
type midtone struct {
	film  []float64 // coverage of each ink on its film, 0 … 1
	color spectrum.XYZ
}

// midtones returns the measured tints of overlaps that hold for this print.
func (st *stack) midtones() []midtone {
	var out []midtone
	for n := range st.shelf.Overprints {
		o := &st.shelf.Overprints[n]
		if o.Solid() {
			continue
		}
		if _, ok := st.mask(o); !ok {
			continue
		}
		t := midtone{make([]float64, len(st.uses)), o.Color}
		for k, name := range o.Inks {
			i, err := st.shelf.Ink(name)
			if err != nil {
				continue
			}
			for u, use := range st.uses {
				if use == i {
					t.film[u] = o.Film[k] / 100
				}
			}
		}
		out = append(out, t)
	}
	return out
}

// midtoneRidge keeps bends small where measured tints lie so close to each other
// that they would ask for opposite ones. It takes a thousandth of any bend.
const midtoneRidge = 1e-3

// bend lets m meet measured tints of overlaps. Beside 1−a and a, an ink gets a
// third weight 4a(1−a), which is 0 without ink and on solids and 1 where half the
// paper is covered, so that the sum runs over 3^k corners: paper, solid or
// middle of each ink. The color of a middle is not what is printed there but
// what the print departs from the sum of the corners around it (hierarchical
// basis, Yserentant 1986; it is a cellular Neugebauer model of one middle level,
// in which what is not measured bends nothing). What
// several tints of the same corner ask for is met in the mean.
func (m *Model) bend(tints []midtone) {
	if len(tints) == 0 {
		return
	}
	radix := make([]int, m.k)
	for i := range radix {
		radix[i] = 2
		for _, t := range tints {
			if middle(t.film[i]) {
				radix[i] = 3
			}
		}
	}
	place := func(digit func(i int) int) int {
		at, step := 0, 1
		for i, r := range radix {
			at += digit(i) * step
			step *= r
		}
		return at
	}
	var corners []int // of the unknown bends
	var digits [][]int
	seen := map[int]bool{}
	for _, t := range tints {
		d := make([]int, m.k)
		for i, f := range t.film {
			switch {
			case middle(f):
				d[i] = 2
			case f == 1:
				d[i] = 1
			}
		}
		if at := place(func(i int) int { return d[i] }); !seen[at] {
			seen[at] = true
			corners, digits = append(corners, at), append(digits, d)
		}
	}
	size := 1
	for _, r := range radix {
		size *= r
	}
	e := m.NewEvaluator()
	var roots [3][]float64
	for c := range roots {
		roots[c] = make([]float64, size)
		for p, v := range m.root[c] {
			roots[c][place(func(i int) int { return p >> i & 1 })] = v
		}
		n := len(corners)
		normal, right := make([]float64, n*n), make([]float64, n)
		row := make([]float64, n)
		for _, t := range tints {
			was := e.XYZ(t.film)
			miss := math.Pow(math.Max(t.color[c], 0), 1/m.n) - math.Pow(math.Max(was[c], 0), 1/m.n)
			for j, d := range digits {
				row[j] = 1
				for i, v := range d {
					a := e.a[c][i]
					row[j] *= [3]float64{1 - a, a, 4 * a * (1 - a)}[v]
				}
			}
			for j, x := range row {
				right[j] += x * miss
				for l, y := range row {
					normal[j*n+l] += x * y
				}
			}
		}
		for j := range n {
			normal[j*n+j] += midtoneRidge
		}
		cholesky.Solve(normal, right)
		for j, at := range corners {
			roots[c][at] = right[j]
		}
	}
	m.root, m.radix = roots, radix
}

func middle(film float64) bool { return film > 0 && film < 1 }

// The sum over 3^k corners, fold by fold from the last ink to the first. mixed
// and mixedJacobian are XYZ and XYZJacobian of a Model that is bent.

// mixed returns the root of channel c.
func (e *Evaluator) mixed(c int) float64 {
	m := e.m
	half := len(m.root[c])
	src := m.root[c]
	dst := e.wide
	for i := m.k - 1; i >= 0; i-- {
		half /= m.radix[i]
		a := e.a[c][i]
		if m.radix[i] == 2 {
			for j := range half {
				dst[j] = src[j] + float64(a*(src[j+half]-src[j]))
			}
		} else {
			b := 4 * a * (1 - a)
			for j := range half {
				dst[j] = src[j] + float64(a*(src[j+half]-src[j])) + float64(b*src[j+2*half])
			}
		}
		src = dst
	}
	return math.Max(dst[0], 0)
}

// mixedJacobian returns the root of channel c; slope gets its derivatives by
// the inks' printed coverages in that channel.
func (e *Evaluator) mixedJacobian(c int, slope *[MaxInks]float64) float64 {
	m := e.m
	// The values of level i, folded down to the first i inks, begin at start[i].
	var start [MaxInks + 1]int
	size, at := 1, 0
	for i := 0; i <= m.k; i++ {
		start[i] = at
		at += size
		if i < m.k {
			size *= m.radix[i]
		}
	}
	copy(e.wide[start[m.k]:], m.root[c])
	h := size
	for i := m.k - 1; i >= 0; i-- {
		h /= m.radix[i]
		a := e.a[c][i]
		up, down := e.wide[start[i+1]:], e.wide[start[i]:]
		for j := range h {
			down[j] = up[j] + float64(a*(up[j+h]-up[j]))
		}
		if m.radix[i] == 3 {
			b := 4 * a * (1 - a)
			for j := range h {
				down[j] += float64(b * up[j+2*h])
			}
		}
	}
	e.wideAdj[0] = 1
	h = 1
	for i := 0; i < m.k; i++ {
		a := e.a[c][i]
		up, adown, aup := e.wide[start[i+1]:], e.wideAdj[start[i]:], e.wideAdj[start[i+1]:]
		g := 0.0
		for j := range h {
			d := adown[j]
			g += float64(d * (up[j+h] - up[j]))
			aup[j] = d - float64(d*a)
			aup[j+h] = d * a
		}
		if m.radix[i] == 3 {
			b, db := 4*a*(1-a), 4-8*a
			for j := range h {
				d := adown[j]
				g += float64(d * db * up[j+2*h])
				aup[j+2*h] = d * b
			}
		}
		slope[i] = g
		h *= m.radix[i]
	}
	if e.wide[0] < 0 {
		*slope = [MaxInks]float64{}
		return 0
	}
	return e.wide[0]
}

// wideSize is the workspace of the folds of a bent model: all levels.
func (m *Model) wideSize() int {
	size, all := 1, 1
	for _, r := range m.radix {
		size *= r
		all += size
	}
	return all
}
