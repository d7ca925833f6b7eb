package chart

import (
	"math"

	"platewright/composite/internal/cholesky"
)

// sampleAt is the light of bare paper at a place on the sheet.
type sampleAt struct {
	x, y float64
	v    [3]float64
}

// light is how bright the bare paper is across the sheet: the exponential of a
// cubic in x and y for each channel, which holds uneven lamps and lenses.
type light struct {
	w, h float64
	coef [3][10]float64
}

func terms(u, v float64) [10]float64 {
	return [10]float64{1, u, v, u * u, u * v, v * v, u * u * u, u * u * v, u * v * v, v * v * v}
}

// fitLight fits by least squares, with less weight for what sticks out, as dirt
// on the paper does. With few samples the higher terms stay small.
func fitLight(s []sampleAt, w, h float64) light {
	l := light{w: w, h: h}
	for c := range l.coef {
		weight := make([]float64, len(s))
		for i := range weight {
			weight[i] = 1
		}
		for range 4 {
			a, b := make([]float64, 100), make([]float64, 10)
			for i := range 10 {
				a[i*11] = 1e-6
				if i > 0 {
					a[i*11] = .02
				}
				if i > 5 {
					a[i*11] = .1
				}
			}
			for n, p := range s {
				t := terms(2*p.x/w-1, 2*p.y/h-1)
				y := math.Log(math.Max(p.v[c], 1e-4))
				for i := range t {
					b[i] += weight[n] * t[i] * y
					for j := range t {
						a[i*10+j] += weight[n] * t[i] * t[j]
					}
				}
			}
			cholesky.Solve(a, b)
			copy(l.coef[c][:], b)
			for n, p := range s {
				d := (math.Log(math.Max(p.v[c], 1e-4)) - l.log(c, p.x, p.y)) / .01
				weight[n] = 1 / (1 + d*d)
			}
		}
	}
	return l
}

func (l *light) log(c int, x, y float64) float64 {
	t := terms(2*x/l.w-1, 2*y/l.h-1)
	sum := 0.0
	for i, v := range t {
		sum += v * l.coef[c][i]
	}
	return sum
}

// at is the light of bare paper at a place on the sheet.
func (l *light) at(x, y float64) (v [3]float64) {
	for c := range v {
		v[c] = math.Exp(l.log(c, x, y))
	}
	return v
}
