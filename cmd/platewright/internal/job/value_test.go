package job

import (
	"math"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

func TestValues(t *testing.T) {
	var l Length
	for typed, mm := range map[string]float64{"297mm": 297, "30cm": 300, "10in": 254, " 11.7in ": 297.18, "": 0} {
		if err := (Setting{Value: &l}).Set(typed, false); err != nil || math.Abs(l.MM()-mm) > 1e-9 {
			t.Errorf("length %q: %v mm, %v; want %v", typed, l.MM(), err, mm)
		}
	}
	for _, typed := range []string{"297", "mm", "-3mm", "0mm", "3px", "1e9mm", "nanmm", "infmm"} {
		if err := l.UnmarshalText([]byte(typed)); err == nil {
			t.Errorf("length %q was taken", typed)
		}
	}
	var r Ruling
	for typed, lpi := range map[string]float64{"45": 45, "18/cm": 45.72, "45lpi": 45} {
		if err := r.UnmarshalText([]byte(typed)); err != nil || math.Abs(r.LPI()-lpi) > 1e-9 {
			t.Errorf("ruling %q: %v, %v; want %v", typed, r.LPI(), err, lpi)
		}
	}
	var f Formats
	for typed, want := range map[string]Formats{"tiff": {"tiff"}, "png, pdf,png": {"png", "pdf"}, "none": {"none"}} {
		if err := (Setting{Value: &f}).Set(typed, false); err != nil || !reflect.DeepEqual(f, want) {
			t.Errorf("films %q: %v, %v", typed, f, err)
		}
	}
}

func TestPerInk(t *testing.T) {
	p := PerInk("60,deep kelp=40, Brick Rust =22.5")
	for ink, want := range map[string]float64{"deep kelp": 40, "brick rust": 22.5, "other": 60} {
		if v, ok := p.Of(ink); !ok || v != want {
			t.Errorf("%s: %v, %v; want %v", ink, v, ok, want)
		}
	}
	if _, ok := PerInk("deep kelp=40").Of("other"); ok {
		t.Error("an ink without a number has one")
	}
	if got := PerInkOf([]string{"deep kelp", "b"}, []float64{22.5, 7}); got != "deep kelp=22.5,b=7" {
		t.Errorf("written as %q", got)
	}
	for _, typed := range []string{"x", "=3", "a=", "a=b", "nan"} {
		if err := new(PerInk).UnmarshalText([]byte(typed)); err == nil {
			t.Errorf("%q was taken", typed)
		}
	}
}

func TestScreenAngles(t *testing.T) {
	names := []string{"a", "b", "c", "d"}
	for _, c := range []struct {
		process  Process
		darkness []float64
		angle    PerInk
		want     []float64
	}{
		{"silkscreen", []float64{60, 50, 40}, "", []float64{22.5, 52.5, 82.5}},
		{"silkscreen", []float64{60, 5, 50, 40}, "", []float64{22.5, 7.5, 52.5, 82.5}},
		{"silkscreen", nil, "", []float64{22.5, 52.5, 82.5, 7.5}},
		{"silkscreen", []float64{60, 50, 40}, "b=45", []float64{22.5, 45, 82.5}},
		{"silkscreen", []float64{60, 50}, "30", []float64{30, 30}},
		{"duplicator", []float64{20, 70}, "", []float64{45, 75}},
	} {
		j := New()
		j.Process, j.Angle = c.process, c.angle
		n := len(c.darkness)
		if n == 0 {
			n = 4
		}
		if got := j.screenAngles(names[:n], c.darkness); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%+v: %v", c, got)
		}
	}
}

func TestShifts(t *testing.T) {
	inks := []string{"a", "b", "c"}
	got, err := ParseShifts([]string{"1mm", "b=0.5mm/-0.2mm", "c=0/1cm"}, inks)
	if want := []Shift{{}, {.5, -.2}, {0, 10}}; err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("%v, %v; want %v", got, err, want)
	}
	all, err := ParseShifts([]string{"1mm"}, inks)
	if err != nil || all[0] != (Shift{}) || math.Abs(math.Hypot(all[1].X, all[1].Y)-1) > 1e-5 || all[1] == all[2] {
		t.Errorf("%v, %v", all, err)
	}
	for _, typed := range []string{"1", "d=1mm/1mm", "b=1mm", "b=1mm/x", ""} {
		if _, err := ParseShifts([]string{typed}, inks); err == nil {
			t.Errorf("%q was taken", typed)
		}
	}
}

func TestShifted(t *testing.T) {
	p := &Plate{WidthMM: 4 * 25.4, HeightMM: 25.4} // one pixel an inch
	p.Width, p.Height, p.Cov = 4, 1, []uint16{0, 1000, 0, 0}
	for _, c := range []struct {
		inches float64
		want   []uint16
	}{
		{0, []uint16{0, 1000, 0, 0}},
		{1, []uint16{0, 0, 1000, 0}},
		{-1, []uint16{1000, 0, 0, 0}},
		{.5, []uint16{0, 500, 500, 0}},
		{9, []uint16{0, 0, 0, 0}},
	} {
		if got := p.Shifted(Shift{X: c.inches * 25.4}); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%v inch: %v, want %v", c.inches, got, c.want)
		}
	}
}

func TestFileName(t *testing.T) {
	for text, want := range map[string]string{
		"deep kelp": "deep-kelp", "a/b\\c": "a-b-c", "..": "untitled", "": "untitled", " x ": "x", "con": "con_", "LPT1.v2": "LPT1.v2_",
		"a\x00b\nc": "a-b-c", "\xff\xfe": "untitled", "prüfung": "prüfung", ".hidden": "hidden", "a--b": "a-b", "console": "console",
	} {
		if got := FileName(text); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.Map(rapid.SliceOf(rapid.Byte()), func(b []byte) string { return string(b) })).Draw(t, "text")
		got := FileName(text)
		if got == "" || len(got) > nameBytes+1 || !utf8.ValidString(got) || strings.ContainsAny(got, "/\\ \x00:") || !filepath.IsLocal(got) || got != FileName(got) && !strings.HasSuffix(got, "_") {
			t.Fatalf("%q became %q", text, got)
		}
	})
}

func TestNearest(t *testing.T) {
	words := []string{"separate", "proof", "film"}
	for typed, want := range map[string]string{"seperate": "separate", "prof": "proof", "films": "film", "xyz": "", "": ""} {
		if got := Nearest(typed, words); got != want {
			t.Errorf("%q: %q, want %q", typed, got, want)
		}
	}
}
