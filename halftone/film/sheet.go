package film

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

const mmPerInch = 25.4

// Sheet states the films of one job. All its plates share it.
type Sheet struct {
	WidthMM, HeightMM float64 // the plate's area: the artwork with its bleed
	DPI               float64 // film resolution
	BleedMM           float64 // how much of the area on each side lies outside the trim
	Film              string  // "A3", "A4" …, "letter", "tabloid", "420x297mm", "11x17in"; "" is as large as needed
	NoMarks           bool    // the plate's area alone
	Mirror            bool    // flipped left to right, marks and label with it
	Negative          bool    // black where no ink prints
}

// FitError reports an artwork that is too large for the film.
type FitError struct {
	Film           string  // as asked for
	WidthMM        float64 // of the artwork that does not fit
	HeightMM       float64
	LargestWidthMM float64 // the largest width of an artwork of this shape that fits, rounded down to 0.1 mm; 0 when none does
	Marks          bool    // whether room for the marks is part of it
}

func (e *FitError) Error() string {
	with := ""
	if e.Marks {
		with = " with its marks"
	}
	head := fmt.Sprintf("film: artwork of %s x %s mm%s does not fit film %s: ", decimal(e.WidthMM, 1), decimal(e.HeightMM, 1), with, e.Film)
	switch {
	case e.LargestWidthMM > 0:
		return head + "the largest width that does is " + decimal(e.LargestWidthMM, 1) + " mm; print it that wide or take a larger film"
	case e.Marks:
		return head + "the film is too small for any marks; take a larger film or leave the marks away"
	}
	return head + "take a larger film"
}

// named holds film sizes in mm, portrait: the A series of ISO 216, and the
// sizes of ANSI/ASME Y14.1 that printers sell as letter and tabloid.
var named = [...]struct {
	name string
	w, h float64
}{
	{"A0", 841, 1189}, {"A1", 594, 841}, {"A2", 420, 594}, {"A3", 297, 420}, {"A4", 210, 297}, {"A5", 148, 210}, {"A6", 105, 148},
	{"letter", 8.5 * mmPerInch, 11 * mmPerInch}, {"tabloid", 11 * mmPerInch, 17 * mmPerInch},
}

// units in mm.
var units = [...]struct {
	name string
	mm   float64
}{{"mm", 1}, {"cm", 10}, {"in", mmPerInch}}

// ParseSize reads a film size: a name (A0 … A6, letter, tabloid) or two lengths
// with their unit, "420x297mm" or "420mm x 297mm". It returns mm.
func ParseSize(s string) (wMM, hMM float64, err error) {
	for _, n := range named {
		if strings.EqualFold(n.name, strings.TrimSpace(s)) {
			return n.w, n.h, nil
		}
	}
	bad := fmt.Errorf("film: no film size %q: give A3, A4, letter, tabloid or two lengths like 420x297mm", s)
	low := strings.ReplaceAll(strings.ToLower(strings.ReplaceAll(s, "×", "x")), " ", "")
	a, b, ok := strings.Cut(low, "x")
	if !ok {
		return 0, 0, bad
	}
	hMM, unit, ok := length(b)
	if !ok || unit == "" {
		return 0, 0, bad
	}
	wMM, own, ok := length(a)
	if ok && own == "" {
		wMM, _, ok = length(a + unit)
	}
	if !ok {
		return 0, 0, bad
	}
	return wMM, hMM, nil
}

// length reads a positive number with or without a unit and returns it in mm
// (or as it stands, without a unit), and the unit.
func length(s string) (mm float64, unit string, ok bool) {
	scale := 1.0
	for _, u := range units {
		if t, found := strings.CutSuffix(s, u.name); found {
			s, unit, scale = t, u.name, u.mm
			break
		}
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || !(v > 0) || math.IsInf(v, 0) {
		return 0, "", false
	}
	return v * scale, unit, true
}

func (s *Sheet) check() error {
	bad := func(v float64) bool { return !(v > 0) || math.IsInf(v, 0) }
	switch {
	case bad(s.WidthMM) || bad(s.HeightMM):
		return fmt.Errorf("film: plate area of %s x %s mm: both must be positive", decimal(s.WidthMM, 1), decimal(s.HeightMM, 1))
	case bad(s.DPI):
		return fmt.Errorf("film: film resolution of %v dpi: give a positive number such as 1200", s.DPI)
	case !(s.BleedMM >= 0) || 2*s.BleedMM >= math.Min(s.WidthMM, s.HeightMM):
		return fmt.Errorf("film: bleed of %s mm leaves nothing of a plate area of %s x %s mm: give a smaller one",
			decimal(s.BleedMM, 1), decimal(s.WidthMM, 1), decimal(s.HeightMM, 1))
	}
	return nil
}

// decimal writes v with at most n decimals and no trailing zeros.
func decimal(v float64, n int) string {
	s := strconv.FormatFloat(v, 'f', n, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}
