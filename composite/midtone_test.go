package composite

import (
	"math"
	"math/rand/v2"
	"testing"

	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

// bentModel prints four inks of a measured condition with these tints of
// overlaps measured.
func bentModel(t testing.TB, films ...[4]float64) (*Model, *table) {
	t.Helper()
	tab := readTable(t, "fogra29l-uncoated.csv")
	s := tab.shelf(t, ink.Uncoated, true, 4)
	for _, film := range films {
		var o ink.Overprint
		for i, f := range film {
			if f > 0 {
				o.Inks, o.Film = append(o.Inks, s.Inks[i].Name), append(o.Film, f)
			}
		}
		var ok bool
		if o.Color, ok = tab.color[film]; !ok {
			t.Fatalf("no patch %v", film)
		}
		s.Overprints = append(s.Overprints, o)
	}
	if err := s.Prepare(); err != nil {
		t.Fatal(err)
	}
	return model(t, s, 0, 1, 2, 3), tab
}

var bentFilms = [][4]float64{{40, 40, 0, 0}, {0, 40, 40, 0}, {40, 0, 0, 100}, {40, 40, 40, 0}, {0, 100, 40, 0}}

// Measured tints of overlaps come back within what the ridge takes, solids and
// tints of single inks stay, and what lies near them gets better.
func TestMeasuredTintsOfOverlaps(t *testing.T) {
	bent, tab := bentModel(t, bentFilms...)
	plain, _ := bentModel(t)
	for _, film := range bentFilms {
		cov := []float64{film[0] / 100, film[1] / 100, film[2] / 100, film[3] / 100}
		was, is := spectrum.DeltaE(plain.Lab(cov), tab.color[film].Lab()), spectrum.DeltaE(bent.Lab(cov), tab.color[film].Lab())
		if is > .02 || was < .3 {
			t.Errorf("%v: ΔE %.3f, %.3f without the measurement", film, is, was)
		}
	}
	for mask := uint(0); mask < 16; mask++ {
		cov := make([]float64, 4)
		for i := range cov {
			cov[i] = float64(mask >> i & 1)
		}
		if d := spectrum.DeltaE(bent.Lab(cov), tab.color[solids(mask)].Lab()); d > 1e-6 {
			t.Errorf("solids %04b moved by ΔE %g", mask, d)
		}
	}
	for i := range 4 {
		cov := make([]float64, 4)
		cov[i] = .6
		if d := spectrum.DeltaE(bent.Lab(cov), plain.Lab(cov)); d > 1e-9 {
			t.Errorf("a tint of ink %d alone moved by ΔE %g", i, d)
		}
	}
	before, _, _ := tab.errors(plain)
	after, _, most := tab.errors(bent)
	if after > before-.1 || most > 3 {
		t.Errorf("all patches: mean ΔE %.3f from %.3f, largest %.2f", after, before, most)
	}
}

// Two measured levels of the same overlap are met in the mean.
func TestTwoLevelsOfATintOfOverlap(t *testing.T) {
	m, tab := bentModel(t, [4]float64{40, 40, 0, 0}, [4]float64{70, 70, 0, 0})
	for _, film := range [][4]float64{{40, 40, 0, 0}, {70, 70, 0, 0}} {
		d := spectrum.DeltaE(m.Lab([]float64{film[0] / 100, film[1] / 100, 0, 0}), tab.color[film].Lab())
		if !(d < 1) {
			t.Errorf("%v: ΔE %.2f", film, d)
		}
	}
}

// The derivatives of a bent model agree with differences, and both ways of
// computing its colors with each other.
func TestBentDerivatives(t *testing.T) {
	m, _ := bentModel(t, bentFilms...)
	e := m.NewEvaluator()
	rnd := rand.New(rand.NewPCG(1, 2))
	for range 300 {
		cov := make([]float64, 4)
		for i := range cov {
			// Inside an interval of the sampled tone curve, where it is straight.
			cov[i] = (math.Floor(rnd.Float64()*256) + .2 + .6*rnd.Float64()) / 256
		}
		c, j := e.XYZJacobian(cov)
		jac := append([]spectrum.XYZ(nil), j...)
		if d := e.XYZ(cov); math.Abs(d[0]-c[0])+math.Abs(d[1]-c[1])+math.Abs(d[2]-c[2]) > 1e-9 {
			t.Fatalf("%v: %v and %v", cov, c, d)
		}
		const h = 1e-5
		for i := range cov {
			at := cov[i]
			cov[i] = at + h
			up := e.XYZ(cov)
			cov[i] = at - h
			down := e.XYZ(cov)
			cov[i] = at
			for ch := range up {
				if want := (up[ch] - down[ch]) / (2 * h); math.Abs(jac[i][ch]-want) > 1e-4*(1+math.Abs(want)) {
					t.Fatalf("%v: d%d/d%d is %g, differences say %g", cov, ch, i, jac[i][ch], want)
				}
			}
		}
	}
}

// Tints of overlaps measured on another paper or in another order say nothing.
func TestTintsOfOverlapsOfAnotherOrder(t *testing.T) {
	tab := readTable(t, "fogra29l-uncoated.csv")
	s := tab.shelf(t, ink.Uncoated, true, 4)
	s.Overprints = append(s.Overprints, ink.Overprint{Inks: []string{"magenta", "cyan"}, Film: []float64{40, 40}, Color: spectrum.White()})
	if err := s.Prepare(); err != nil {
		t.Fatal(err)
	}
	if m := model(t, s, 0, 1, 2, 3); m.radix != nil {
		t.Error("the tint bends the model")
	}
	if m := model(t, s, 1, 0, 2, 3); m.radix == nil {
		t.Error("the tint does not bend the model")
	}
}

func BenchmarkBentXYZJacobian(b *testing.B) {
	m, _ := bentModel(b, bentFilms...)
	e := m.NewEvaluator()
	cov := []float64{.3, .2, .6, .1}
	b.ReportAllocs()
	for b.Loop() {
		e.XYZJacobian(cov)
	}
}

func BenchmarkBentXYZ(b *testing.B) {
	m, _ := bentModel(b, bentFilms...)
	e := m.NewEvaluator()
	cov := []float64{.3, .2, .6, .1}
	b.ReportAllocs()
	for b.Loop() {
		e.XYZ(cov)
	}
}

func BenchmarkPlainXYZJacobian(b *testing.B) {
	m, _ := bentModel(b)
	e := m.NewEvaluator()
	cov := []float64{.3, .2, .6, .1}
	b.ReportAllocs()
	for b.Loop() {
		e.XYZJacobian(cov)
	}
}
