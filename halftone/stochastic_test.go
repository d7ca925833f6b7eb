package halftone

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// radial averages count periodograms of win × win pieces of a picture over
// rings one bin wide (R. Ulichney, Digital Halftoning, 1987): the mean power
// of each ring divided by g(1−g), and its anisotropy, the variance over the
// square of the mean.
func radial(pix []uint8, n, win, count int) (power, anisotropy []float64) {
	sum := make([]float64, win*win)
	fft := fourier.NewCmplxFFT(win)
	data, column := make([]complex128, win*win), make([]complex128, win)
	per := n / win
	for piece := range count {
		x0, y0 := piece%per*win, piece/per%per*win
		for y := range win {
			for x := range win {
				data[y*win+x] = complex(float64(pix[(y0+y)*n+x0+x]), 0)
			}
			fft.Coefficients(data[y*win:(y+1)*win], data[y*win:(y+1)*win])
		}
		for x := range win {
			for y := range column {
				column[y] = data[y*win+x]
			}
			fft.Coefficients(column, column)
			for y, c := range column {
				sum[y*win+x] += (real(c)*real(c) + imag(c)*imag(c)) / float64(win*win*count)
			}
		}
	}
	g := mean(pix)
	rings := make([][]float64, win/2)
	for y := range win {
		for x := range win {
			r := int(math.Round(math.Hypot(float64(min(x, win-x)), float64(min(y, win-y)))))
			if r > 0 && r < len(rings) {
				rings[r] = append(rings[r], sum[y*win+x])
			}
		}
	}
	power, anisotropy = make([]float64, len(rings)), make([]float64, len(rings))
	for r, v := range rings {
		var m, s float64
		for _, p := range v {
			m += p / float64(len(v))
		}
		for _, p := range v {
			s += (p - m) * (p - m) / float64(len(v)-1)
		}
		power[r] = m / (g * (1 - g))
		anisotropy[r] = s / (m * m)
	}
	return power, anisotropy
}

// Blue and green noise have no power below their principal frequency, a peak
// there, and none in any direction. The frequency is √(g/M), M pixels being
// the mean size of the dots: 1 for blue noise (Ulichney 1993; Lau, Arce,
// Gallagher 1998). k periodograms of isotropic noise have an anisotropy of
// −10·lg k dB (Ulichney 1987); above twice the principal frequency the spectrum of
// larger dots is that of their shape on the pixel grid, and is left out.
func TestNoiseSpectrum(t *testing.T) {
	for _, minDot := range []float64{0, 0.06, 0.1} {
		s := mustScreen(t, Spec{Dot: Stochastic, DPI: 1200, MinDot: minDot, MinHole: minDot})
		n, win := s.w, 64
		if minDot > 0 {
			win = 128
		}
		for _, p := range []float64{5, 10, 15, 20, 85, 95} {
			t.Run(fmt.Sprintf("%g mm, %g %%", minDot, p), func(t *testing.T) {
				pix := screenFlat(t, s, n, n, percent(p))
				g := min(p, 100-p) / 100
				size := 1.0
				if minDot > 0 {
					size = g * float64(n*n) / float64(dots(pix, n, uint8(step(p < 50))))
				}
				count := min(10, n/win*(n/win))
				power, anisotropy := radial(pix, n, win, count)
				peak := 1
				for r := range power {
					if power[r] > power[peak] {
						peak = r
					}
				}
				want := math.Sqrt(g / size)
				if got := float64(peak) / float64(win); math.Abs(got/want-1) > 0.25 {
					t.Errorf("peak at %.4f per pixel, want %.4f", got, want)
				}
				var a, low float64
				var rings, lows int
				for r := range power {
					if f := float64(r) / float64(win); f >= want/2 && f <= 2*want && r >= 4 {
						a += anisotropy[r]
						rings++
					} else if r >= 2 && f < want/2 {
						low += power[r]
						lows++
					}
				}
				if db, most := 10*math.Log10(a/float64(rings)), 1-10*math.Log10(float64(count)); db > most {
					t.Errorf("anisotropy %.1f dB, want less than %.1f", db, most)
				}
				if low /= float64(max(lows, 1)); low > power[peak]/5 {
					t.Errorf("mean power %.3f below half the principal frequency, %.3f at the peak", low, power[peak])
				}
			})
		}
	}
}

// dots counts the patches of value v on a torus, joined along sides.
func dots(pix []uint8, n int, v uint8) (count int) {
	patches(pix, n, v, func(int) { count++ })
	return count
}

// patches calls f with the pixels of each patch of value v on a torus.
func patches(pix []uint8, n int, v uint8, f func(area int)) {
	seen := make([]bool, len(pix))
	var stack []int
	for start := range pix {
		if seen[start] || pix[start] != v {
			continue
		}
		seen[start] = true
		area := 0
		for stack = append(stack[:0], start); len(stack) > 0; {
			i := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			area++
			x, y := i%n, i/n
			for _, j := range [4]int{y*n + (x+1)%n, y*n + (x+n-1)%n, (y+1)%n*n + x, (y+n-1)%n*n + x} {
				if !seen[j] && pix[j] == v {
					seen[j] = true
					stack = append(stack, j)
				}
			}
		}
		f(area)
	}
}

// At every tone, each dot has at least the pixels of a smallest dot and each
// hole those of a smallest hole, and the tone is exact to half a dot.
func TestStochasticDotsAndTone(t *testing.T) {
	for _, spec := range []Spec{
		{Dot: Stochastic, DPI: 1200},
		{Dot: Stochastic, DPI: 1200, MinDot: 0.06, MinHole: 0.06},
		{Dot: Stochastic, DPI: 600, MinDot: 0.18, MinHole: 0.12},
		{Dot: Stochastic, DPI: 720, MinDot: 0.05, MinHole: 0.1},
	} {
		t.Run(fmt.Sprintf("%g dpi %g mm %g mm", spec.DPI, spec.MinDot, spec.MinHole), func(t *testing.T) {
			s := mustScreen(t, spec)
			n, px := s.w, spec.DPI/mmPerInch
			area := func(d float64) float64 { return math.Pi / 4 * (d * px) * (d * px) }
			for p := 0; p <= 100; p++ {
				if got := 100 * tone(t, s, n, n, percent(float64(p))); math.Abs(got-float64(p)) > 0.02 {
					t.Errorf("%d %%: tile has %.3f %%", p, got)
				}
				if p%3 != 1 {
					continue
				}
				pix := screenFlat(t, s, n, n, percent(float64(p)))
				for v, least := range map[uint8]float64{1: area(spec.MinDot), 0: area(spec.MinHole)} {
					patches(pix, n, v, func(a int) {
						if float64(a) < least && !t.Failed() {
							t.Errorf("%d %%: a patch of %d with %d pixels, smallest is %.1f", p, v, a, least)
						}
					})
				}
			}
		})
	}
}

// The tone holds over 20 mm of film wherever it lies, and over longer pieces as far
// as their edges, which cut dots, let it.
func TestStochasticToneOnFilm(t *testing.T) {
	for _, c := range []struct {
		dpi, dot, mm, limit float64
		tones               []float64
	}{
		{600, 0, 20, 0.05, []float64{1, 10, 35, 50, 65, 97}},
		{600, 0.05, 20, 0.05, []float64{5, 12, 40, 50, 60, 92}},
		{600, 0.18, 20, 0.05, []float64{5, 9, 12, 30, 50, 60, 70, 92}},
		{600, 0.3, 20, 0.05, []float64{5, 9, 12, 30, 50, 60, 70, 92}},
		{1200, 0, 20, 0.05, []float64{2, 65}},
		{1200, 0.1, 20, 0.05, []float64{5, 12, 50, 60, 92}},
		{1200, 0.18, 20, 0.05, []float64{8, 55}},
		{2400, 0, 20, 0.05, []float64{2, 65}},
		{2400, 0.08, 20, 0.05, []float64{8, 50}},
		{600, 0.05, 25.4, 0.15, []float64{9, 50, 60}},
		{600, 0.1, 27, 0.15, []float64{9, 50, 60}},
	} {
		s := mustScreen(t, Spec{Dot: Stochastic, DPI: c.dpi, MinDot: c.dot, MinHole: c.dot})
		n, w := s.w, int(math.Round(c.mm*c.dpi/mmPerInch))
		times := make([]int, n) // that a window from 0 has each column or row of the tile
		for i := range w {
			times[i%n]++
		}
		for _, p := range c.tones {
			pix := screenFlat(t, s, n, n, percent(p))
			rows := make([]int, n)
			for place := range 25 {
				x0, y0 := place/5*n/5, place%5*n/5
				if y0 == 0 {
					for y := range rows {
						rows[y] = 0
						for i, v := range pix[y*n : y*n+n] {
							rows[y] += int(v) * times[(i-x0+n)%n]
						}
					}
				}
				var ink int
				for y, row := range rows {
					ink += row * times[(y-y0+n)%n]
				}
				if got := 100 * float64(ink) / float64(w*w); math.Abs(got-p) > c.limit {
					t.Errorf("%g dpi, smallest dot %g mm, %g mm from pixel %d, %d: %g %% is %.3f %%", c.dpi, c.dot, c.mm, x0, y0, p, got)
				}
			}
		}
	}
}

func TestIntSet(t *testing.T) {
	for _, limit := range []int{1, 64, 65, 5000, 300000} {
		s := newIntSet(limit)
		want := []int{limit - 1, limit / 2, limit / 3, 0}
		for _, i := range want {
			s.add(i)
		}
		before := -1
		for i := s.takeLeast(); i >= 0; i = s.takeLeast() {
			if i <= before {
				t.Fatalf("limit %d: %d after %d", limit, i, before)
			}
			if before = i; i == limit/3 && limit > 3 {
				s.add(1) // less than what was taken
				if got := s.takeLeast(); got != 1 {
					t.Fatalf("limit %d: got %d, want 1", limit, got)
				}
			}
		}
		if before != limit-1 {
			t.Errorf("limit %d: last was %d", limit, before)
		}
	}
}
