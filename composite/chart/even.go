package chart

import (
	"math"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/internal/cholesky"
	"platewright/composite/spectrum"
)

// Prints by hand vary from pull to pull and from place to place. Where patches
// printed twice say by how much, what is measured is weighed against what the
// model expects, each by its own variance (James and Stein 1961): on an even print
// the measurement is all that counts, on an uneven one it moves the expectation as
// far as it can be trusted.

// even moves the colors of patches towards what m expects. off are their
// distances from it, ΔE00.
func (f *fitter) even(m *composite.Model, at []*patch, off []float64) {
	if f.out.Repeat == 0 || len(at) == 0 {
		return
	}
	noise := f.out.Repeat * f.out.Repeat
	both := 0.0
	for n, p := range at {
		both += (off[n]*off[n] - noise/float64(p.n)) / float64(len(at))
	}
	own := math.Max(both, 0) // variance of what the model does not know
	e := m.NewEvaluator()
	cov := make([]float64, m.Inks())
	for _, p := range at {
		p.Color = mixed(e.XYZ(p.coverage(cov)), p.Color, own/(own+noise/float64(p.n)))
	}
}

// mixed is a color between two in CIELAB: a for share 0, b for 1.
func mixed(a, b spectrum.XYZ, share float64) spectrum.XYZ {
	if share >= .999 {
		return b
	}
	la, lb := a.Lab(), b.Lab()
	for k := range la {
		la[k] += share * (lb[k] - la[k])
	}
	return la.XYZ()
}

// Half waves between paper and solid that a ramp's bend is made of, their standard
// deviations in CIELAB [calc: of ramps of two offset conditions], and that of what
// is left then.
var bends = [...]float64{20, 6, 2.5, 1.2}

const bendRest = .5

// evenRamp smooths the tints of an ink as far as the print is uneven: a ramp is
// the straight way from paper to solid, in CIELAB along the film's percent, and
// half waves on it (a Gaussian process; the noise is that of patches printed
// twice).
func (f *fitter) evenRamp(u *ink.Ink) {
	noise := f.out.Repeat * f.out.Repeat / 2 // in each of L, a, b: ΔE00 counts the latter less
	n := len(bends)
	if noise == 0 || len(u.Tints) < 3 {
		return
	}
	paper, solid := f.paper.Color.Lab(), u.Color.Lab()
	wave := func(x float64) (w [len(bends)]float64) {
		for k := range w {
			w[k] = math.Sin(math.Pi * float64(k+1) * x)
		}
		return w
	}
	smooth := make([]spectrum.Lab, len(u.Tints))
	for c := range paper {
		a, b := make([]float64, n*n), make([]float64, n)
		for k, s := range bends {
			a[k*n+k] = (noise + bendRest*bendRest) / (s * s)
		}
		for _, t := range u.Tints {
			x := t.Film / 100
			w := wave(x)
			d := t.Color.Lab()[c] - paper[c] - x*(solid[c]-paper[c])
			for i := range w {
				b[i] += w[i] * d
				for j := range w {
					a[i*n+j] += w[i] * w[j]
				}
			}
		}
		cholesky.Solve(a, b)
		for k, t := range u.Tints {
			x := t.Film / 100
			v := paper[c] + x*(solid[c]-paper[c])
			for i, w := range wave(x) {
				v += b[i] * w
			}
			smooth[k][c] = v
		}
	}
	share := bendRest * bendRest / (bendRest*bendRest + noise)
	for k := range u.Tints {
		c := mixed(smooth[k].XYZ(), u.Tints[k].Color, share)
		u.Tints[k].Color = f.oneCurve(u, c, math.Sqrt(noise))
	}
}

// channelCurves is how far the coverages of a tint truly differ between X, Y and
// Z, as a standard deviation [calc: of ramps of two offset conditions].
const channelCurves = .05

// oneCurve draws the coverages of a tint in X, Y and Z together as far as noise, a
// standard deviation in CIELAB, blurs them: where an ink hardly darkens a channel
// its coverage there is all noise, which would come out large where other inks
// lie over it.
func (f *fitter) oneCurve(u *ink.Ink, c spectrum.XYZ, noise float64) spectrum.XYZ {
	n := f.shelf.Sheet(f.paper).N
	w := spectrum.White()
	var p, d, a, r [3]float64
	up, down := 0.0, 1e-12
	for k := range c {
		p[k] = math.Pow(f.paper.Color[k]/w[k], 1/n)
		d[k] = p[k] - math.Pow(u.Color[k]/w[k], 1/n)
		r[k] = math.Pow(math.Max(c[k], .01)/w[k], 1/n)
		up += d[k] * (p[k] - r[k])
		down += d[k] * d[k]
	}
	common := up / down
	for k := range c {
		if math.Abs(d[k]) < 1e-6 {
			continue
		}
		a[k] = (p[k] - r[k]) / d[k]
		// CIELAB takes cube roots, 116 of them for white.
		root := math.Cbrt(math.Max(c[k], .01) / w[k])
		blur := noise / 110 * 3 / n * r[k] / root / d[k]
		share := channelCurves * channelCurves / (channelCurves*channelCurves + blur*blur)
		v := p[k] - d[k]*(common+share*(a[k]-common))
		c[k] = w[k] * math.Pow(math.Max(v, 0), n)
	}
	return c
}
