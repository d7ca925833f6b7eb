package separate

import (
	"math"

	"platewright/composite"
	"platewright/composite/spectrum"
)

// prices returns what each ink costs. With more than three inks a color has
// many answers, along the directions in which coverage changes and color does
// not. A price that falls along them in one sense all over picks the same end
// of them everywhere, so that plates do not jump from one end to the other
// between two colors.
func prices(m *composite.Model, t *startTable) (price [maxInks]float64) {
	k := m.Inks()
	for i := 0; i < k; i++ {
		price[i] = weightInk
	}
	if k <= 3 {
		return price
	}
	// The rows of the Jacobian at colors inside the cube of coverages, where
	// all inks can go both ways.
	s := solver{e: m.NewEvaluator(), k: k}
	rows := make([][3][maxInks]float64, len(t.lab))
	c := make([]float64, k)
	for j := range rows {
		for i := range c {
			c[i] = .1 + .8*t.cov[j*k+i]
		}
		rows[j] = s.rowsAt(c)
	}
	w, ok := [maxInks]float64{}, false
	if k == 4 {
		w, ok = steepest(rows)
	}
	if !ok {
		w = meanIdle(rows, k)
	}
	for i := 0; i < k; i++ {
		price[i] += weightEnd * w[i]
	}
	return price
}

// rowsAt returns the Jacobian at c in ΔE00.
func (s *solver) rowsAt(c []float64) [3][maxInks]float64 {
	var jac [maxInks]spectrum.Lab
	t := newTarget(s.labJacobian(c, &jac))
	return weightedRows(&jac, &t, s.k)
}

// minors returns the direction, of length 1, in which four inks change and the
// color does not, in the sense of the minors of rows, which does not turn
// around from color to color.
func minors(rows *[3][maxInks]float64) (n [4]float64) {
	sum := 0.0
	for i := range n {
		var m [3][3]float64
		for r := range m {
			copy(m[r][:], rows[r][:i])
			copy(m[r][i:], rows[r][i+1:4])
		}
		d := m[0][0]*(m[1][1]*m[2][2]-m[1][2]*m[2][1]) - m[0][1]*(m[1][0]*m[2][2]-m[1][2]*m[2][0]) + m[0][2]*(m[1][0]*m[2][1]-m[1][1]*m[2][0])
		n[i] = d * float64(1-2*(i&1))
		sum += n[i] * n[i]
	}
	if sum > 0 {
		for i := range n {
			n[i] /= math.Sqrt(sum)
		}
	}
	return n
}

// steepest returns, for four inks, the price of length 1 without a negative one
// whose least slope along the idle directions is largest, by Gilbert's
// algorithm, and false where any price is level somewhere.
func steepest(rows [][3][maxInks]float64) (best [maxInks]float64, ok bool) {
	idle := make([][4]float64, len(rows))
	for j := range rows {
		idle[j] = minors(&rows[j])
	}
	most := .05
	for _, sense := range []float64{1, -1} {
		var w [4]float64
		for round := 1.0; round <= 400; round++ {
			worst, at := math.Inf(1), 0
			for j, n := range idle {
				if d := sense * (w[0]*n[0] + w[1]*n[1] + w[2]*n[2] + w[3]*n[3]); d < worst {
					worst, at = d, j
				}
			}
			norm := math.Sqrt(w[0]*w[0] + w[1]*w[1] + w[2]*w[2] + w[3]*w[3])
			if norm > 0 && worst/norm > most {
				most, ok = worst/norm, true
				for i := range w {
					best[i] = w[i] / norm
				}
			}
			for i := range w {
				w[i] = math.Max(0, w[i]+(sense*idle[at][i]-w[i])/round)
			}
		}
	}
	return best, ok
}

// meanIdle returns the mean of v·v' over the print, v the idle directions,
// applied to "all inks": toward less ink. It is made free of negative prices.
func meanIdle(rows [][3][maxInks]float64, k int) (w [maxInks]float64) {
	var all [maxInks]float64
	for i := 0; i < k; i++ {
		all[i] = 1
	}
	for j := range rows {
		p := offRows(all, rows[j], k)
		for i := range p {
			w[i] += p[i]
		}
	}
	norm := math.Sqrt(inner(&w, &w, k))
	if norm == 0 {
		return w
	}
	least := math.Inf(1)
	for i := 0; i < k; i++ {
		least = math.Min(least, w[i])
	}
	for i := 0; i < k; i++ {
		w[i] = (w[i] - least) / norm
	}
	return w
}

// weightedRows returns the Jacobian at a color that t wants, with rows scaled
// so that a step of one is one ΔE00.
func weightedRows(jac *[maxInks]spectrum.Lab, t *target, k int) (rows [3][maxInks]float64) {
	slope := t.slope(t.lab, [3]float64{})
	for i := 0; i < k; i++ {
		for j, v := range toResidual(&slope, jac[i]) {
			rows[j][i] = v
		}
	}
	return rows
}

// toResidual turns a small step in CIELAB into one of the residual.
func toResidual(slope *[3][3]float64, d spectrum.Lab) (r [3]float64) {
	for j := range r {
		r[j] = float64(slope[0][j]*d[0]) + float64(slope[1][j]*d[1]) + float64(slope[2][j]*d[2])
	}
	return r
}

// offRows removes from p what the rows span, by Gram–Schmidt.
func offRows(p [maxInks]float64, rows [3][maxInks]float64, k int) [maxInks]float64 {
	for r := range rows {
		for q := 0; q < r; q++ {
			d := inner(&rows[r], &rows[q], k)
			for i := 0; i < k; i++ {
				rows[r][i] -= d * rows[q][i]
			}
		}
		n := math.Sqrt(inner(&rows[r], &rows[r], k))
		if n < 1e-6 {
			n = math.Inf(1)
		}
		for i := 0; i < k; i++ {
			rows[r][i] /= n
		}
		d := inner(&p, &rows[r], k)
		for i := 0; i < k; i++ {
			p[i] -= d * rows[r][i]
		}
	}
	return p
}

func inner(a, b *[maxInks]float64, k int) float64 {
	s := 0.0
	for i := 0; i < k; i++ {
		s += float64(a[i] * b[i])
	}
	return s
}
