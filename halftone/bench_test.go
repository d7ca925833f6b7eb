package halftone

import (
	"math"
	"testing"
)

// Bytes per second are film pixels per second here.

func BenchmarkScreenRow(b *testing.B) {
	s := mustScreen(b, Spec{Ruling: 45, Angle: 22.5, DPI: 1200})
	for name, step := range map[string]int{"constant": 0, "slope": 4} {
		b.Run(name, func(b *testing.B) {
			cov := make([]uint16, 14000)
			for x := range cov {
				cov[x] = uint16(20000 + x*step)
			}
			dst := make([]byte, (len(cov)+7)/8)
			b.SetBytes(int64(len(cov)))
			for i := 0; b.Loop(); i++ {
				s.Row(dst, cov, i%10000)
			}
		})
	}
}

func BenchmarkRaster(b *testing.B) {
	const n, zoom = 1000, 4
	for name, f := range map[string]func(x, y int) float64{
		"photo": func(x, y int) float64 {
			return 0.5 + 0.3*math.Sin(float64(x)/17)*math.Sin(float64(y)/23) + float64((x*7919+y*104729)%1000)/10000
		},
		"tints": func(x, y int) float64 { return float64((x/100+y/100)%4+1) / 5 },
		"solids": func(x, y int) float64 {
			return step((x/100+y/100)%2 == 0)
		},
		"paper": func(x, y int) float64 { return 0 },
		"type":  func(x, y int) float64 { return step(math.Hypot(float64(x%20-10), float64(y%20-10)) < 6) },
	} {
		for _, dot := range []Dot{Round, None} {
			b.Run(name+"/"+dot.String(), func(b *testing.B) {
				p := &Plate{Width: n, Height: n, Cov: make([]uint16, n*n)}
				for i := range p.Cov {
					p.Cov[i] = uint16(f(i%n, i/n) * Full)
				}
				s := mustScreen(b, Spec{Ruling: 45, Angle: 22.5, DPI: 1200, Dot: dot})
				r := mustRaster(b, p, n*zoom, n*zoom, s, Options{})
				const strip = 256
				dst := make([]byte, n*zoom/8*strip)
				b.SetBytes(n * zoom * n * zoom)
				b.ReportAllocs()
				for b.Loop() {
					for y := 0; y < n*zoom; y += strip {
						r.Rows(dst, n*zoom/8, y, min(y+strip, n*zoom))
					}
				}
			})
		}
	}
}

func BenchmarkNewScreen(b *testing.B) {
	for b.Loop() {
		mustScreen(b, Spec{Ruling: 45, Angle: 52.5, DPI: 1200, MinDot: 0.1, MinHole: 0.1})
	}
}

func BenchmarkNewStochastic(b *testing.B) {
	for b.Loop() {
		mustScreen(b, Spec{Dot: Stochastic, DPI: 1200, MinDot: 0.1, MinHole: 0.1})
	}
}
