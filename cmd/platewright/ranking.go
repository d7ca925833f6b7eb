package main

import (
	"context"
	"errors"
	"fmt"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"platewright/cmd/platewright/internal/job"
	"platewright/cmd/platewright/internal/sheet"
	"platewright/composite"
	"platewright/composite/spectrum"
	"platewright/separate"
	"platewright/separate/choose"
)

// asked turns questions that cannot be meant into wrong usage.
func asked(err error) error {
	var q *choose.QuestionError
	if errors.As(err, &q) {
		return usage("%s", q.Message)
	}
	var m *job.MaskError
	if errors.As(err, &m) {
		return &usageError{err}
	}
	return err
}

// runFlags say how large an edition is and what it is printed through.
type runFlags struct {
	copies  float64
	overs   float64
	mesh    string
	thread  string
	volume  float64
	charge  float64
	density float64

	carried string // flags for the command that comes next
}

func (r *runFlags) addFlags(fs *pflag.FlagSet) {
	r.overs, r.charge, r.density = 15, 150, 1.2
	addNumber(fs, &r.copies, "copies", "N", "size of the edition: adds the grams of ink that it takes; 0 leaves them out")
	addNumber(fs, &r.overs, "overs", "PERCENT", "further sheets for tests and spoilage")
	addText(fs, &r.mesh, "mesh", "", "COUNT", "mesh count with its unit: 77/cm or 196/in; without it the ink volume of 90/cm")
	addText(fs, &r.thread, "thread", "", "LENGTH", "thread diameter of the mesh: 40um; without it the usual one of the mesh")
	addNumber(fs, &r.volume, "ink-volume", "CM3", "ink volume of the mesh in cm³/m², as its maker states it; 0 goes by the mesh")
	addNumber(fs, &r.charge, "charge", "GRAMS", "ink that it takes to charge a frame")
	addNumber(fs, &r.density, "density", "G/CM3", "weight of the ink in g/cm³")
}

// run returns the edition, nil where no quantities are asked for.
func (r *runFlags) run(art *job.Art) (*choose.Run, error) {
	if r.copies == 0 {
		return nil, nil
	}
	if r.copies != math.Trunc(r.copies) || r.copies < 1 {
		return nil, usage("--copies %g: give a whole number of copies", r.copies)
	}
	out := &choose.Run{WidthMM: art.WidthMM, HeightMM: art.HeightMM, Copies: int(r.copies), Overs: r.overs, Volume: r.volume, Charge: r.charge, Density: r.density}
	if r.overs == 0 {
		out.Overs = math.NaN()
	}
	if r.charge == 0 {
		out.Charge = math.NaN()
	}
	var err error
	if out.Mesh, err = meshCount(r.mesh); err != nil {
		return nil, err
	}
	if r.thread != "" {
		if out.Thread, err = strconv.ParseFloat(strings.TrimSuffix(strings.TrimSuffix(r.thread, "um"), "µm"), 64); err != nil || !(out.Thread > 0) {
			return nil, usage("--thread %s: give a diameter in micrometers, such as 40um", r.thread)
		}
	}
	// Need is asked once here, so that wrong numbers end before the work.
	if _, err := out.Need(0, nil); err != nil {
		return nil, asked(err)
	}
	return out, nil
}

// meshCount reads threads per cm; 0 for none.
func meshCount(s string) (float64, error) {
	if s == "" {
		return 0, nil
	}
	number, scale := strings.TrimSuffix(s, "/cm"), 1.0
	if n, ok := strings.CutSuffix(s, "/in"); ok {
		number, scale = n, 1/2.54
	} else if number == s {
		return 0, usage("--mesh %s: give the unit too, 77/cm or 196/in", s)
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if err != nil || !(v > 0) {
		return 0, usage("--mesh %s: give a count with its unit, 77/cm or 196/in", s)
	}
	return v * scale, nil
}

// setInk is one ink of a set for machines.
type setInk struct {
	Name         string     `json:"name"`
	Order        int        `json:"order"`
	BasePercent  *float64   `json:"base_percent,omitempty"` // nil: as measured
	Color        string     `json:"color"`
	MeanCoverage float64    `json:"mean_coverage"`
	Grams        float64    `json:"grams,omitempty"`
	PlusMinus    float64    `json:"grams_plus_minus,omitempty"`
	Parts        []partJSON `json:"parts,omitempty"`
}

type partJSON struct {
	Name    string  `json:"name"`
	Percent float64 `json:"percent"`
	Grams   float64 `json:"grams"`
}

type overlapJSON struct {
	Inks   []string   `json:"inks"`
	Color  string     `json:"color"`
	Colors []madeJSON `json:"colors"`
}

type madeJSON struct {
	Artwork string  `json:"artwork"`
	Printed string  `json:"printed"`
	Share   float64 `json:"share_percent"`
	DE00    float64 `json:"de00"`
}

func round(v float64) float64 { return job.Round(v, 3) }

// setInks lists uses with their coverage and quantities.
func setInks(m *composite.Model, uses []composite.Use, coverage []float64, run *choose.Run) ([]setInk, error) {
	out := make([]setInk, len(uses))
	for i, u := range uses {
		s := &out[i]
		*s = setInk{Name: u.Ink.Name, Order: i + 1, Color: job.HexCode(m.Overprint(1 << i)), MeanCoverage: round(coverage[i])}
		var mix *choose.Recipe
		if u.Base >= 0 {
			base := round(u.Base)
			s.BasePercent = &base
			mix = choose.BasePart(u.Ink.Name, u.Base)
		}
		if run == nil {
			continue
		}
		need, err := run.Need(min(1, coverage[i]), mix)
		if err != nil {
			return nil, err
		}
		s.Grams, s.PlusMinus = math.Round(need.Grams), math.Round(need.PlusMinus)
		for _, p := range need.Parts {
			s.Parts = append(s.Parts, partJSON{p.Name, round(p.Percent), math.Round(p.Grams)})
		}
	}
	return out, nil
}

// note is what stands beside an ink on a page.
func (s *setInk) note() string {
	var words []string
	if s.BasePercent != nil {
		words = append(words, fmt.Sprintf("%g %% base", *s.BasePercent))
	}
	words = append(words, fmt.Sprintf("covers %.0f %%", 100*s.MeanCoverage))
	if s.Grams > 0 {
		words = append(words, fmt.Sprintf("%.0f ± %.0f g", s.Grams, s.PlusMinus))
	}
	return strings.Join(words, ", ")
}

func overlapsJSON(all []choose.Overlap) []overlapJSON {
	out := []overlapJSON{}
	for _, o := range all {
		j := overlapJSON{Inks: o.Inks, Color: job.HexCode(o.Solid)}
		for _, c := range o.Colors {
			j.Colors = append(j.Colors, madeJSON{hexRGB(c.RGB), job.HexCode(c.Printed.XYZ()), round(c.Share), round(c.DE)})
		}
		out = append(out, j)
	}
	return out
}

func hexRGB(c [3]uint8) string { return fmt.Sprintf("#%02x%02x%02x", c[0], c[1], c[2]) }

func rgbXYZ(c [3]uint8) spectrum.XYZ {
	return spectrum.RGB{float64(c[0]) / 255, float64(c[1]) / 255, float64(c[2]) / 255}.XYZ()
}

// makes is overlaps for a page, the largest colors of each.
func makes(all []choose.Overlap) []sheet.Makes {
	var out []sheet.Makes
	for _, o := range all {
		m := sheet.Makes{Inks: strings.Join(o.Inks, " + "), Solid: o.Solid}
		for _, c := range o.Colors[:min(8, len(o.Colors))] {
			m.Colors = append(m.Colors, sheet.Match{Asked: rgbXYZ(c.RGB), Printed: c.Printed.XYZ(), DeltaE: c.DE, Share: c.Share})
		}
		out = append(out, m)
	}
	return out
}

// pageFiles are the files that -o names: a page and a picture, or the one that
// its ending says.
func pageFiles(out string) (html, pic string) {
	switch strings.ToLower(filepath.Ext(out)) {
	case ".html", ".htm":
		return out, ""
	case ".png":
		return "", out
	}
	return out + ".html", out + ".png"
}

func checkPages(out string, force bool, inputs []string) error {
	for _, f := range both(pageFiles(out)) {
		if err := job.CheckFile(f, force, inputs); err != nil {
			return err
		}
	}
	return nil
}

func both(a, b string) (out []string) {
	for _, s := range []string{a, b} {
		if s != "" {
			out = append(out, s)
		}
	}
	return out
}

// writePages writes a comparison as page and picture.
func (p *program) writePages(ctx context.Context, out string, force bool, inputs []string, c sheet.Comparison) error {
	html, pic := pageFiles(out)
	if html != "" {
		err := job.WriteFile(html, force, inputs, func(f *os.File) error { return sheet.WriteComparison(job.Guard(ctx, f), c) })
		if err != nil {
			return err
		}
		p.say("made: %s", html)
	}
	if pic != "" {
		m, err := sheet.DrawComparison(c)
		if err != nil {
			return err
		}
		if err := job.WriteFile(pic, force, inputs, func(f *os.File) error { return png.Encode(job.Guard(ctx, f), m) }); err != nil {
			return err
		}
		p.say("made: %s", pic)
	}
	return nil
}

// figureWords say what the figures of a set mean.
func figureWords() string {
	return fmt.Sprintf("%s; in reach: the area below %d; fullest: all inks together in one spot", sheet.DeltaEWords, separate.ReachDE)
}

// separateToo are the flags of suggest and compare that separate has too and
// that decide what it prints.
func separateToo() []string {
	return []string{"width", "height", "tints", "out-of-reach", "inks-per-spot", "unprinted", "solve", "smooth",
		"copies", "mesh", "max-pixels", "max-memory"}
}

// separateCommand is the command that prints a choice, with flags carried over.
func separateCommand(art, shelf, paper string, uses []composite.Use, carried string) string {
	s := "platewright separate " + quoted(art)
	if shelf != "" {
		s += " --shelf " + quoted(shelf)
	}
	if paper != "" {
		s += " --paper " + quoted(paper)
	}
	var names, base []string
	for _, u := range uses {
		names = append(names, u.Ink.Name)
		if u.Base >= 0 {
			base = append(base, fmt.Sprintf("%s=%g", u.Ink.Name, round(u.Base)))
		}
	}
	s += fmt.Sprintf(" --inks %q", strings.Join(names, ","))
	if len(base) > 0 {
		s += fmt.Sprintf(" --base %q", strings.Join(base, ","))
	}
	return s + carried
}

func quoted(s string) string {
	if strings.ContainsAny(s, " \t'\"$&|;<>()*?[]#~`\\!{}") {
		return strconv.Quote(s)
	}
	return s
}
