package separate

import "math"

const maxInks = 8

// A quadratic is ½x'Hx + g'x over k variables, H symmetric and positive
// definite, row-major with stride maxInks.
type quadratic struct {
	k int
	h [maxInks * maxInks]float64
	g [maxInks]float64

	l [maxInks * maxInks]float64 // Cholesky factor of the free part
}

// minimize finds the minimum of q within lo ≤ x ≤ hi, exactly, by a primal
// active-set method (bounded least squares after Stark and Parker 1995). x
// enters as a feasible start and leaves as the minimum; a start on the right
// bounds makes it quick.
func (q *quadratic) minimize(x, lo, hi *[maxInks]float64) {
	k := q.k
	var bound [maxInks]int8 // −1 at lo, +1 at hi, 0 free
	var grad, step [maxInks]float64
	for i := 0; i < k; i++ {
		switch {
		case x[i] <= lo[i]:
			x[i], bound[i] = lo[i], -1
		case x[i] >= hi[i]:
			x[i], bound[i] = hi[i], 1
		}
	}
	// Each round either frees the worst variable or fixes one, and the value
	// falls; the count is a safety against rounding.
	for round := 0; round < 8*maxInks; round++ {
		for i := 0; i < k; i++ {
			s := q.g[i]
			for j := 0; j < k; j++ {
				s += float64(q.h[i*maxInks+j] * x[j])
			}
			grad[i] = s
		}
		var free [maxInks]int
		n := 0
		for i := 0; i < k; i++ {
			if bound[i] == 0 {
				free[n] = i
				n++
			}
		}
		blocked := false
		if n > 0 && q.solve(free[:n], &grad, &step) {
			t, hit := 1.0, -1
			for f := 0; f < n; f++ {
				i := free[f]
				if v := x[i] + step[f]; v < lo[i] {
					if r := (lo[i] - x[i]) / step[f]; r < t {
						t, hit = r, i
					}
				} else if v > hi[i] {
					if r := (hi[i] - x[i]) / step[f]; r < t {
						t, hit = r, i
					}
				}
			}
			moved := 0.0
			for f := 0; f < n; f++ {
				d := float64(t * step[f])
				x[free[f]] += d
				moved = math.Max(moved, math.Abs(d))
			}
			if hit >= 0 {
				if step[indexOf(free[:n], hit)] < 0 {
					x[hit], bound[hit] = lo[hit], -1
				} else {
					x[hit], bound[hit] = hi[hit], 1
				}
				blocked = true
			} else if moved > 1e-12 {
				for i := 0; i < k; i++ {
					s := q.g[i]
					for j := 0; j < k; j++ {
						s += float64(q.h[i*maxInks+j] * x[j])
					}
					grad[i] = s
				}
			}
		}
		if blocked {
			continue
		}
		worst, at := 1e-10, -1
		for i := 0; i < k; i++ {
			if bound[i] == 0 || lo[i] == hi[i] {
				continue
			}
			if v := float64(bound[i]) * grad[i]; v > worst {
				worst, at = v, i
			}
		}
		if at < 0 {
			return
		}
		bound[at] = 0
	}
}

func indexOf(s []int, v int) int {
	for i, x := range s {
		if x == v {
			return i
		}
	}
	return -1
}

// solve sets step to the Newton step −H⁻¹·grad over the free variables.
func (q *quadratic) solve(free []int, grad, step *[maxInks]float64) bool {
	n := len(free)
	l := &q.l
	for i := 0; i < n; i++ {
		for j := 0; j <= i; j++ {
			s := q.h[free[i]*maxInks+free[j]]
			for m := 0; m < j; m++ {
				s -= float64(l[i*maxInks+m] * l[j*maxInks+m])
			}
			if i == j {
				if s <= 1e-14 {
					return false
				}
				l[i*maxInks+i] = math.Sqrt(s)
			} else {
				l[i*maxInks+j] = s / l[j*maxInks+j]
			}
		}
	}
	for i := 0; i < n; i++ {
		s := -grad[free[i]]
		for m := 0; m < i; m++ {
			s -= float64(l[i*maxInks+m] * step[m])
		}
		step[i] = s / l[i*maxInks+i]
	}
	for i := n - 1; i >= 0; i-- {
		s := step[i]
		for m := i + 1; m < n; m++ {
			s -= float64(l[m*maxInks+i] * step[m])
		}
		step[i] = s / l[i*maxInks+i]
	}
	return true
}
