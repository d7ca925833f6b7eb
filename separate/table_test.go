package separate

import (
	"math"
	"math/rand"
	"testing"
)

// A table gives what its field gives, for every number of inks.
func TestTableAgreesWithField(t *testing.T) {
	rng := rand.New(rand.NewSource(1))
	for k := 1; k <= 8; k++ {
		f := newField(17, k)
		for i := range f.cov {
			f.cov[i] = rng.Float64()
		}
		tab := newTable(f, 3)
		planes := make([][]uint16, k)
		for i := range planes {
			planes[i] = make([]uint16, 200)
		}
		pix := make([]uint8, 600)
		rng.Read(pix)
		copy(pix, []uint8{255, 255, 255, 0, 0, 0, 255, 0, 128})
		tab.row8(pix, planes, nil)
		want, got := make([]float64, k), make([]float64, k)
		for i := 0; i < 200; i++ {
			p := pix[3*i : 3*i+3]
			f.interpolate([3]float64{float64(p[0]) / 255, float64(p[1]) / 255, float64(p[2]) / 255}, want)
			tab.at([3]uint16{uint16(p[0]) * 257, uint16(p[1]) * 257, uint16(p[2]) * 257}, got)
			for j := range want {
				v := float64(planes[j][i]) / 65535
				if math.Abs(v-want[j]) > 1e-4 || math.Abs(got[j]-want[j]) > 1e-4 {
					t.Fatalf("%d inks, color %v, ink %d: row %.5f, at %.5f, field %.5f", k, p, j, v, got[j], want[j])
				}
			}
		}
	}
}

// Rows of 8 and of 16 bits, blocks and runs, and single colors all give the same
// bits, in subdivided cells too.
func TestTableRowsAreEqual(t *testing.T) {
	rng := rand.New(rand.NewSource(2))
	for k := 1; k <= 8; k++ {
		f := newField(33, k)
		for i := range f.cov {
			f.cov[i] = rng.Float64()
		}
		tab := newTable(f, 3)
		for cell := range 20 {
			at := rng.Intn(33 * 33 * 33)
			if cell < 6 { // where the ends and the middle of the scale are
				at = [...]int{0, 31, 31 * 33, 31*33*33 + 31*33 + 31, 16*33*33 + 16*33 + 16, 16*33*33 + 31}[cell]
			}
			tab.sub[at] = uint16(cell + 1)
			for w := range tab.fine {
				if tab.node[w] == nil {
					continue
				}
				var fine fineCell
				for i := range fineNodes {
					fine.even[i], fine.odd[i] = rng.Uint64()&0x0000ffff0000ffff, rng.Uint64()&0x0000ffff0000ffff
				}
				tab.fine[w] = append(tab.fine[w], fine)
			}
		}
		for _, n := range []int{1, 3, block - 1, block, 3*block + 77} {
			for _, run := range []int{1, 9} {
				pix, wide := make([]uint8, 3*n), make([]uint16, 3*n)
				for i := range pix {
					pix[i] = uint8(rng.Intn(256))
					if x := i / 3; x%run > 0 {
						pix[i] = pix[i-3]
					} else if x%5 == 0 { // in a subdivided cell, or at an end
						pix[i] = []uint8{0, 255, 128}[rng.Intn(3)]
					}
					wide[i] = uint16(pix[i]) * 257
				}
				rows, rows16 := planesOf(k, n), planesOf(k, n)
				tab.row8(pix, rows, nil)
				tab.row16(wide, rows16)
				one := make([]float64, k)
				for i := range n {
					tab.at([3]uint16(wide[3*i:]), one)
					for j := range k {
						if a, b, c := rows[j][i], rows16[j][i], uint16(one[j]*65535+.5); a != b || a != c {
							t.Fatalf("%d inks, %d pixels in runs of %d, pixel %d, ink %d: %d in a row, %d in 16 bits, %d alone", k, n, run, i, j, a, b, c)
						}
					}
				}
			}
		}
	}
}

func planesOf(k, n int) [][]uint16 {
	p := make([][]uint16, k)
	for i := range p {
		p[i] = make([]uint16, n)
	}
	return p
}
