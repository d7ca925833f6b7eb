package spread

import (
	"math"
	"math/rand/v2"
	"testing"

	"platewright/halftone"
)

func plate(w, h int, f func(x, y int) float64) *halftone.Plate {
	p := &halftone.Plate{Width: w, Height: h, Cov: make([]uint16, w*h)}
	for i := range p.Cov {
		p.Cov[i] = uint16(math.Round(f(i%w, i/w) * halftone.Full))
	}
	return p
}

// drawn is plate anti-aliased by area; f gets places in pixels.
func drawn(w, h int, f func(x, y float64) bool) *halftone.Plate {
	const n = 16
	return plate(w, h, func(x, y int) float64 {
		sum := 0.0
		for j := range n {
			for i := range n {
				if f(float64(x)+(float64(i)+0.5)/n, float64(y)+(float64(j)+0.5)/n) {
					sum++
				}
			}
		}
		return sum / (n * n)
	})
}

func speckled(w, h int, share float64, seed uint64) *halftone.Plate {
	rng := rand.New(rand.NewPCG(seed, 1))
	return plate(w, h, func(x, y int) float64 {
		if rng.Float64() < share {
			return 1
		}
		return 0
	})
}

func distances(t testing.TB, p *halftone.Plate, inverse bool) []float32 {
	t.Helper()
	m, err := NewMap(p, inverse)
	if err != nil {
		t.Fatal(err)
	}
	d := make([]float32, p.Width*p.Height)
	for y := range p.Height {
		m.Row(d[y*p.Width:(y+1)*p.Width], y)
	}
	return d
}

// The nearest inked pixel is as near as one found by searching through all,
// and the distance to the edge is that to the nearest square of ink, to a third
// of a pixel.
func TestNearestAgainstBruteForce(t *testing.T) {
	for seed, share := range []float64{0.5, 0.1, 0.01, 0.001, 0.9, 0.999} {
		for _, size := range [][2]int{{61, 47}, {1, 80}, {80, 1}, {64, 64}} {
			w, h := size[0], size[1]
			p := speckled(w, h, share, uint64(seed))
			for _, inverse := range []bool{false, true} {
				m, err := NewMap(p, inverse)
				if err != nil {
					t.Fatal(err)
				}
				b, row := newRowBuffer(w), make([]float32, w)
				for y := range h {
					m.nearest(b, y)
					m.Row(row, y)
					for x := range w {
						want, square := math.Inf(1), math.Inf(1)
						for j, c := range p.Cov {
							if (c > 0) != inverse {
								dx, dy := math.Abs(float64(x-j%w)), math.Abs(float64(y-j/w))
								want = min(want, math.Hypot(dx, dy))
								square = min(square, math.Hypot(max(dx-0.5, 0), max(dy-0.5, 0)))
							}
						}
						if math.IsInf(want, 1) {
							if b.y[x] >= 0 || !math.IsInf(float64(row[x]), 1) {
								t.Fatalf("share %g, size %v, inverse %v, pixel %d, %d: found ink where there is none", share, size, inverse, x, y)
							}
							continue
						}
						if got := math.Hypot(float64(x-int(b.x[x])), float64(y-int(b.y[x]))); math.Abs(got-want) > 1e-9 {
							t.Fatalf("share %g, size %v, inverse %v, pixel %d, %d: nearest at %.4f, want %.4f", share, size, inverse, x, y, got, want)
						}
						if got := max(float64(row[x]), 0); math.Abs(got-square) > 0.34 {
							t.Fatalf("share %g, size %v, inverse %v, pixel %d, %d: edge at %.4f, want %.4f", share, size, inverse, x, y, got, square)
						}
					}
				}
			}
		}
	}
}

// From anti-aliased edges the distance is right to a third of a pixel: disks
// and edges at any angle and place.
func TestDistanceWithinPixel(t *testing.T) {
	const n = 64
	for k := range 12 {
		angle, off := float64(k)*29*math.Pi/180, float64(k)*0.083
		sin, cos := math.Sincos(angle)
		for name, d := range map[string]func(x, y float64) float64{
			"edge": func(x, y float64) float64 { return (x-30-off)*cos + (y-30-off)*sin },
			"disk": func(x, y float64) float64 { return math.Hypot(x-30-off, y-31+off) - 12.3 - off },
		} {
			p := drawn(n, n, func(x, y float64) bool { return d(x, y) < 0 })
			for _, inverse := range []bool{false, true} {
				got := distances(t, p, inverse)
				for y := 8; y < n-8; y++ { // beyond the plate an edge is not known
					for x := 8; x < n-8; x++ {
						want := d(float64(x)+0.5, float64(y)+0.5)
						if inverse {
							want = -want
						}
						if want < 0.5 || want > 8 {
							continue
						}
						if g := float64(got[y*n+x]); math.Abs(g-want) > 1.0/3 {
							t.Errorf("%s %d, inverse %v, pixel %d, %d: %.3f, want %.3f", name, k, inverse, x, y, g, want)
						}
					}
				}
			}
		}
	}
}

func TestPlateErrors(t *testing.T) {
	good := plate(2, 2, func(x, y int) float64 { return 1 })
	for name, err := range map[string]error{
		"short":     second(NewMap(&halftone.Plate{Width: 3, Height: 3, Cov: make([]uint16, 8)}, false)),
		"empty":     second(NewMap(&halftone.Plate{}, false)),
		"too wide":  second(NewMap(&halftone.Plate{Width: 40000, Height: 1, Cov: make([]uint16, 40000)}, false)),
		"radius":    second(Spread(good, -1, 300)),
		"choke":     second(Choke(good, math.NaN(), 300)),
		"ppi":       second(Spread(good, 1, 0)),
		"find":      second(Find(good, -300, Limits{})),
		"inks":      second(Trap([]*halftone.Plate{good}, nil, 1, 300)),
		"two sizes": second(Trap([]*halftone.Plate{good, plate(3, 2, func(x, y int) float64 { return 0 })}, make([]Ink, 2), 1, 300)),
	} {
		if err == nil {
			t.Errorf("%s: want an error", name)
		}
	}
}

func second[T any](_ T, err error) error { return err }

// A3 at 600 dpi; bytes are pixels.
func BenchmarkMapA3(b *testing.B) {
	const w, h = 7016, 9921
	p := &halftone.Plate{Width: w, Height: h, Cov: make([]uint16, w*h)}
	for i := range p.Cov {
		if x, y := i%w%400-200, i/w%400-200; x*x+y*y < 90*90 {
			p.Cov[i] = halftone.Full
		}
	}
	b.Run("map", func(b *testing.B) {
		b.SetBytes(w * h)
		for b.Loop() {
			m, err := NewMap(p, false)
			if err != nil {
				b.Fatal(err)
			}
			parallel(h, func(y0, y1 int) {
				row := newRowBuffer(w)
				for y := y0; y < y1; y++ {
					m.nearest(row, y)
				}
			})
		}
	})
	b.Run("spread", func(b *testing.B) {
		b.SetBytes(w * h)
		for b.Loop() {
			if _, err := Spread(p, 0.5, 600); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("find", func(b *testing.B) {
		b.SetBytes(w * h)
		for b.Loop() {
			if _, err := Find(p, 600, Limits{Line: 0.35, Gap: 0.7, Dot: 0.35, Hole: 0.7}); err != nil {
				b.Fatal(err)
			}
		}
	})
}
