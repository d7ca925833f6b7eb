// Package ink knows inks and papers: the shelf they stand on (a TOML file), and
// what layer an ink makes.
//
// Start with Load, or with BuiltIn, and look inks up with Shelf.Ink. A printed
// film is absorption K and scattering S in 36 bands (Kubelka and Munk 1931);
// Layer lays it over anything. An ink may be known in four ways, each of which
// replaces an assumption of the one before by a measurement:
//
//   - by the color of its solid. Its film is the smoothest ratio to the paper
//     that has the color, S = 0: a clear ink, R = Rg·exp(−2K).
//   - by color and opacity, the luminance over nothing divided by that over a
//     reflectance of 0.8, surface removed. S is the same in all bands; it is
//     found by bisection, with K in each band from the solid over its paper.
//   - by its color over paper and over black. S follows the three curves of the
//     observer.
//   - by spectra over both: K and S in each band, in closed form.
//
// Where no ratio to the paper has the color (a white on dark paper), the film is
// the one that scatters least of those that reach the smoothest reflectance of
// the color. What is brighter than any reflectance stays as Film.Glow. Tints of
// an ink and overprints of several are used by package composite.
package ink

import (
	"fmt"
	"math"
	"strings"

	"platewright/composite/spectrum"
)

// A Finish says how a paper's surface treats light.
type Finish string

const (
	Uncoated Finish = "uncoated" // the default
	Coated   Finish = "coated"
)

// A Record is free text that says where a measurement comes from.
type Record struct {
	By   string // how the color is known, "a scan of the test print"
	When string // the date of it
	Mesh string // what it was printed through, "77/cm"
	Note string
}

// A Paper is what is printed on.
type Paper struct {
	Name     string
	Finish   Finish
	Color    spectrum.XYZ
	Spectrum *spectrum.Reflectance // as measured; nil when only the color is known
	Surface  float64               // share of the light that the surface gives back, measured on prints; 0: by the finish
	N        float64               // Yule–Nielsen factor of tints, measured on prints; 0: by the finish
	Record
}

// A Tint is the printed color of an ink alone at a film percentage.
type Tint struct {
	Film  float64 // percent, 0 < Film < 100
	Color spectrum.XYZ
}

// An Ink is what a shelf says of one ink. Make one with NewInk, which sets what
// is not known to NaN.
type Ink struct {
	Name              string
	On                string                // the paper it was measured on; "": the first
	Color             spectrum.XYZ          // the solid on that paper
	Spectrum          *spectrum.Reflectance // the same as a spectrum; nil when only the color is known
	Opacity           float64               // contrast ratio 0 … 1; NaN: not stated
	OverBlack         *spectrum.XYZ         // the solid over black; nil: not measured
	OverBlackSpectrum *spectrum.Reflectance
	Black             *spectrum.XYZ // that black's own color; nil: not stated
	Base              float64       // percent of transparent base in what was measured; NaN: not stated
	Register          float64       // how far it printed out of register, mm; 0: not measured
	Tints             []Tint        // printed tints of this ink alone, film rising
	ToneCurve         [][2]float64  // film percent, printed percent, both rising
	Record
}

// NewInk returns an ink of which only name and color are known.
func NewInk(name string, color spectrum.XYZ) *Ink {
	return &Ink{Name: name, Color: color, Opacity: math.NaN(), Base: math.NaN()}
}

// An Overprint is the measured color of inks over each other.
type Overprint struct {
	Inks  []string  // first printed first, two or more
	Film  []float64 // film percent of each, 0 < Film ≤ 100; nil: all solid
	On    string    // the paper; "": that of the first ink
	Color spectrum.XYZ
	Record
}

// Solid reports whether all of its inks are solid.
func (o *Overprint) Solid() bool {
	for _, f := range o.Film {
		if f != 100 {
			return false
		}
	}
	return true
}

// A Set is a named choice of inks in print order.
type Set struct {
	Name string
	Inks []string
}

// A Shelf is the inks and papers at hand and what is known of them. The first
// paper is the default. After Load, or Prepare, it is safe for concurrent use
// as long as nobody changes it.
type Shelf struct {
	Papers     []*Paper
	Inks       []*Ink
	Overprints []Overprint
	Sets       []Set

	films  map[*Ink]*Film
	sheets map[*Paper]*Sheet
}

// Ink returns the ink of that name. Case and spaces around do not matter. The
// error suggests the nearest name.
func (s *Shelf) Ink(name string) (*Ink, error) {
	key := fold(name)
	var names []string
	for _, i := range s.Inks {
		if fold(i.Name) == key {
			return i, nil
		}
		names = append(names, i.Name)
	}
	return nil, missing("ink", name, names)
}

// Paper returns the paper of that name, or the first for "".
func (s *Shelf) Paper(name string) (*Paper, error) {
	if len(s.Papers) == 0 {
		return nil, fmt.Errorf("the shelf has no paper; describe one under [[paper]]")
	}
	key := fold(name)
	if key == "" {
		return s.Papers[0], nil
	}
	var names []string
	for _, p := range s.Papers {
		if fold(p.Name) == key {
			return p, nil
		}
		names = append(names, p.Name)
	}
	return nil, missing("paper", name, names)
}

// Set returns the inks of a named set in print order. The name may be typed
// with its @.
func (s *Shelf) Set(name string) ([]*Ink, error) {
	key := fold(strings.TrimPrefix(strings.TrimSpace(name), "@"))
	var names []string
	for _, set := range s.Sets {
		if fold(set.Name) == key {
			inks := make([]*Ink, len(set.Inks))
			for i, n := range set.Inks {
				var err error
				if inks[i], err = s.Ink(n); err != nil {
					return nil, fmt.Errorf("set %q: %w", set.Name, err)
				}
			}
			return inks, nil
		}
		names = append(names, set.Name)
	}
	return nil, missing("set", name, names)
}

func fold(name string) string { return strings.ToLower(strings.Join(strings.Fields(name), " ")) }

func missing(kind, name string, names []string) error {
	if near := nearest(name, names); near != "" {
		return fmt.Errorf("no %s %q; did you mean %q?", kind, name, near)
	}
	if len(names) == 0 {
		return fmt.Errorf("no %s %q; the shelf has none", kind, name)
	}
	if len(names) > 8 {
		names = append(names[:8:8], "…")
	}
	return fmt.Errorf("no %s %q; there are: %s", kind, name, strings.Join(names, ", "))
}

// nearest returns the name that differs from the typed one by the fewest
// single-letter changes, "" where all differ by more than a third.
func nearest(typed string, names []string) string {
	t := fold(typed)
	best, limit := "", max(1, len([]rune(t))/3)+1
	for _, n := range names {
		if d := distance(t, fold(n)); d < limit {
			best, limit = n, d
		}
	}
	return best
}

// distance is the number of letters to insert, delete, replace or swap with
// their neighbor to turn a into b.
func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	var before []int
	last := make([]int, len(y)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(x); i++ {
		row := make([]int, len(y)+1)
		row[0] = i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last = last, row
	}
	return last[len(y)]
}
