package halftone

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// A measured screen-print tone curve, film % → print % (mesh-maker's handbook,
// Sefar, "Half-tone printing", article 6566571).
func handbookCurve() [][2]float64 {
	return [][2]float64{{1, 0}, {6, 2}, {11, 7}, {17, 15}, {22, 22}, {32, 35}, {40, 44}, {47, 53}, {53, 59}, {63, 76},
		{69, 84}, {76, 89}, {83, 94}, {91, 98}, {99, 100}}
}

func TestCurveThroughPoints(t *testing.T) {
	c, err := NewCurve(handbookCurve())
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range append(handbookCurve(), [2]float64{0, 0}, [2]float64{100, 100}) {
		if got := c.Print(p[0]); math.Abs(got-p[1]) > 1e-9 {
			t.Errorf("Print(%g) = %g, want %g", p[0], got, p[1])
		}
	}
	for _, p := range handbookCurve()[1:14] {
		if got := c.Film(p[1]); math.Abs(got-p[0]) > 1e-6 {
			t.Errorf("Film(%g) = %g, want %g", p[1], got, p[0])
		}
	}
	if c.Film(0) != 0 || c.Film(100) != 100 {
		t.Errorf("Film(0) = %g, Film(100) = %g, want 0 and 100", c.Film(0), c.Film(100))
	}
}

// Monotone, no overshoot, and Film is Print's inverse, whatever the points.
func TestCurveProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 8).Draw(t, "points")
		var pts [][2]float64
		film, print := 0.0, 0.0
		for range n {
			film += rapid.Float64Range(0.5, 12).Draw(t, "film step")
			print += rapid.Float64Range(0, 12).Draw(t, "print step")
			pts = append(pts, [2]float64{film, print})
		}
		c, err := NewCurve(pts)
		if err != nil {
			t.Fatal(err)
		}
		before := 0.0
		for f := 0.0; f <= 100; f += 0.25 {
			p := c.Print(f)
			if p < before-1e-9 || p < 0 || p > 100+1e-9 {
				t.Fatalf("Print(%g) = %g after %g", f, p, before)
			}
			before = p
		}
		for p := 0.5; p < 100; p += 0.5 {
			if got := c.Print(c.Film(p)); math.Abs(got-p) > 1e-6 {
				t.Fatalf("Print(Film(%g)) = %g", p, got)
			}
		}
	})
}

func TestNewCurveErrors(t *testing.T) {
	for name, pts := range map[string][][2]float64{
		"falls":         {{20, 30}, {40, 25}},
		"twice":         {{20, 30}, {20, 31}},
		"above 100":     {{20, 130}},
		"not a number":  {{math.NaN(), 30}},
		"falls at last": {{0, 5}, {100, 4}},
	} {
		if _, err := NewCurve(pts); err == nil {
			t.Errorf("%s: want an error", name)
		}
	}
}

func TestCompensation(t *testing.T) {
	c, err := NewCurve(handbookCurve())
	if err != nil {
		t.Fatal(err)
	}
	table, err := Compensation(c, 5, 95)
	if err != nil {
		t.Fatal(err)
	}
	for i := 1; i < len(table); i++ {
		if table[i] < table[i-1] {
			t.Fatalf("table falls at %d", i)
		}
		f := float64(table[i]) / Full * 100
		if f != 0 && f < 5-1e-3 || f > 95+1e-3 && f != 100 {
			t.Fatalf("coverage %d becomes film %.3f %%, beyond the limits", i, f)
		}
		if want := float64(i) / Full * 100; f > 5.1 && f < 94.9 && math.Abs(c.Print(f)-want) > 0.01 {
			t.Fatalf("coverage %.3f %% prints %.3f %%", want, c.Print(f))
		}
	}
	if table[0] != 0 || table[Full] != Full {
		t.Errorf("nothing becomes %d, solid %d", table[0], table[Full])
	}
	for _, l := range [][2]float64{{-1, 100}, {0, 101}, {60, 50}, {math.NaN(), 100}} {
		if _, err := Compensation(c, l[0], l[1]); err == nil {
			t.Errorf("limits %v: want an error", l)
		}
	}
}

// Without curve and limits the table changes nothing; with limits a tint takes
// the nearer of the limit and nothing.
func TestCompensationLimits(t *testing.T) {
	table, err := Compensation(nil, 0, 100)
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range table {
		if int(v) != i {
			t.Fatalf("coverage %d becomes %d", i, v)
		}
	}
	if table, err = Compensation(nil, 10, 80); err != nil {
		t.Fatal(err)
	}
	for _, c := range [][2]float64{{4.9, 0}, {5.1, 10}, {9, 10}, {11, 11}, {79, 79}, {85, 80}, {89.9, 80}, {90.1, 100}} {
		if got := table[percent(c[0])]; got != percent(c[1]) {
			t.Errorf("%g %% becomes %.2f %%, want %g", c[0], float64(got)/Full*100, c[1])
		}
	}
}
