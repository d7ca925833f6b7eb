package spectrum

import (
	"math"
	"testing"
)

// The whites of D65 and D50 under the 2° observer (CIE 015): x .3127 y .3290
// and x .3457 y .3585, within .0003 at 10 nm.
func TestWhites(t *testing.T) {
	if len(table) != 41 || table[0].d50 != 24.45 || table[40].d65 != 63.38 && table[40].d65 != 63.4 {
		t.Fatal("the table does not go from 380 to 780 nm")
	}
	for _, tt := range []struct {
		name string
		d65  bool
		x, y float64
	}{{"D65", true, .3127, .3290}, {"D50", false, .3457, .3585}} {
		var c [3]float64
		for _, row := range table {
			s := row.d50
			if tt.d65 {
				s = row.d65
			}
			c[0] += s * row.x
			c[1] += s * row.y
			c[2] += s * row.z
		}
		sum := c[0] + c[1] + c[2]
		if x, y := c[0]/sum, c[1]/sum; math.Abs(x-tt.x) > 3e-4 || math.Abs(y-tt.y) > 3e-4 {
			t.Errorf("%s: x %.4f y %.4f, want %.4f %.4f", tt.name, x, y, tt.x, tt.y)
		}
	}
}

// The bands beyond 730 nm, which a Reflectance lacks, hold little.
func TestBandsLeftOut(t *testing.T) {
	in, out := 0.0, 0.0
	for i, row := range table {
		if i < Bands {
			in += row.d50 * row.y
		} else {
			out += row.d50 * row.y
		}
	}
	if share := out / in; share > .001 {
		t.Errorf("the bands left out hold %.2g of Y", share)
	}
}
