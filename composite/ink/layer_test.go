package ink

import (
	"math"
	"math/rand/v2"
	"testing"

	"platewright/composite/spectrum"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.7g, want %.7g ± %g", what, got, want, tol)
	}
}

// K = .8, S = .2, thickness 1, worked out from the textbook form of Kubelka
// and Munk's layer [calc].
func TestOver(t *testing.T) {
	for _, tt := range []struct{ k, s, under, want float64 }{
		{.8, .2, .85, .213982},
		{.8, .2, .05, .093863},
		{.8, .2, 0, .086910},
		{80, 20, .5, .10102}, // so thick that it is R∞
	} {
		near(t, "R", Over(tt.k, tt.s, tt.under), tt.want, 5e-6)
	}
}

// Over is the textbook's layer: R = [1−Rg(a−b·coth bS)]/[a−Rg+b·coth bS].
func TestOverIsTheTextbook(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for range 2000 {
		k, s, g := math.Exp(r.Float64()*6-4), math.Exp(r.Float64()*6-4), r.Float64()
		a := (s + k) / s
		b := math.Sqrt(a*a - 1)
		coth := 1 / math.Tanh(b*s)
		near(t, "R", Over(k, s, g), (1-g*(a-b*coth))/(a-g+b*coth), 1e-9)
	}
}

// Without scattering the layer is Beer and Lambert's, and the way there is
// smooth: R changes in proportion to S.
func TestOverWithoutScattering(t *testing.T) {
	for _, k := range []float64{0, 1e-12, 1e-6, .01, .5, 3, 12} {
		for _, g := range []float64{0, .2, .9} {
			near(t, "S = 0", Over(k, 0, g), g*math.Exp(-2*k), 1e-14)
			base := Over(k, 0, g)
			slope := (Over(k, 1e-4, g) - base) / 1e-4
			for _, s := range []float64{1e-14, 1e-10, 1e-7, 1e-5} {
				near(t, "S → 0", Over(k, s, g)-base, slope*s, 1e-3*s+1e-15)
			}
		}
	}
	// No absorption: (S + Rg(1−S))/(1 + S(1−Rg)).
	for _, s := range []float64{0, .1, 1, 10} {
		near(t, "K = 0", Over(0, s, .3), (s+.3*(1-s))/(1+s*.7), 1e-12)
	}
}

// A = (K .8, S .2) and B = (K .1, S 1) on a paper of .85: A then B gives .508,
// B then A .196 [calc].
func TestOrderMatters(t *testing.T) {
	near(t, "A then B", Over(.1, 1, Over(.8, .2, .85)), .508, 5e-4)
	near(t, "B then A", Over(.8, .2, Over(.1, 1, .85)), .196, 5e-4)
}

func TestTwoBackings(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 2))
	for range 2000 {
		k, s := math.Exp(r.Float64()*6-4), math.Exp(r.Float64()*6-4)
		gw, gb := .5+.45*r.Float64(), .3*r.Float64()
		rw, rb := Over(k, s, gw), Over(k, s, gb)
		if rw-rb < 1e-5 {
			continue // opaque: thickness cannot be told
		}
		k2, s2, ok := TwoBackings(rw, gw, rb, gb)
		if !ok {
			t.Fatalf("K %.3g S %.3g: not found again", k, s)
		}
		near(t, "K", k2/k, 1, 1e-4)
		near(t, "S", s2/s, 1, 1e-4)
	}
	k, s, ok := TwoBackings(.85*.4, .85, .05*.4, .05)
	if !ok || s != 0 {
		t.Errorf("a clear film has S = %g, %v", s, ok)
	}
	near(t, "K of a clear film", k, -math.Log(.4)/2, 1e-12)
	for _, bad := range [][4]float64{{.5, .8, .6, .05}, {.3, .1, .2, .4}, {.9, .8, .04, .05}} {
		if k, s, ok := TwoBackings(bad[0], bad[1], bad[2], bad[3]); ok && !(k >= 0 && s >= 0) {
			t.Errorf("%v: K %g S %g", bad, k, s)
		}
	}
}

func TestAbsorption(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	for range 5000 {
		k, s, g := math.Exp(r.Float64()*8-6), math.Exp(r.Float64()*10-7), .01+.98*r.Float64()
		want := Over(k, s, g)
		near(t, "ln R", math.Log(Over(absorption(want, g, s), s, g)), math.Log(want), 1e-9)
	}
	if k := absorption(.9, .8, .1); k != 0 {
		t.Errorf("a film that is too dark with K = 0 gets K = %g", k)
	}
	least := leastScattering(.9, .8)
	near(t, "least scattering", Over(0, least, .8), .9, 1e-12)
}

func TestLayerIsOverBandByBand(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	var f Film
	var under spectrum.Reflectance
	for b := range under {
		f.K[b], f.S[b], under[b] = r.Float64()*2, r.Float64(), r.Float64()
	}
	for b, v := range NewLayer(&f).Over(&under) {
		near(t, "R", v, Over(f.K[b], f.S[b], under[b]), 1e-14)
	}
}

func BenchmarkLayerOver(b *testing.B) {
	f := Film{K: spectrum.Flat(.4), S: spectrum.Flat(.1)}
	l, under := NewLayer(&f), spectrum.Flat(.8)
	for b.Loop() {
		l.Over(&under)
	}
}
