// Package cholesky solves small systems of normal equations.
package cholesky

import "math"

// Solve replaces b by the solution of a·x = b, a symmetric and positive
// definite, n × n, row-major and destroyed (Cholesky).
func Solve(a, b []float64) {
	n := len(b)
	for j := range n {
		for k := range j {
			a[j*n+j] -= a[j*n+k] * a[j*n+k]
		}
		a[j*n+j] = math.Sqrt(math.Max(a[j*n+j], 1e-300))
		for i := j + 1; i < n; i++ {
			for k := range j {
				a[i*n+j] -= a[i*n+k] * a[j*n+k]
			}
			a[i*n+j] /= a[j*n+j]
		}
	}
	for i := range n {
		for k := range i {
			b[i] -= a[i*n+k] * b[k]
		}
		b[i] /= a[i*n+i]
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			b[i] -= a[k*n+i] * b[k]
		}
		b[i] /= a[i*n+i]
	}
}
