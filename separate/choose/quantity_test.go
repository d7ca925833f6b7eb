package choose

import (
	"errors"
	"math"
	"strings"
	"testing"
)

func TestInkVolume(t *testing.T) {
	for _, c := range []struct {
		run       Run
		want, tol float64
	}{
		{Run{}, 25, 0},
		// 90/cm with 40 µm thread: open area 42 %, 25 cm³/m² (NBC handbook).
		{Run{Mesh: 90, Thread: 40}, 25, .8},
		{Run{Mesh: 90}, 25, .8},
		{Run{Mesh: 90, Volume: 31}, 31, 0},
	} {
		got, err := c.run.InkVolume()
		if err != nil || math.Abs(got-c.want) > c.tol {
			t.Errorf("%+v: %.2f cm³/m², want %.2f: %v", c.run, got, c.want, err)
		}
	}
}

func TestNeed(t *testing.T) {
	// An A3 sheet, half covered, 100 copies and no overs: 25 cm³/m² · .85 ·
	// 1.2 g/cm³ on 6.237 m² are 159.0 g [calc].
	run := Run{WidthMM: 420, HeightMM: 297, Copies: 100, Overs: math.NaN(), Charge: math.NaN()}
	n, err := run.Need(.5, nil)
	if err != nil || math.Abs(n.Grams-159.04) > .01 || math.Abs(n.PlusMinus-n.Grams/3) > .01 {
		t.Errorf("%+v, %v", n, err)
	}
	// The yield lies in what is common practice, 20 to 40 m²/kg.
	if yield := .5 * .42 * .297 * 100 / n.Grams * 1000; yield < 20 || yield > 40 {
		t.Errorf("%.1f m² a kilogram", yield)
	}
	run.Overs, run.Charge = 10, 150
	more, err := run.Need(.5, BasePart("tin", 60))
	if err != nil || math.Abs(more.Grams-(159.04*1.1+150)) > .01 || run.Sheets() != 110 {
		t.Errorf("%+v, %v", more, err)
	}
	if len(more.Parts) != 2 || math.Abs(more.Parts[0].Grams+more.Parts[1].Grams-more.Grams) > 1e-9 || math.Abs(more.Parts[1].Grams-.6*more.Grams) > 1e-9 {
		t.Errorf("parts %+v", more.Parts)
	}
	if s := run.Assumptions(); !strings.Contains(s, "110 sheets") || !strings.Contains(s, "150 g") || !strings.Contains(s, "rules of thumb") {
		t.Errorf("assumptions: %s", s)
	}
}

func TestWrongRuns(t *testing.T) {
	good := Run{WidthMM: 100, HeightMM: 100, Copies: 1}
	if _, err := good.Need(0, nil); err != nil {
		t.Fatal(err)
	}
	for want, spoil := range map[string]func(*Run){
		"give its size":       func(r *Run) { r.WidthMM = 0 },
		"1 or more copies":    func(r *Run) { r.Copies = 0 },
		"overs of -1":         func(r *Run) { r.Overs = -1 },
		"transfer share of 2": func(r *Run) { r.Transfer = 2 },
		"give about 1.2":      func(r *Run) { r.Density = -1 },
		"charge of -5":        func(r *Run) { r.Charge = -5 },
		"leave no opening":    func(r *Run) { r.Mesh, r.Thread = 90, 120 },
		"mesh of 1":           func(r *Run) { r.Mesh = 1 },
		"ink volume of -1":    func(r *Run) { r.Volume = -1 },
	} {
		r := good
		spoil(&r)
		_, err := r.Need(.5, nil)
		var q *QuestionError
		if !errors.As(err, &q) || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
	if _, err := good.Need(1.5, nil); err == nil {
		t.Error("a coverage of 150 % is taken")
	}
}
