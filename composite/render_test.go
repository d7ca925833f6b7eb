package composite

import (
	"math"
	"math/rand"
	"testing"

	"platewright/composite/spectrum"
)

// randomModel is a print of k inks with random overprint colors, getting darker
// ink by ink, and curves for every second ink where curved.
func randomModel(t testing.TB, rng *rand.Rand, k int, n float64, curved bool) *Model {
	prim := make([]spectrum.XYZ, 1<<k)
	for p := range prim {
		for c, w := range spectrum.White() {
			prim[p][c] = w
			for i := range k {
				if p>>i&1 == 1 {
					prim[p][c] *= .1 + .8*rng.Float64()
				}
			}
		}
	}
	m, err := FromOverprints(prim, n)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; curved && i < k; i += 2 {
		var tones [3]Tone
		for c := range tones {
			for j := range tones[c] {
				tones[c][j] = math.Pow(float64(j)/toneSteps, .7+.3*float64(c))
			}
		}
		m.tones[i] = &tones
	}
	return m
}

// A rendered print is what the model says, within a twentieth of an 8-bit code
// and a code of 16 bits, for any number of inks, with curves and without.
func TestRendererAgreesWithModel(t *testing.T) {
	rng := rand.New(rand.NewSource(3))
	const width = 400
	for k := 1; k <= MaxInks; k++ {
		for _, n := range []float64{1, 1.5, 1.7, 2, 3.2} {
			for _, curved := range []bool{false, true} {
				m := randomModel(t, rng, k, n, curved)
				plates := make([][]uint16, k)
				for i := range plates {
					plates[i] = make([]uint16, width)
					for x := range plates[i] {
						plates[i][x] = uint16(rng.Intn(65536))
						switch rng.Intn(5) {
						case 0:
							plates[i][x] = 0
						case 1:
							plates[i][x] = 65535
						}
					}
				}
				eight, sixteen := make([]uint8, 3*width), make([]uint16, 3*width)
				r := m.NewRenderer()
				r.Row8(plates, eight)
				r.Row16(plates, sixteen)
				cov := make([]float64, k)
				for x := range width {
					for i := range cov {
						cov[i] = float64(plates[i][x]) / 65535
					}
					for c, v := range m.XYZ(cov).RGB() {
						v = math.Max(0, math.Min(1, v))
						if d := math.Abs(float64(eight[3*x+c]) - 255*v); d > .55 {
							t.Fatalf("%d inks, n %g, curves %v, %v, channel %d: code %d for %.3f", k, n, curved, cov, c, eight[3*x+c], 255*v)
						}
						if d := math.Abs(float64(sixteen[3*x+c]) - 65535*v); d > 1.5 {
							t.Fatalf("%d inks, n %g, curves %v, %v, channel %d: code %d for %.3f", k, n, curved, cov, c, sixteen[3*x+c], 65535*v)
						}
					}
				}
			}
		}
	}
}

// The print is the same for any number of workers, and flat rows are as others.
func TestRenderWorkers(t *testing.T) {
	rng := rand.New(rand.NewSource(4))
	m := randomModel(t, rng, 3, 2, true)
	const w, h = 31, 17
	plates := make([][]uint16, 3)
	for i := range plates {
		plates[i] = make([]uint16, w*h)
		for x := range plates[i] {
			if x%5 > 0 {
				plates[i][x] = plates[i][x-1]
			} else {
				plates[i][x] = uint16(rng.Intn(65536))
			}
		}
	}
	for _, bits := range []int{8, 16} {
		one, err := m.Render(plates, w, h, bits, 1)
		if err != nil {
			t.Fatal(err)
		}
		many, err := m.Render(plates, w, h, bits, 5)
		if err != nil {
			t.Fatal(err)
		}
		for i := range one.Pix {
			if one.Pix[i] != many.Pix[i] {
				t.Fatalf("number %d of the 8-bit print: %d by one worker, %d by five", i, one.Pix[i], many.Pix[i])
			}
		}
		for i := range one.Pix16 {
			if one.Pix16[i] != many.Pix16[i] {
				t.Fatalf("number %d of the 16-bit print: %d by one worker, %d by five", i, one.Pix16[i], many.Pix16[i])
			}
		}
	}
}

func BenchmarkRenderer(b *testing.B) {
	for _, c := range []struct {
		name   string
		k      int
		n      float64
		curved bool
	}{{"4 inks", 4, 2, false}, {"4 inks, curves", 4, 2, true}, {"4 inks, n 1.7", 4, 1.7, false}, {"8 inks", 8, 2, false}} {
		b.Run(c.name, func(b *testing.B) {
			rng := rand.New(rand.NewSource(5))
			m := randomModel(b, rng, c.k, c.n, c.curved)
			const width = 1 << 16
			plates := make([][]uint16, c.k)
			for i := range plates {
				plates[i] = make([]uint16, width)
				for x := range plates[i] { // three inks in a spot
					if (x/500+i)%c.k < 3 {
						plates[i][x] = uint16(rng.Intn(65536))
					}
				}
			}
			r := m.NewRenderer()
			dst := make([]uint8, 3*width)
			for b.Loop() {
				r.Row8(plates, dst)
			}
			b.ReportMetric(float64(b.N)*width/b.Elapsed().Seconds()/1e6, "Mpixel/s")
		})
	}
}
