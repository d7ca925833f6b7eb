package film

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestParseSize(t *testing.T) {
	cases := []struct {
		in   string
		w, h float64 // 0: an error
	}{
		{"A3", 297, 420}, {" a4 ", 210, 297}, {"A0", 841, 1189}, // ISO 216
		{"letter", 215.9, 279.4}, {"Tabloid", 279.4, 431.8}, // ANSI/ASME Y14.1, 8.5 x 11 and 11 x 17 in
		{"420x297mm", 420, 297}, {"420mm x 297mm", 420, 297}, {"42x29.7cm", 420, 297}, {"11x17in", 279.4, 431.8},
		{"42cm × 11in", 420, 279.4}, {"330 x 482 mm", 330, 482},
		{"", 0, 0}, {"A", 0, 0}, {"A9", 0, 0}, {"420x297", 0, 0}, {"420mm", 0, 0}, {"420x297ft", 0, 0}, {"-1x5mm", 0, 0},
		{"0x5mm", 0, 0}, {"infx5mm", 0, 0}, {"nanx5mm", 0, 0}, {"5x5x5mm", 0, 0}, {"420mmx297", 0, 0},
	}
	for _, c := range cases {
		w, h, err := ParseSize(c.in)
		if c.w == 0 {
			if err == nil {
				t.Errorf("%q read as %v x %v mm", c.in, w, h)
			}
			continue
		}
		if err != nil || math.Abs(w-c.w) > 1e-9 || math.Abs(h-c.h) > 1e-9 {
			t.Errorf("%q: %v x %v mm, %v; want %v x %v", c.in, w, h, err, c.w, c.h)
		}
	}
}

func FuzzParseSize(f *testing.F) {
	for _, s := range []string{"A3", "420x297mm", "11x17in", "1e9x2mm", "×mm"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		w, h, err := ParseSize(s)
		if err == nil && !(w > 0 && h > 0 && !math.IsInf(w, 0) && !math.IsInf(h, 0)) {
			t.Errorf("%q read as %v x %v mm", s, w, h)
		}
	})
}

// TestPixelSizes holds round(mm·dpi/25.4) for sheet and area.
func TestPixelSizes(t *testing.T) {
	cases := []struct {
		sheet          Sheet
		w, h, ox, oy   int
		aw, ah         int
		sheetW, sheetH float64
	}{
		// 297·600/25.4 = 7015.7, 210·600/25.4 = 4960.6 [calc]
		{Sheet{WidthMM: 297, HeightMM: 210, DPI: 600, NoMarks: true}, 7016, 4961, 0, 0, 7016, 4961, 297, 210},
		{Sheet{WidthMM: 100, HeightMM: 50, DPI: 1200, NoMarks: true}, 4724, 2362, 0, 0, 4724, 2362, 100, 50},
		// 420·300/25.4 = 4960.6, (420-100)/2·300/25.4 = 1889.8, (297-50)/2·300/25.4 = 1458.7 [calc]
		{Sheet{WidthMM: 100, HeightMM: 50, DPI: 300, NoMarks: true, Film: "A3"}, 4961, 3508, 1890, 1459, 1181, 591, 420, 297},
		// margins of 19 mm each side: 335·600/25.4 = 7913.4, 19·600/25.4 = 448.8 [calc]
		{Sheet{WidthMM: 297, HeightMM: 210, DPI: 600}, 7913, 5858, 449, 449, 7016, 4961, 335, 248},
	}
	for _, c := range cases {
		l := mustLayout(t, c.sheet)
		w, h := l.Size()
		ox, oy := l.Origin()
		aw, ah := l.Area()
		mw, mh := l.SizeMM()
		if w != c.w || h != c.h || ox != c.ox || oy != c.oy || aw != c.aw || ah != c.ah || mw != c.sheetW || mh != c.sheetH {
			t.Errorf("%+v: sheet %d x %d, origin %d, %d, area %d x %d, %v x %v mm; want %+v", c.sheet, w, h, ox, oy, aw, ah, mw, mh, c)
		}
	}
}

// TestSheetHoldsItsArea is a property of every sheet: pixels come from its
// millimetres and the area lies inside.
func TestSheetHoldsItsArea(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := Sheet{
			WidthMM:  rapid.Float64Range(20, 900).Draw(t, "w"),
			HeightMM: rapid.Float64Range(20, 900).Draw(t, "h"),
			DPI:      rapid.Float64Range(30, 2400).Draw(t, "dpi"),
			Film:     rapid.SampledFrom([]string{"", "A0", "A2", "A4", "letter"}).Draw(t, "film"),
			NoMarks:  rapid.Bool().Draw(t, "bare"),
			Mirror:   rapid.Bool().Draw(t, "mirror"),
		}
		l, err := New(s)
		if fit := (*FitError)(nil); errors.As(err, &fit) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		px := func(mm float64) int { return int(math.Floor(mm*s.DPI/25.4 + .5)) }
		mw, mh := l.SizeMM()
		w, h := l.Size()
		x, y := l.Origin()
		aw, ah := l.Area()
		if w != px(mw) || h != px(mh) || aw != px(s.WidthMM) || ah != px(s.HeightMM) {
			t.Fatalf("sheet %d x %d, area %d x %d pixels for %v x %v mm", w, h, aw, ah, mw, mh)
		}
		if x < 0 || y < 0 || x+aw > w || y+ah > h {
			t.Fatalf("area %d x %d at %d, %d leaves the sheet of %d x %d", aw, ah, x, y, w, h)
		}
	})
}

// TestLargestWidthFits holds what an error promises: that width fits, and one a
// fifth of a millimetre wider does not.
func TestLargestWidthFits(t *testing.T) {
	cases := []Sheet{
		{WidthMM: 400, HeightMM: 280, DPI: 300, Film: "A3"},
		{WidthMM: 280, HeightMM: 400, DPI: 300, Film: "A3", BleedMM: 3},
		{WidthMM: 400, HeightMM: 280, DPI: 300, Film: "A4"},
		{WidthMM: 900, HeightMM: 300, DPI: 300, Film: "420x297mm"},
		{WidthMM: 400, HeightMM: 400, DPI: 300, Film: "A3", NoMarks: true},
		{WidthMM: 60, HeightMM: 700, DPI: 300, Film: "11x17in"},
	}
	for _, s := range cases {
		_, err := New(s)
		fit := (*FitError)(nil)
		if !errors.As(err, &fit) {
			t.Errorf("%+v: %v", s, err)
			continue
		}
		shape := s.HeightMM / s.WidthMM
		s.WidthMM, s.HeightMM = fit.LargestWidthMM, fit.LargestWidthMM*shape
		if _, err := New(s); err != nil {
			t.Errorf("the width promised does not fit: %v", err)
		}
		s.WidthMM += .2
		s.HeightMM = s.WidthMM * shape
		if _, err := New(s); err == nil {
			t.Errorf("film %s: %v mm fits where %v was said to be the largest", s.Film, s.WidthMM, fit.LargestWidthMM)
		}
		if !strings.Contains(err.Error(), decimal(fit.LargestWidthMM, 1)+" mm") {
			t.Errorf("the error does not name the width: %v", err)
		}
	}
}

func TestBadSheets(t *testing.T) {
	cases := []struct {
		sheet Sheet
		want  string
	}{
		{Sheet{}, "must be positive"},
		{Sheet{WidthMM: 100, HeightMM: math.NaN(), DPI: 300}, "must be positive"},
		{Sheet{WidthMM: 100, HeightMM: 100}, "film resolution"},
		{Sheet{WidthMM: 100, HeightMM: 100, DPI: math.Inf(1)}, "film resolution"},
		{Sheet{WidthMM: 100, HeightMM: 100, DPI: 300, BleedMM: 50}, "bleed"},
		{Sheet{WidthMM: 100, HeightMM: 100, DPI: 300, BleedMM: -1}, "bleed"},
		{Sheet{WidthMM: 120.0 / 7, HeightMM: 100, DPI: 300, BleedMM: 60.0 / 7}, "bleed of 8.6 mm leaves nothing of a plate area of 17.1 x 100 mm"},
		{Sheet{WidthMM: 100, HeightMM: 100, DPI: 300, Film: "B"}, "no film size"},
		{Sheet{WidthMM: 210, HeightMM: 297, DPI: 300, Film: "90x90mm"}, "too small for any marks"},
	}
	for _, c := range cases {
		_, err := New(c.sheet)
		if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%+v: %v; want a line with %q", c.sheet, err, c.want)
		}
	}
}

// TestFilmLiesAsTheArtworkDoes holds the choice between portrait and landscape.
func TestFilmLiesAsTheArtworkDoes(t *testing.T) {
	cases := []struct {
		w, h      float64
		landscape bool
	}{{200, 100, true}, {100, 200, false}, {180, 250, false}, {300, 190, true}}
	for _, c := range cases {
		w, h := mustLayout(t, Sheet{WidthMM: c.w, HeightMM: c.h, DPI: 100, Film: "A3"}).Size()
		if (w > h) != c.landscape {
			t.Errorf("artwork of %v x %v mm: film of %d x %d", c.w, c.h, w, h)
		}
	}
}
