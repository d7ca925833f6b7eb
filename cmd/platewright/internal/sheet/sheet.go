// Package sheet writes the job ticket of a separation: Write makes one
// self-contained HTML page from a Data, readable on a display and printable
// on A4. Swatches and OverprintGrid draw a shelf's inks and their overprints
// as pictures; Differences draws where two pictures differ.
//
// The package computes no color beyond turning an XYZ into its display code
// and a pair of Lab pictures into ΔE; everything it states is handed to it.
package sheet

import (
	_ "embed"
	"fmt"
	"html/template"
	"image"
	"io"
	"math"
	"strings"

	"platewright/composite/spectrum"
)

// Data is everything a job sheet shows. Job, the print size and the plates
// make a sheet; every other field may be left empty and its part is left out.
type Data struct {
	Job      string  // the job's name, shown first
	Date     string  // as written in the job
	WidthMM  float64 // print size
	HeightMM float64
	SizeFrom string // how the print size is known, one phrase
	Artwork  File   // the picture that was separated
	Pixels   [2]int // its width and height
	Paper    Paper
	Facts    []Fact // further lines of the ticket, in order

	Art        image.Image // the artwork on its paper
	Proof      image.Image // the predicted print
	Difference image.Image // from Differences
	Fit        *Fit
	Colors     []Match // the artwork's colors beside what prints for them

	Plates     []Plate       // in print order, first printed first
	Overprints []Overprint   // 2^len(Plates); bit i set = plate i solid
	After      []image.Image // the proof as it stands after each pull
	Films      []File
	FilmFacts  []Fact // what all films have in common
	Tone       *Tone
	Findings   []Finding
	Quantities []Quantity
	Recipes    []Recipe
	Cautions   []string // nil: Cautions()
	Next       string   // the command that comes next
}

// File is a file's name and, where known, its checksum and a short note.
type File struct{ Name, SHA256, Note string }

// Fact is one line of the ticket: a name and its value.
type Fact struct{ Name, Value string }

// Paper is what is printed on. Color is under D50.
type Paper struct {
	Name, Finish string
	Color        spectrum.XYZ
}

// Fit tells how near the print comes to the artwork, in CIEDE2000.
type Fit struct {
	Mean, P95, Max float64
	InReach        float64 // percent of the artwork's area that the inks can print
	PlusMinus      float64 // what the proof itself may be off by; 0: not known
}

// Match is one color of the artwork and what prints for it.
type Match struct {
	Asked, Printed spectrum.XYZ
	DeltaE         float64
	Share          float64 // percent of the artwork's area
	Inks           string  // what prints it, in words
}

// Plate is one ink's plate. A ruling of 0 means that nothing is screened.
type Plate struct {
	Ink       string
	Color     spectrum.XYZ // the solid on this paper
	Coverage  float64      // mean, percent
	Base      float64      // percent of transparent base; negative or NaN: as measured
	RulingLPI float64
	AngleDeg  float64
	Dot       string
	KnownBy   string
	Opacity   float64 // contrast ratio 0 … 1; negative or NaN: not stated
	PlusMinus float64 // of the opacity, where it is a guess
	File      string
	Mesh      string
	Picture   image.Image // the plate, gray, dark where ink prints
}

// Overprint is the color of some inks printed solid over each other.
type Overprint struct {
	Color    spectrum.XYZ
	Measured bool
}

// Tone is a tone compensation table: to print Print[j] percent, ink i needs
// Film[i][j] percent on its film.
type Tone struct {
	Print []float64
	Inks  []string
	Film  [][]float64
}

// Finding is something a print shop would tell its client about a file.
type Finding struct {
	Level   string // in words; "fault" and "warning" are set apart
	Message string
	Mend    string
	Where   *Place
}

// Place is a rectangle on the artwork in mm from its top left corner.
type Place struct{ X, Y, W, H float64 }

// Quantity is how much of one ink a run takes.
type Quantity struct {
	Ink   string
	Grams float64
	Note  string
}

// Recipe is how one ink is mixed.
type Recipe struct {
	Ink   string
	Color spectrum.XYZ
	Parts []Part
	Note  string
}

// Part is one component of a recipe.
type Part struct {
	Name    string
	Percent float64 // of the total weight
	Grams   float64 // 0: not stated
}

// DeltaEWords says what a color difference means to the eye. It stands
// wherever a ΔE is shown.
const DeltaEWords = "ΔE below 1: not seen; 2–3: seen side by side; above 5: plainly different"

// Cautions returns the words of care that go with printing by hand. They
// defer to the safety data sheets and the local rules.
func Cautions() []string {
	return []string{
		"The safety data sheet of each ink, solvent and photo-chemical, and your local rules, come before anything on this sheet.",
		"Wear gloves and keep the air moving when you work with inks and solvents; keep flames and sparks away from them.",
		"Never look into a UV lamp and cover your skin; wear gloves and goggles with photo-chemicals. Dichromate sensitizers are harmful and oxidizing.",
		"Never mix bleach with another cleaner. Catch sludge and washings and hand them in as your local rules say.",
		"Take no ink to be safe for food, toys or skin without its maker's certificate. Heat-set and wash-test textiles.",
		"Exposure, drying and curing are set by your own tests and the maker's instructions: this sheet states no values for them.",
	}
}

//go:embed page.html
var pageSource string

// Write writes the job sheet as one HTML page that needs no other file.
// All words of d are escaped. Errors are those of w, or name the field of d
// that contradicts another.
func Write(w io.Writer, d Data) error {
	v, err := newView(&d)
	if err != nil {
		return err
	}
	t, err := template.New("sheet").Funcs(funcs()).Parse(pageSource)
	if err != nil {
		return fmt.Errorf("sheet: %w", err)
	}
	if err := t.Execute(w, v); err != nil {
		return fmt.Errorf("sheet: %w", err)
	}
	return nil
}

// view is a Data with its pictures encoded for the page.
type view struct {
	*Data
	ArtURL, ProofURL, DiffURL, MapURL template.URL
	PlateViews                        []plateView
	Pulls                             []pullView
	Grid                              *grid
	Legend                            []legendStep
	FilmSums                          bool
}

type plateView struct {
	Plate
	Pull, Of int
	URL      template.URL
}

type pullView struct {
	Pull, Of int
	Ink      string
	Color    spectrum.XYZ
	URL      template.URL
}

const (
	largePicture = 900 // longest side in the page, pixels
	pullPicture  = 560
	smallPicture = 360
)

func newView(d *Data) (*view, error) {
	k := len(d.Plates)
	if len(d.Overprints) != 0 && len(d.Overprints) != 1<<k {
		return nil, fmt.Errorf("sheet: %d overprints for %d plates; give all %d, paper first", len(d.Overprints), k, 1<<k)
	}
	if len(d.After) != 0 && len(d.After) != k {
		return nil, fmt.Errorf("sheet: %d pictures after a pull for %d plates; give one for each", len(d.After), k)
	}
	if t := d.Tone; t != nil {
		if len(t.Inks) != len(t.Film) {
			return nil, fmt.Errorf("sheet: tone table with %d inks and %d rows; give one row for each ink", len(t.Inks), len(t.Film))
		}
		for i, row := range t.Film {
			if len(row) != len(t.Print) {
				return nil, fmt.Errorf("sheet: tone row of %q has %d steps, not %d", t.Inks[i], len(row), len(t.Print))
			}
		}
	}
	if d.Cautions == nil {
		d.Cautions = Cautions()
	}
	v := &view{Data: d, Legend: legend()}
	var err error
	encode := func(m image.Image, size int) template.URL {
		if m == nil || err != nil {
			return ""
		}
		var u template.URL
		u, err = dataURL(m, size)
		return u
	}
	v.ArtURL = encode(d.Art, largePicture)
	v.ProofURL = encode(d.Proof, largePicture)
	v.DiffURL = encode(d.Difference, largePicture)
	if located(d.Findings) {
		v.MapURL = encode(d.Art, smallPicture)
	}
	for i, p := range d.Plates {
		v.PlateViews = append(v.PlateViews, plateView{p, i + 1, k, encode(p.Picture, smallPicture)})
	}
	for i, m := range d.After {
		v.Pulls = append(v.Pulls, pullView{i + 1, k, d.Plates[i].Ink, d.Plates[i].Color, encode(m, pullPicture)})
	}
	if len(d.Overprints) > 0 && k > 0 && k <= 8 {
		v.Grid = newGrid(inkNames(d.Plates), d.Overprints)
	}
	for _, f := range d.Films {
		v.FilmSums = v.FilmSums || f.SHA256 != ""
	}
	return v, err
}

func located(fs []Finding) bool {
	for _, f := range fs {
		if f.Where != nil {
			return true
		}
	}
	return false
}

func inkNames(ps []Plate) []string {
	names := make([]string, len(ps))
	for i, p := range ps {
		names[i] = p.Ink
	}
	return names
}

func funcs() template.FuncMap {
	return template.FuncMap{
		"hex":    hex,
		"lab":    labWords,
		"num":    number,
		"mm":     func(v float64) string { return number(v, 1) },
		"inch":   func(mm float64) string { return number(mm/25.4, 1) },
		"known":  func(v float64) bool { return v >= 0 }, // false for NaN too
		"add":    func(a, b int) int { return a + b },
		"lower":  strings.ToLower,
		"words":  func() string { return DeltaEWords },
		"pct":    func(part, of float64) string { return number(100*part/math.Max(of, 1e-9), 2) + "%" },
		"seen":   seen,
		"place":  placeWords,
		"blanks": blanks,
	}
}

// blanks are the lines of the ticket that only the press can fill in.
func blanks() []string {
	return []string{"copies and overs", "paper lot, days at rest", "mesh and frame", "exposure step held",
		"register measured, mm", "order as pulled", "printed by, date", "checked by, date"}
}

// seen puts one ΔE into words, at the limits of DeltaEWords.
func seen(de float64) string {
	switch {
	case de < 1:
		return "not seen"
	case de < 2:
		return "barely seen"
	case de <= 3:
		return "seen side by side"
	case de <= 5:
		return "seen"
	}
	return "plainly different"
}

// placeWords says where something is. What is smaller than a fingertip is a spot.
func placeWords(p *Place) string {
	s := fmt.Sprintf("at %s mm from the left and %s mm from the top", number(p.X, 0), number(p.Y, 0))
	if p.W >= 10 || p.H >= 10 {
		s += fmt.Sprintf(" (%s × %s mm)", number(p.W, 0), number(p.H, 0))
	}
	return s
}

// number writes v with at most the given decimals, without trailing zeros.
func number(v float64, decimals int) string {
	s := fmt.Sprintf("%.*f", decimals, v)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		s = "0"
	}
	return s
}

// code is the display code of a color, cut to what a display shows.
func code(c spectrum.XYZ) [3]uint8 {
	var out [3]uint8
	for i, v := range c.RGB().Clamp() {
		out[i] = uint8(math.Round(255 * v))
	}
	return out
}

func hex(c spectrum.XYZ) string {
	v := code(c)
	return fmt.Sprintf("#%02x%02x%02x", v[0], v[1], v[2])
}

func labWords(c spectrum.XYZ) string {
	l := c.Lab()
	return fmt.Sprintf("lab(%s, %s, %s)", number(l[0], 0), number(l[1], 0), number(l[2], 0))
}
