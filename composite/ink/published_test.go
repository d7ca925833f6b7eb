package ink

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
)

// The layer against the two fluxes of Kubelka and Munk, integrated numerically
// by SciPy without any closed form [calc: testdata/twoflux.py].
func TestOverIsTheTwoFluxesIntegrated(t *testing.T) {
	f, err := os.Open("testdata/twoflux.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 300 {
		t.Fatalf("%d rows", len(rows))
	}
	for _, row := range rows[1:] {
		var v [5]float64
		for i := range v {
			if v[i], err = strconv.ParseFloat(row[i], 64); err != nil {
				t.Fatal(err)
			}
		}
		graded, k, s, under, want := v[0] == 1, v[1], v[2], v[3], v[4]
		if !graded {
			if got := Over(k, s, under); math.Abs(got-want) > 1e-10 {
				t.Errorf("K %g, S %g over %g: %.12f, integrated %.12f", k, s, under, got, want)
			}
			continue
		}
		// Thin films of the K and S in their middles: the error falls with the
		// square of their number.
		const films = 2000
		got := under
		for i := range films {
			x := (float64(i) + .5) / films
			got = Over(2*k*x/films, 2*s*(1-x)/films, got)
		}
		if math.Abs(got-want) > 2e-6 {
			t.Errorf("graded K %g, S %g over %g: %.9f, integrated %.9f", k, s, under, got, want)
		}
	}
}

// The tabulated Kubelka–Munk function K/S = (1 − R∞)²/2R∞, as it stands in the
// appendix of Judd and Wyszecki, "Color in Business, Science and Industry"
// [memory]: a film that hides has it.
func TestHidingFilmHasTheTabulatedReflectance(t *testing.T) {
	for _, tt := range []struct{ r, ks float64 }{
		{.05, 9.025}, {.1, 4.05}, {.2, 1.6}, {.25, 1.125}, {.3, .81667}, {.4, .45},
		{.5, .25}, {.6, .13333}, {.7, .064286}, {.8, .025}, {.9, .0055556},
	} {
		const s = 400
		for _, under := range []float64{0, .5, .95} {
			near(t, "R∞", Over(tt.ks*s, s, under), tt.r, 1e-5)
		}
		// And the inverse: the film of that scattering that reflects R∞.
		near(t, "K/S", absorption(tt.r, .5, s)/s, tt.ks, 1e-4*(1+tt.ks))
	}
}

// How paper and paint makers get scattering and absorption: from the
// reflectance over black, R0, and of a pile that hides, R∞,
//
//	s = R∞/(1−R∞²) · ln[R∞(1−R0·R∞)/(R∞−R0)],  k = s(1−R∞)²/2R∞
//
// (ISO 9416, after Kubelka 1948, for a weight of one [memory]). The film with
// that s and k has R0 over black and R∞ over itself.
func TestPaperStandardsAgree(t *testing.T) {
	for _, rInf := range []float64{.12, .35, .6, .745, .88} {
		for _, share := range []float64{.2, .5, .8, .95, .999} {
			r0 := share * rInf
			s := rInf / (1 - rInf*rInf) * math.Log(rInf*(1-r0*rInf)/(rInf-r0))
			k := s * (1 - rInf) * (1 - rInf) / (2 * rInf)
			near(t, "R0", Over(k, s, 0), r0, 1e-12)
			near(t, "R∞ over itself", Over(k, s, rInf), rInf, 1e-12)

			// Kubelka 1948: from any backing, a = (R + (R0−R+Rg)/(R0·Rg))/2, and
			// R∞ = a − √(a²−1) [memory].
			for _, rg := range []float64{.3, .8, .89} {
				r := Over(k, s, rg)
				a := (r + (r0-r+rg)/(r0*rg)) / 2
				near(t, "R∞ from a backing", a-math.Sqrt(a*a-1), rInf, 1e-9)

				// Far from hiding; near it the two readings are one.
				if share < .99 && rg-r0 > .05 {
					k2, s2, ok := TwoBackings(r, rg, r0, 0)
					if !ok {
						t.Fatalf("R∞ %g, R0 %g over %g: not found again", rInf, r0, rg)
					}
					near(t, "s of ISO 9416", s2, s, 1e-6*(1+s))
					near(t, "k of ISO 9416", k2, k, 1e-6*(1+k))
				}
			}
		}
	}
}

// Kubelka 1948: what a film transmits is b/(a·sinh bS + b·cosh bS), and two
// films over each other reflect R₁ + T₁²R₂/(1−R₁R₂) (Kubelka 1954, after
// Stokes 1862) [memory]. Halves of a film make the whole.
func TestFilmsOverEachOther(t *testing.T) {
	for _, k := range []float64{.01, .3, 2} {
		for _, s := range []float64{.02, .5, 4} {
			a := (s + k) / s
			b := math.Sqrt(a*a - 1)
			sinh, cosh := math.Sinh(b*s), math.Cosh(b*s)
			r1, t1 := sinh/(a*sinh+b*cosh), b/(a*sinh+b*cosh)
			for _, r2 := range []float64{0, .2, .6, .95} {
				near(t, "films over each other", Over(k, s, r2), r1+t1*t1*r2/(1-r1*r2), 1e-12)
				near(t, "halves", Over(k/2, s/2, Over(k/2, s/2, r2)), Over(k, s, r2), 1e-12)
			}
		}
	}
}
