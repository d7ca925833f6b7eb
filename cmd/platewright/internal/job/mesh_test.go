package job

import (
	"math"
	"testing"
)

func TestRulingPerInk(t *testing.T) {
	for typed, want := range map[string]map[string]float64{
		"45":                        {"": 45, "deep kelp": 45},
		"18/cm":                     {"deep kelp": 45.72},
		"deep kelp=55":              {"": 45, "Deep Kelp": 55, "brick rust": 45},
		"30, deep kelp=20/cm":       {"deep kelp": 50.8, "brick rust": 30},
		"deep kelp=55,brick rust=5": {"deep kelp": 55, "brick rust": 5},
	} {
		var r Ruling
		if err := r.UnmarshalText([]byte(typed)); err != nil {
			t.Errorf("%q: %v", typed, err)
		}
		for ink, lpi := range want {
			if got := r.Of(ink); math.Abs(got-lpi) > 1e-9 {
				t.Errorf("%q: %s has %g lpi, want %g", typed, ink, got, lpi)
			}
		}
	}
	for _, typed := range []string{"", "=45", "kelp=", "kelp=0", "45,x"} {
		var r Ruling
		if err := r.UnmarshalText([]byte(typed)); err == nil {
			t.Errorf("%q was taken", typed)
		}
	}
}

// 45 lpi on 230 threads per inch, harmonics up to 6 [calc]: 0° 5.08 mm, 22.5°
// 2.01 mm. Two equal halftones at 30°: 1.932 times the line, 1.09 mm [calc]; 600
// dpi at 45 lpi hold 178.8 levels [calc].
func TestMeshReport(t *testing.T) {
	j := New()
	j.Mesh, j.FilmDPI = "230/in", 600
	s, err := j.newFilmSet([]string{"deep kelp", "brick rust", "lemon peel"}, 100, 100)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.makeScreens([]float64{22.5, 52.5, 0}); err != nil {
		t.Fatal(err)
	}
	m := s.Mesh
	if m == nil || len(m.Inks) != 3 || len(m.Pairs) != 3 {
		t.Fatalf("%+v", m)
	}
	for _, c := range []struct{ got, want, tol float64 }{
		{m.Inks[0].BeatMM, 2.01, .005}, {m.Inks[2].BeatMM, 5.08, .005}, {m.Inks[0].Levels, 178.8, .05},
		{m.Inks[0].ThreadsPerLine, 5.11, .005}, {m.Pairs[0].BeatMM, 1.0905, .001},
	} {
		if math.Abs(c.got-c.want) > c.tol {
			t.Errorf("%g, want %g", c.got, c.want)
		}
	}
	if b := m.Inks[0].BetterBeatMM; b <= 0 || b >= 5.08 {
		t.Errorf("a better pair beats at %g mm", b)
	}
	if len(m.words()) != 4 {
		t.Errorf("%q", m.words())
	}
	j.Mesh = ""
	if s, err = j.newFilmSet([]string{"deep kelp"}, 100, 100); err != nil {
		t.Fatal(err)
	}
	if err := s.makeScreens([]float64{22.5}); err != nil || s.Mesh != nil {
		t.Errorf("advice without a mesh: %+v, %v", s.Mesh, err)
	}
}
