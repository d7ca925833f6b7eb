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
		tab := newTable(f)
		planes := make([][]uint16, k)
		for i := range planes {
			planes[i] = make([]uint16, 200)
		}
		pix := make([]uint8, 600)
		rng.Read(pix)
		copy(pix, []uint8{255, 255, 255, 0, 0, 0, 255, 0, 128})
		tab.row8(pix, planes)
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

func benchmarkRow8(b *testing.B, k int, flat bool) {
	rng := rand.New(rand.NewSource(1))
	f := newField(33, k)
	for i := range f.cov {
		f.cov[i] = rng.Float64()
	}
	tab := newTable(f)
	const n = 1 << 20
	pix := make([]uint8, 3*n)
	for i := 3; i < len(pix); i++ {
		pix[i] = uint8(int(pix[i-3]) + rng.Intn(9) - 4)
		if flat && i/3%64 != 0 {
			pix[i] = pix[i-3]
		}
	}
	planes := make([][]uint16, k)
	for i := range planes {
		planes[i] = make([]uint16, n)
	}
	b.SetBytes(n)
	b.ResetTimer()
	for i := 0; i < b.N; i++ {
		tab.row8(pix, planes)
	}
	b.ReportMetric(float64(b.N)*n/b.Elapsed().Seconds()/1e6, "Mpixel/s")
}

func BenchmarkLatticePhoto4(b *testing.B) { benchmarkRow8(b, 4, false) }
func BenchmarkLatticeFlat4(b *testing.B)  { benchmarkRow8(b, 4, true) }
func BenchmarkLatticePhoto8(b *testing.B) { benchmarkRow8(b, 8, false) }
