package composite

import (
	"fmt"
	"math"
	"math/bits"

	"platewright/composite/spectrum"
)

// MaxInks is the largest number of inks in one print: 2⁸ overprint colors.
const MaxInks = 8

// toneSteps is the number of intervals of a sampled tone curve. 256 hold a
// smooth curve within 1e-4 of coverage by straight lines.
const toneSteps = 256

// A Tone is a tone curve: the coverage that is printed where the film holds
// i/256, both 0 … 1. It rises and keeps both ends: Tone[0] = 0, Tone[256] = 1.
type Tone [toneSteps + 1]float64

// At returns the printed coverage for film coverage a, 0 … 1, and the slope
// there.
func (t *Tone) At(a float64) (printed, slope float64) {
	x := a * toneSteps
	i := int(x)
	if i < 0 {
		i = 0
	} else if i >= toneSteps {
		i = toneSteps - 1
	}
	d := t[i+1] - t[i]
	return t[i] + float64(d*(x-float64(i))), d * toneSteps
}

// A Model says what color a set of coverages prints on one paper.
//
// The overprint colors of all 2^k combinations of solids are given; tints mix
// them with Demichel's weights in each of the three XYZ channels, raised to
// 1/n (Yule and Nielsen; Viggiano 1985):
//
//	X^(1/n) = Σ_p w_p·X_p^(1/n),  w_p = Π_i (a_i where ink i is in p, else 1−a_i)
//
// with a_i the coverage of ink i after its tone curve in that channel. A Model
// does not change and is safe for concurrent use.
type Model struct {
	k     int
	n     float64
	prim  []spectrum.XYZ // as printed, indexed by mask: bit i is the i-th printed ink
	root  [3][]float64   // prim^(1/n), by channel
	tones []*[3]Tone     // by ink; nil prints what the film holds
	radix []int          // where tints of overlaps are measured, the corners of each ink in root, 2 or 3; see bend
}

// newModel returns the model of k inks, prim being the 2^k overprint colors
// by mask and tones the k tone curves per channel of XYZ (nil: none).
func newModel(k int, prim []spectrum.XYZ, n float64, tones []*[3]Tone) (*Model, error) {
	if k < 1 || k > MaxInks {
		return nil, fmt.Errorf("composite: %d inks: a print takes 1 to %d", k, MaxInks)
	}
	if len(prim) != 1<<k || len(tones) != k || n < 1 || n > 10 {
		return nil, fmt.Errorf("composite: a model of %d inks needs %d overprint colors, %d tone curves and n in 1 … 10", k, 1<<k, k)
	}
	m := &Model{k: k, n: n, prim: prim, tones: tones}
	for c := range m.root {
		m.root[c] = make([]float64, len(prim))
		for p, x := range prim {
			m.root[c][p] = math.Pow(math.Max(x[c], 0), 1/n)
		}
	}
	return m, nil
}

// FromOverprints returns the model of a print whose overprint colors are all
// known: prim holds 2^k colors indexed by mask (bit i set: the i-th printed ink
// is solid; 0 is the paper), n is the Yule–Nielsen factor, 1 … 10. Film and
// print have the same coverage.
func FromOverprints(prim []spectrum.XYZ, n float64) (*Model, error) {
	k := bits.Len(uint(len(prim))) - 1
	return newModel(k, prim, n, make([]*[3]Tone, max(k, 0)))
}

// Inks returns the number of inks.
func (m *Model) Inks() int { return m.k }

// N returns the Yule–Nielsen factor.
func (m *Model) N() float64 { return m.n }

// Overprint returns the color of the solids in mask over each other in print
// order; bit i stands for the i-th printed ink, and 0 is the paper.
func (m *Model) Overprint(mask uint) spectrum.XYZ { return m.prim[mask] }

// Tone returns the coverage that prints where the film of the given ink holds
// a, 0 … 1, in the channel Y, which the eye takes for the tone.
func (m *Model) Tone(ink int, a float64) float64 {
	if m.tones[ink] == nil {
		return a
	}
	v, _ := m.tones[ink][1].At(a)
	return v
}

// XYZ returns the color that k film coverages, each 0 … 1, print.
// It allocates; use an Evaluator for many.
func (m *Model) XYZ(coverage []float64) spectrum.XYZ {
	return m.NewEvaluator().XYZ(coverage)
}

// Lab is XYZ in CIELAB.
func (m *Model) Lab(coverage []float64) spectrum.Lab { return m.XYZ(coverage).Lab() }

// An Evaluator computes colors of a Model in workspace of its own. It must
// not be used by two goroutines at once.
type Evaluator struct {
	m    *Model
	a, s [3][MaxInks]float64   // printed coverage and slope by channel and ink
	v    [2 << MaxInks]float64 // folded vertex values, level after level
	adj  [2 << MaxInks]float64 // their adjoints
	jac  [MaxInks]spectrum.XYZ // ∂XYZ/∂coverage

	wide, wideAdj []float64 // as v and adj, of a bent model
}

// NewEvaluator returns an Evaluator for m.
func (m *Model) NewEvaluator() *Evaluator {
	e := &Evaluator{m: m}
	if m.radix != nil {
		e.wide, e.wideAdj = make([]float64, m.wideSize()), make([]float64, m.wideSize())
	}
	return e
}

// power returns x^n and its derivative.
func power(x, n float64) (v, d float64) {
	switch n {
	case 1:
		return x, 1
	case 1.5:
		r := math.Sqrt(x)
		return x * r, 1.5 * r
	case 2:
		return x * x, 2 * x
	}
	if x <= 0 {
		return 0, 0
	}
	v = math.Pow(x, n)
	return v, n * v / x
}

// XYZ returns the color that k film coverages, each 0 … 1, print.
func (e *Evaluator) XYZ(coverage []float64) spectrum.XYZ {
	m := e.m
	e.printed(coverage)
	var out spectrum.XYZ
	for c := range out {
		if m.radix != nil {
			out[c], _ = power(e.mixed(c), m.n)
			continue
		}
		half := len(m.prim) / 2
		a := e.a[c][m.k-1]
		src := m.root[c]
		for j := 0; j < half; j++ {
			e.v[j] = src[j] + float64(a*(src[j+half]-src[j]))
		}
		for i := m.k - 2; i >= 0; i-- {
			half /= 2
			a := e.a[c][i]
			for j := 0; j < half; j++ {
				e.v[j] += float64(a * (e.v[j+half] - e.v[j]))
			}
		}
		out[c], _ = power(e.v[0], m.n)
	}
	return out
}

func (e *Evaluator) printed(coverage []float64) {
	for i := 0; i < e.m.k; i++ {
		t := e.m.tones[i]
		if t == nil {
			for c := range e.a {
				e.a[c][i], e.s[c][i] = coverage[i], 1
			}
			continue
		}
		for c := range e.a {
			e.a[c][i], e.s[c][i] = t[c].At(coverage[i])
		}
	}
}

// XYZJacobian returns the color that k film coverages print and its
// derivatives: jac[i] is ∂XYZ/∂coverage of ink i, valid until the next call.
// The derivatives run backward through the folds of the sum, so their cost
// does not grow with k beyond that of the sum.
func (e *Evaluator) XYZJacobian(coverage []float64) (color spectrum.XYZ, jac []spectrum.XYZ) {
	m := e.m
	k := m.k
	e.printed(coverage)
	for c := range color {
		if m.radix != nil {
			var by [MaxInks]float64
			var slope float64
			color[c], slope = power(e.mixedJacobian(c, &by), m.n)
			for i := range k {
				e.jac[i][c] = slope * by[i] * e.s[c][i]
			}
			continue
		}
		// Level i holds 2^i values from offset 2^i; level k is the vertices.
		size := 1 << k
		copy(e.v[size:2*size], m.root[c])
		for i := k - 1; i >= 0; i-- {
			h := 1 << i
			a := e.a[c][i]
			up, down := e.v[2*h:4*h], e.v[h:2*h]
			for j := 0; j < h; j++ {
				down[j] = up[j] + float64(a*(up[j+h]-up[j]))
			}
		}
		var slope float64
		color[c], slope = power(e.v[1], m.n)
		e.adj[1] = slope
		for i := 0; i < k; i++ {
			h := 1 << i
			a := e.a[c][i]
			up, adown, aup := e.v[2*h:4*h], e.adj[h:2*h], e.adj[2*h:4*h]
			g := 0.0
			for j := 0; j < h; j++ {
				d := adown[j]
				g += float64(d * (up[j+h] - up[j]))
				aup[j] = d - float64(d*a)
				aup[j+h] = d * a
			}
			e.jac[i][c] = g * e.s[c][i]
		}
	}
	return color, e.jac[:k]
}
