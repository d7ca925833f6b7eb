// Package job holds what decides a result and what became of it.
//
// A Job is every setting of a separation; its names are those of the program's
// flags, so that a job file is a command line written down. Parse and Format
// keep it as TOML: the same job gives the same files, byte for byte. A Report is
// the outcome, report.json. A Folder is a job folder under way, which appears
// under its name whole or not at all.
package job

import (
	"fmt"
	"math"
	"strconv"
)

// Job is everything that decides a result. Start from New, which holds the
// defaults. Empty text and empty lists mean: not given.
type Job struct {
	Art       string // path of the picture, from where the program stands
	SHA256    string // of the picture's bytes, in hexadecimal
	Name      string // begins every file name and stands on the films
	Date      Date   // stands on the films
	Shelf     string // where the inks came from: a path, or BuiltIn
	ShelfCopy string // the shelf itself, TOML; "" before the first run

	Paper    string
	Inks     Names // in print order, first printed first
	InkCount int   // how many to choose where Inks is empty
	Base     PerInk

	Width, Height Length

	Tints       Tints
	OutOfReach  OutOfReach
	InksPerSpot int
	Pin         Texts // COLOR=INK
	Unprinted   string
	Solve       Solve
	Smooth      float64

	Register Length
	Trap     Trap
	KnockOut Names

	Underbase string
	Choke     Length

	Process  Process
	Films    Formats
	FilmDPI  float64 // 0: by the process
	FilmSize FilmSize
	Ruling   Ruling
	Angle    PerInk
	Dot      Dot
	MinDot   Length
	Mesh     Mesh
	Bleed    Length
	NoMarks  bool
	Mirror   bool
	Negative bool
	PlateSet PlateSet
	Packing  Packing
	Margins  Margins

	ToneCurve  ToneCurves
	ToneLimits Tones

	Copies              int
	Sheet, Frame        FilmSize // to check against; they change no file
	Tones               Tones
	LeastLine, LeastGap Length

	Bits int
	Only Only
}

// BuiltIn is the Shelf of a job that uses the example inks.
const BuiltIn = "built-in"

// New returns a job with every default.
func New() *Job {
	return &Job{
		InkCount:    3,
		OutOfReach:  "nearest",
		InksPerSpot: 3,
		Solve:       "auto",
		Smooth:      1,
		Process:     "silkscreen",
		Ruling:      "45",
		Dot:         "round",
		Bits:        8,
		Copies:      50,
	}
}

// InkSettings are which inks go on which paper.
func (j *Job) InkSettings() []Setting {
	return []Setting{
		{"paper", "NAME", "the paper printed on; without it the shelf's first", &j.Paper},
		{"inks", "NAMES", "inks in print order, first printed first, with commas between; or @set", &j.Inks},
		{"ink-count", "N", "how many inks to choose where --inks names none", &j.InkCount},
		{"base", "PERCENT", "transparent base to print with: 60 for all inks, ink=60 for one, with commas between; without it as measured", &j.Base},
	}
}

// SizeSettings are the print size.
func (j *Job) SizeSettings() []Setting {
	return []Setting{
		{"width", "LENGTH", "print width: 297mm, 30cm or 11.7in", &j.Width},
		{"height", "LENGTH", "print height; with --width both must agree with the picture's shape", &j.Height},
	}
}

// SeparationSettings are how colors become coverages.
func (j *Job) SeparationSettings() []Setting {
	return []Setting{
		{"tints", "LIST", "tints a plate may hold: any, none (solids and overprints), or percents such as 25,50,75; without it none for flat artwork, any for all else", &j.Tints},
		{"out-of-reach", "WORD", "colors that the inks cannot print: nearest, or ease, which keeps the steps between them", &j.OutOfReach},
		{"inks-per-spot", "N", "how many inks to keep to in one spot", &j.InksPerSpot},
		{"pin", "COLOR=INK", "keep a color on one ink alone and solid; may be repeated", &j.Pin},
		{"unprinted", "COLOR", "the color of the picture that stays bare paper", &j.Unprinted},
		{"solve", "WORD", "exact for every color by itself, lattice for a grid of colors and the rest read between them, auto by how many colors there are", &j.Solve},
		{"smooth", "NUMBER", "weight of evenness between neighboring colors; 0 is off", &j.Smooth},
	}
}

// FilmSettings are how plates become films.
func (j *Job) FilmSettings() []Setting {
	return []Setting{
		{"process", "WORD", "silkscreen, or duplicator for a stencil duplicator, whose films are gray pages, one a drum", &j.Process},
		{"films", "LIST", "files of the films: tiff, png, pdf with commas between, or none; without it tiff, and pdf for a duplicator", &j.Films},
		{"packing", "WORD", "how TIFF and PDF films are packed: deflate or group4; without it group4 for line work, deflate for dots", &j.Packing},
		{"margins", "LENGTHS", "what a duplicator leaves bare at the leading edge, the sides and the tail: 5mm,3mm,2mm", &j.Margins},
		{"film-dpi", "NUMBER", "resolution of the films, dots per inch; without it 1200, and 600 for a duplicator", &j.FilmDPI},
		{"film-size", "SIZE", "the sheet that films are placed on: A3, letter, 420x297mm; without it as large as needed, and A3 for a duplicator", &j.FilmSize},
		{"ruling", "LPI", "halftone ruling: 45 lines per inch or 18/cm for all inks, ink=55 for one, with commas between", &j.Ruling},
		{"angle", "DEGREES", "halftone angle: 22.5 for all inks, ink=22.5 for one, with commas between; without it they differ from ink to ink", &j.Angle},
		{"dot", "SHAPE", "halftone dot: round, ellipse, diamond, line or stochastic; none for line film", &j.Dot},
		{"min-dot", "LENGTH", "diameter of the smallest dot and the smallest hole: 0.18mm", &j.MinDot},
		{"mesh", "COUNT", "mesh count with its unit, 77/cm or 196/in, to check the halftone against and to stand on the films", &j.Mesh},
		{"bleed", "LENGTH", "how much of the picture is cut off on each side: 3mm", &j.Bleed},
		{"no-marks", "", "films of the plate's area alone, without marks and label", &j.NoMarks},
		{"mirror", "", "films flipped left to right", &j.Mirror},
		{"negative", "", "films black where no ink prints", &j.Negative},
	}
}

// OutputSettings are which files are made.
func (j *Job) OutputSettings() []Setting {
	return []Setting{
		{"plate-set", "LIST", "all plates in one file as well: pdf, tiff, ora with commas between", &j.PlateSet},
		{"bits", "8|16", "depth of plates and proof, bits a channel", &j.Bits},
		{"only", "PART", "make one part of the result: plates, proof or films; without it all", &j.Only},
	}
}

// DateSetting is the day on the films.
func (j *Job) DateSetting() Setting {
	return Setting{"date", "DAY", "the day on the films, as 2026-11-25; without it today", &j.Date}
}

type section struct {
	title    string
	settings []Setting
}

// sections are a job file in order.
func (j *Job) sections() []section {
	return []section{
		{"The picture", []Setting{
			{"art", "", "the picture, as seen from the folder of this file", &j.Art},
			{"art-sha256", "", "its checksum", &j.SHA256},
			{"name", "", "begins every file name and stands on the films", &j.Name},
			j.DateSetting(),
		}},
		{"Inks and paper", j.InkSettings()},
		{"Print size", j.SizeSettings()},
		{"Separation", j.SeparationSettings()},
		{"Register", j.RegisterSettings()},
		{"Dark paper", j.UnderbaseSettings()},
		{"Films", j.FilmSettings()},
		{"Tone on film", j.ToneSettings()},
		{"Edition", j.EditionSettings()},
		{"Checks", j.CheckSettings()},
		{"Files", j.OutputSettings()},
		{"The shelf", []Setting{
			{"shelf", "", "where the inks came from", &j.Shelf},
			{"shelf-copy", "", "the shelf as it was, which a rerun takes; empty takes the file named above", &j.ShelfCopy},
		}},
	}
}

// Check refuses numbers outside their range with a *SettingError. Text is
// checked where it is set.
func (j *Job) Check() error {
	for _, c := range []struct {
		key           string
		v, least, max float64
	}{
		{"ink-count", float64(j.InkCount), 1, 8},
		{"inks-per-spot", float64(j.InksPerSpot), 1, 8},
		{"copies", float64(j.Copies), 1, 1e6},
		{"smooth", j.Smooth, 0, 100},
		{"film-dpi", j.Resolution(), 72, 10160},
	} {
		if !(c.v >= c.least && c.v <= c.max) { // holds for NaN
			return &SettingError{c.key, number(c.v), "give a number from " + number(c.least) + " to " + number(c.max)}
		}
	}
	if j.Register.MM() > widestMM {
		return &SettingError{"register", string(j.Register), fmt.Sprintf("plates that lie %d mm off print no picture: give less, and look at the unit", widestMM)}
	}
	if j.Bits != 8 && j.Bits != 16 {
		return &SettingError{"bits", strconv.Itoa(j.Bits), "give 8 or 16"}
	}
	if j.duplicator() {
		for _, c := range []struct {
			key   string
			given bool
		}{
			{"mesh", j.Mesh != ""}, {"dot", j.Dot != "round"}, {"min-dot", j.MinDot != ""}, {"bleed", j.Bleed != ""},
			{"no-marks", j.NoMarks}, {"mirror", j.Mirror}, {"negative", j.Negative}, {"packing", j.Packing != ""},
		} {
			if c.given {
				return &SettingError{c.key, "", "a duplicator makes its own dots on pages without marks: leave it out"}
			}
		}
		if j.Films.Has("tiff") {
			return &SettingError{"films", "tiff", "the pages of a duplicator are gray: give png or pdf"}
		}
		return nil
	}
	if j.Margins != "" {
		return &SettingError{"margins", "", "films have the margins of their marks: leave it out, or take --process duplicator"}
	}
	for _, name := range append(j.Ruling.Names(), "") {
		if lpi := j.Ruling.Of(name); j.Dot.Screened() && lpi > j.Resolution()/2 {
			return &SettingError{"ruling", string(j.Ruling), "a film of " + number(j.Resolution()) + " dpi holds at most " + number(j.Resolution()/2) +
				" lines per inch, and good tints up to " + number(math.Floor(j.Resolution()/10)) + "; give a lower ruling or a higher film-dpi"}
		}
	}
	return nil
}

func (j *Job) duplicator() bool { return j.Process == "duplicator" }

// Resolution is that of the films, dots per inch.
func (j *Job) Resolution() float64 {
	switch {
	case j.FilmDPI != 0:
		return j.FilmDPI
	case j.duplicator():
		return 600
	}
	return 1200
}

// FilmFormats are the formats that films are written in.
func (j *Job) FilmFormats() []string {
	switch {
	case j.Films.Has("none"):
		return nil
	case len(j.Films) > 0:
		return j.Films
	case j.duplicator():
		return []string{"pdf"}
	}
	return []string{"tiff"}
}

// SettingError says which setting cannot be, and the mend.
type SettingError struct{ Key, Value, Mend string }

func (e *SettingError) Error() string {
	if e.Value == "" {
		return e.Key + ": " + e.Mend
	}
	return e.Key + " " + e.Value + ": " + e.Mend
}
