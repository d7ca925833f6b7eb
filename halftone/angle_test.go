package halftone

import (
	"math"
	"slices"
	"testing"
)

func TestAngles(t *testing.T) {
	for _, c := range []struct {
		f        func([]float64) []float64
		darkness []float64
		want     []float64
	}{
		{Angles, nil, []float64{}},
		{Angles, []float64{0.4}, []float64{22.5}},
		{Angles, []float64{0.4, 0.9}, []float64{52.5, 22.5}},
		{Angles, []float64{0.1, 0.5, 0.9, 0.3}, []float64{7.5, 52.5, 22.5, 82.5}},
		{Angles, []float64{1, 1, 1}, []float64{22.5, 52.5, 82.5}},
		{DuplicatorAngles, []float64{0.4}, []float64{45}},
		{DuplicatorAngles, []float64{0.2, 0.8}, []float64{45, 75}},
		{DuplicatorAngles, []float64{0.2, 0.8, 0.5}, []float64{15, 75, 45}},
	} {
		if got := c.f(c.darkness); !slices.Equal(got, c.want) {
			t.Errorf("darkness %v: angles %v, want %v", c.darkness, got, c.want)
		}
	}
}

// Up to three inks lie 30° apart, up to six 15°, up to eight 7.5°, and none
// along or across the threads.
func TestAnglesApart(t *testing.T) {
	for k := 1; k <= 8; k++ {
		apart := map[bool]float64{true: 15, false: 7.5}[k <= 6]
		if k <= 3 {
			apart = 30
		}
		for name, f := range map[string]func([]float64) []float64{"mesh": Angles, "duplicator": DuplicatorAngles} {
			got := f(make([]float64, k))
			for i := range got {
				if name == "mesh" && math.Abs(math.Remainder(got[i], 45)) < 7 {
					t.Errorf("%d inks: %g° is along the threads or their diagonal", k, got[i])
				}
				for j := range i {
					if d := math.Abs(math.Remainder(got[i]-got[j], 90)); d < apart {
						t.Errorf("%s, %d inks: %g° and %g° are %g° apart, want %g", name, k, got[i], got[j], d, apart)
					}
				}
			}
		}
	}
}

func TestEqualAngles(t *testing.T) {
	names := []string{"deep kelp", "brick rust", "pale straw"}
	if f := EqualAngles(names, []float64{22.5, 52.5, 82.5}); f != nil {
		t.Errorf("different angles: %v", f)
	}
	f := EqualAngles(names, []float64{22.5, 52.5, 112.7})
	if len(f) != 1 || f[0].Code != "equal-angles" {
		t.Errorf("22.5° and 112.7°: %v, want one finding", f)
	}
	if f := EqualAngles(names, []float64{45, 45, 45}); len(f) != 3 {
		t.Errorf("three at 45°: %d findings, want 3", len(f))
	}
}

func TestParseRuling(t *testing.T) {
	for s, want := range map[string]float64{"45": 45, "45 lpi": 45, " 45lpi": 45, "18/cm": 45.72, "37.5": 37.5, "45/in": 45} {
		if got, err := ParseRuling(s); err != nil || math.Abs(got-want) > 1e-9 {
			t.Errorf("%q: %g, %v, want %g", s, got, err, want)
		}
	}
	for _, s := range []string{"", "lpi", "-45", "0", "18/m", "18 cm", "inf", "nan", "forty"} {
		if got, err := ParseRuling(s); err == nil {
			t.Errorf("%q: %g, want an error", s, got)
		}
	}
}

func TestParseDot(t *testing.T) {
	for d := Round; d <= None; d++ {
		if got, err := ParseDot(" " + d.String()); err != nil || got != d {
			t.Errorf("%v: %v, %v", d, got, err)
		}
	}
	if _, err := ParseDot("square"); err == nil {
		t.Error("square: want an error")
	}
	if s := Dot(77).String(); s != "dot 77" {
		t.Errorf("unknown dot is called %q", s)
	}
}
