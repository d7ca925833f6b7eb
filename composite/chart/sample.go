package chart

import (
	"fmt"
	"math"
	"strings"

	"platewright/composite/spectrum"
)

// A Sample is one measured patch.
type Sample struct {
	Name      string                // which patch it is, for people: "line 12", "row 3, place 5"
	Film      []float64             // film percent of each ink, 0 … 100
	OverBlack bool                  // printed over black instead of the bare paper
	Color     spectrum.XYZ          // D50, a perfect white has Y = 100
	Spectrum  *spectrum.Reflectance // nil when only the color is known
	Spread    float64               // how far pulls and parts of the patch vary, ΔE00; 0: not known
}

// key tells samples of the same patch.
func (s *Sample) key() string {
	var b strings.Builder
	for _, f := range s.Film {
		fmt.Fprintf(&b, "%.2f ", f)
	}
	if s.OverBlack {
		b.WriteString("black")
	}
	return b.String()
}

// mask returns the inks of the patch; solid is whether none of them is a tint.
func (s *Sample) mask() (mask uint, solid bool) {
	solid = true
	for i, f := range s.Film {
		if f > 0 {
			mask |= 1 << i
			solid = solid && f == 100
		}
	}
	return mask, solid
}

// Words names the patch by what is printed there.
func (s *Sample) Words(inks []string) string {
	var parts []string
	for i, f := range s.Film {
		switch {
		case f == 100:
			parts = append(parts, inks[i])
		case f > 0:
			parts = append(parts, fmt.Sprintf("%s %.4g %%", inks[i], f))
		}
	}
	text := strings.Join(parts, " + ")
	if text == "" {
		text = "paper"
	}
	if s.OverBlack {
		if len(parts) == 0 {
			return "black"
		}
		text += " over black"
	}
	return text
}

// A Table is measured patches and the names of the columns that hold film
// percents.
type Table struct {
	Inks    []string
	Samples []Sample
	Title   string // what the file says of itself, "" where nothing
	extra   map[string][]float64
}

// Column returns a numeric column that is neither color nor film percent, by
// its name, nil where there is none.
func (t *Table) Column(name string) []float64 { return t.extra[canonical(name)] }

// Order arranges the film percents as inks lists them. Columns are found by
// name; where none of the names fits and the numbers agree, they are taken in
// their order, and the note says so.
func (t *Table) Order(inks []string) (note string, err error) {
	place := make([]int, len(inks))
	found := 0
	for i, name := range inks {
		place[i] = -1
		for k, column := range t.Inks {
			if canonical(column) == canonical(name) {
				place[i] = k
				found++
			}
		}
	}
	switch {
	case found == len(inks):
	case found == 0 && len(inks) == len(t.Inks):
		var pairs []string
		for i := range inks {
			place[i] = i
			pairs = append(pairs, fmt.Sprintf("%s is %s", t.Inks[i], inks[i]))
		}
		note = "columns in print order: " + strings.Join(pairs, ", ")
	case len(t.Inks) == 0:
		return "", fmt.Errorf("no column holds film percents; add one for each ink, named as the ink")
	default:
		for i, name := range inks {
			if place[i] < 0 {
				return "", fmt.Errorf("no column for ink %q; its columns are %s", name, strings.Join(t.Inks, ", "))
			}
		}
	}
	used := make([]bool, len(t.Inks))
	for _, k := range place {
		used[k] = true
	}
	var kept []Sample
	for _, s := range t.Samples {
		film := make([]float64, len(inks))
		other := false
		for i, k := range place {
			film[i] = s.Film[k]
		}
		for k, u := range used {
			other = other || !u && s.Film[k] > 0
		}
		if !other { // prints an ink that is not asked for
			s.Film = film
			kept = append(kept, s)
		}
	}
	t.Inks, t.Samples = inks, kept
	return note, nil
}

// canonical makes names of columns alike that mean the same.
func canonical(name string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(name), func(r rune) bool {
		return r == ' ' || r == '_' || r == '-' || r == '"' || r == '*' || r == '\t'
	}), " ")
}

// deltaE is the CIEDE2000 difference of two colors.
func deltaE(a, b spectrum.XYZ) float64 { return spectrum.DeltaE(a.Lab(), b.Lab()) }

// finite reports whether no number is infinite or not one.
func finite(v ...float64) bool {
	for _, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}
