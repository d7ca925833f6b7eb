package choose

import (
	"math"

	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

// A blend looks for the amounts of a few components whose mix prints a color.
type blend struct {
	sheet *ink.Sheet
	want  spectrum.Lab
	// opacity is the wanted contrast ratio; 0: any.
	opacity float64
	// film sets f to the film of the amounts x.
	film func(x []float64, f *ink.Film)
	// most bounds the sum of the amounts.
	most float64

	f ink.Film
}

// opacityDE is the CIEDE2000 that a contrast ratio off by one is held equal
// to: 0.1 of opacity counts as much as a color off by 2.
const opacityDE = 20

// color returns what the amounts print.
func (b *blend) color(x []float64) spectrum.XYZ {
	b.film(x, &b.f)
	return printed(&b.f, b.sheet)
}

// printed is the color of a solid film on a sheet.
func printed(f *ink.Film, sheet *ink.Sheet) spectrum.XYZ {
	r := ink.NewLayer(f).Over(&sheet.Inside)
	c := sheet.Surface.XYZ(&r)
	for i, g := range f.Glow {
		c[i] = math.Max(0, c[i]+g)
	}
	return c
}

// contrast is the opacity of a film: luminance over nothing divided by
// luminance over a white of 0.8, surface removed, as ink.Film.Opacity.
func contrast(f *ink.Film) float64 {
	l := ink.NewLayer(f)
	black, white := spectrum.Flat(0), spectrum.Flat(.8)
	dark, light := l.Over(&black), l.Over(&white)
	if y := light.Luminance(); y > 0 {
		return dark.Luminance() / y
	}
	return 1
}

// miss is the difference from what is wanted, in CIEDE2000.
func (b *blend) miss(x []float64) float64 {
	d := spectrum.DeltaE(b.want, b.color(x).Lab())
	if b.opacity > 0 {
		d = math.Hypot(d, opacityDE*(contrast(&b.f)-b.opacity))
	}
	return d
}

// residual is the difference in CIELAB and, where it counts, in opacity.
func (b *blend) residual(x []float64) (r [4]float64) {
	c := b.color(x).Lab()
	for i := range c {
		r[i] = c[i] - b.want[i]
	}
	if b.opacity > 0 {
		r[3] = opacityDE * (contrast(&b.f) - b.opacity)
	}
	return r
}

// fit improves the amounts in place: damped least squares in CIELAB, within
// x ≥ 0 and their sum at most b.most. It returns the squared distance left.
func (b *blend) fit(x []float64, steps int) float64 {
	n := len(x)
	r := b.residual(x)
	cost := square(r)
	damping := 1e-3
	var jac [3][4]float64
	next := make([]float64, n)
	for range steps {
		for j := range n {
			h := 1e-4 + 1e-3*x[j]
			was := x[j]
			x[j] += h
			q := b.residual(x)
			x[j] = was
			for i := range q {
				jac[j][i] = (q[i] - r[i]) / h
			}
		}
		better := false
		for range 6 {
			var h [3][3]float64
			var g [3]float64
			for i := range n {
				for j := range n {
					for c := range r {
						h[i][j] += jac[i][c] * jac[j][c]
					}
				}
				for c := range r {
					g[i] -= jac[i][c] * r[c]
				}
				// An amount at zero that wants to go below stays out.
				if x[i] <= 0 && g[i] < 0 {
					g[i] = 0
					for j := range n {
						h[i][j], h[j][i] = 0, 0
					}
				}
			}
			for i := range n {
				h[i][i] += damping*(h[i][i]+1) + 1e-9
			}
			d := solve3(&h, &g, n)
			sum := 0.0
			for i := range n {
				next[i] = math.Max(0, x[i]+d[i])
				sum += next[i]
			}
			if sum > b.most {
				for i := range next {
					next[i] *= b.most / sum
				}
			}
			q := b.residual(next)
			if c := square(q); c < cost {
				better = cost-c > 1e-6*(1e-3+cost)
				copy(x, next)
				r, cost = q, c
				damping = math.Max(damping/5, 1e-7)
				break
			}
			damping *= 8
		}
		if !better {
			break
		}
	}
	return cost
}

func square(r [4]float64) (s float64) {
	for _, v := range r {
		s += v * v
	}
	return s
}

// solve3 solves h·d = g for n ≤ 3 by elimination; h is positive definite.
func solve3(h *[3][3]float64, g *[3]float64, n int) (d [3]float64) {
	for i := range n {
		for k := i + 1; k < n; k++ {
			f := h[k][i] / h[i][i]
			for j := i; j < n; j++ {
				h[k][j] -= f * h[i][j]
			}
			g[k] -= f * g[i]
		}
	}
	for i := n - 1; i >= 0; i-- {
		s := g[i]
		for j := i + 1; j < n; j++ {
			s -= h[i][j] * d[j]
		}
		d[i] = s / h[i][i]
	}
	return d
}

// polish improves the amounts in CIEDE2000 by trying shorter and shorter
// steps, for colors out of reach, where the nearest in CIELAB is not the
// nearest to the eye.
func (b *blend) polish(x []float64) float64 {
	best := b.miss(x)
	next := make([]float64, len(x))
	for by := .3; by > .005 && best > .05; {
		moved := false
		for j := range x {
			for _, d := range []float64{1 + by, 1 / (1 + by)} {
				copy(next, x)
				next[j] *= d
				sum := 0.0
				for _, v := range next {
					sum += v
				}
				if sum > b.most {
					for i := range next {
						next[i] *= b.most / sum
					}
				}
				if m := b.miss(next); m < best-1e-6 {
					copy(x, next)
					best, moved = m, true
				}
			}
		}
		if !moved {
			by /= 2
		}
	}
	return best
}
