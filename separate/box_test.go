package separate

import (
	"encoding/json"
	"math"
	"os"
	"testing"
)

// Box-constrained least squares against the answers of SciPy 1.10.1
// (scipy.optimize.lsq_linear on random problems; testdata/SOURCES.md). Where
// the minimum is not unique the residuals are compared.
func TestBoxAgainstSciPy(t *testing.T) {
	data, err := os.ReadFile("../testdata/vectors/scipy_nnls_box_cases.json")
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Cases []struct {
			N      int         `json:"n"`
			A      [][]float64 `json:"A"`
			B      []float64   `json:"b"`
			X      []float64   `json:"box01_x"`
			Resid  float64     `json:"box01_resid"`
			Unique bool        `json:"unique"`
		} `json:"cases"`
	}
	if err := json.Unmarshal(data, &file); err != nil {
		t.Fatal(err)
	}
	tested := 0
	for n, c := range file.Cases {
		if c.N > maxInks {
			continue
		}
		tested++
		q := quadratic{k: c.N}
		for i := 0; i < c.N; i++ {
			for r := range c.A {
				q.g[i] -= c.A[r][i] * c.B[r]
				for j := 0; j < c.N; j++ {
					q.h[i*maxInks+j] += c.A[r][i] * c.A[r][j]
				}
			}
			q.h[i*maxInks+i] += 1e-11
		}
		var x, lo, hi [maxInks]float64
		for i := range hi {
			hi[i], x[i] = 1, .5
		}
		q.minimize(&x, &lo, &hi)
		resid := 0.0
		for r := range c.A {
			d := -c.B[r]
			for i := 0; i < c.N; i++ {
				d += c.A[r][i] * x[i]
			}
			resid += d * d
		}
		if resid = math.Sqrt(resid); resid > c.Resid+1e-5 {
			t.Errorf("case %d: residual %.8f, SciPy %.8f", n, resid, c.Resid)
		}
		for i := 0; c.Unique && i < c.N; i++ {
			if math.Abs(x[i]-c.X[i]) > 1e-4 {
				t.Errorf("case %d: x[%d] = %.6f, SciPy %.6f", n, i, x[i], c.X[i])
			}
		}
	}
	if tested < 50 {
		t.Fatalf("only %d cases fit", tested)
	}
}
