package artwork

import (
	"math"
	"strings"
	"testing"
)

func TestParseLength(t *testing.T) {
	for s, want := range map[string]float64{
		"297mm": 297, "30cm": 300, "11.7in": 297.18, " 30 cm ": 300, "1IN": 25.4, ".5in": 12.7, "1e2mm": 100,
		"297": 0, "": 0, "mm": 0, "-3cm": 0, "0mm": 0, "3m": 0, "3 ft": 0, "nanmm": 0, "infmm": 0, "0x10mm": 0, "1_0mm": 0, "3mmm": 0, "1e400mm": 0,
	} {
		got, err := ParseLength(s)
		if want == 0 {
			if err == nil || !strings.Contains(err.Error(), "mm") {
				t.Errorf("%q: %v, %v; want an error with the mend", s, got, err)
			}
			continue
		}
		if err != nil || math.Abs(got-want) > 1e-9 {
			t.Errorf("%q: %v, %v; want %v", s, got, err, want)
		}
	}
}

func TestPrintSize(t *testing.T) {
	for _, c := range []struct {
		w, h   int
		ppi    float64
		width  string
		height string
		wMM    float64
		hMM    float64
		note   string // or error
		fails  bool
	}{
		{3508, 4961, 0, "297mm", "", 297, 420.016, "297.0 × 420.0 mm (300 ppi), by --width", false},
		{3508, 4961, 300, "", "420mm", 296.989, 420, "by --height", false},
		{3508, 4961, 300, "297mm", "420mm", 297, 420, "by --width and --height", false},
		{3508, 4961, 300, "297mm", "421.9mm", 297, 421.9, "by --width", false},
		{3508, 4961, 300, "297mm", "423mm", 0, 0, "not the shape of the picture, 3508 × 4961 pixels: give --width 297mm alone", true},
		{3000, 1500, 300, "", "", 254, 127, "by the resolution the file states", false},
		{3000, 1500, 0, "", "", 297, 148.5, "within A4", false},
		{1000, 1000, 0, "", "", 210, 210, "within A4", false},
		{500, 1000, 0, "", "", 148.5, 297, "(86 ppi), fitted within A4", false},
		{3000, 1000, 0, "", "", 297, 99, "within A4", false},
		{100, 100, 0, "297", "", 0, 0, "--width: the length \"297\" has no unit: write 297mm", true},
		{100, 100, 0, "10cm", "wide", 0, 0, "--height:", true},
		{100, 100, 0, "", "0mm", 0, 0, "--height:", true},
	} {
		p := &Picture{Width: c.w, Height: c.h, PPI: c.ppi}
		w, h, note, err := PrintSize(p, c.width, c.height)
		if c.fails {
			if err == nil || !strings.Contains(err.Error(), c.note) || strings.Contains(err.Error(), "\n") {
				t.Errorf("%+v: error %v", c, err)
			}
			continue
		}
		if err != nil || math.Abs(w-c.wMM) > .001 || math.Abs(h-c.hMM) > .001 || !strings.Contains(note, c.note) {
			t.Errorf("%+v: %v × %v, %q, %v", c, w, h, note, err)
		}
	}
}
