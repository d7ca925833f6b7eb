package main

import (
	"context"
	"fmt"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"platewright/cmd/platewright/internal/job"
	"platewright/composite/chart"
	"platewright/composite/ink"
	"platewright/separate/artwork"
)

// measureOptions are the flags of measure.
type measureOptions struct {
	outFlags
	limitFlags
	job    job.Job
	table  string
	chart  string
	finish string
	black  string
	mesh   string
	note   string
	date   job.Date

	reference string
	overlay   string
}

func newMeasure(p *program) *cobra.Command {
	o := &measureOptions{job: *job.New()}
	cmd := &cobra.Command{
		Use:   "measure SCAN… --chart chart.toml [flags]",
		Short: "learn from a printed chart: a shelf with measured inks",
		Long: `measure reads the colors of a printed chart from a scan or a photo, or of any
test print from an instrument's table, and writes a new shelf in which each ink
says what it is known by. The old shelf stays as it is. Several scans, of a first,
a middle and a last pull, are averaged, and tell how far the pulls vary.

With --table it reads CGATS.17 or ISO 28178 text or CSV: a column of film percent
for each ink, and a spectrum, X, Y, Z or L, a, b.`,
		Example: `  platewright measure scan.tif --chart chart.toml --mesh 77/cm
  platewright measure first.png middle.png last.png --chart chart.toml -o measured.toml
  platewright measure --table readings.txt --inks "harbor blue,egg yolk" --finish coated`,
		Args: func(_ *cobra.Command, args []string) error {
			switch {
			case o.table != "" && len(args) > 0:
				return usage("--table measures from a table and %q is a picture: give one of them", args[0])
			case o.table == "" && len(args) == 0:
				return usage("name a scan of the chart, or a table with --table")
			case o.table == "" && o.chart == "":
				return usage("say which chart this is: --chart chart.toml, which stands beside its films")
			}
			return nil
		},
	}
	fs := cmd.Flags()
	o.addFlags(fs)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		for _, name := range []string{"reference", "overlay", "max-pixels", "max-memory"} {
			if o.table != "" && fs.Changed(name) {
				return usage("--table needs no picture: leave --%s out", name)
			}
		}
		return o.run(cmd.Context(), p, args)
	}
	return cmd
}

func (o *measureOptions) addFlags(fs *pflag.FlagSet) {
	o.outFlags.addFlags(fs, "the new shelf; without it SHELF-measured.toml beside the old one")
	addText(fs, &o.chart, "chart", "", "FILE", "the chart.toml of the chart that was printed")
	addText(fs, &o.table, "table", "", "FILE", "an instrument's table in place of a scan")
	addShelf(fs, &o.job.Shelf)
	addSome(fs, o.job.InkSettings(), "paper", "inks")
	addSettings(fs, job.Setting{Key: "base", Arg: "PERCENT", Help: "transparent base that the inks were let down with: 60 for all, ink=60 for one, with commas between; without it as the shelf says", Value: &o.job.Base})
	addText(fs, &o.finish, "finish", "", "WORD", "coated or uncoated, of a paper that the shelf does not have")
	addText(fs, &o.black, "black", "", "COLOR", "the color of the black under the patches over black, where the table does not have it")
	addText(fs, &o.mesh, "mesh", "", "COUNT", "what it was printed through, with its unit: 77/cm")
	addText(fs, &o.note, "note", "", "TEXT", "a word of your own on the print: squeegee, pull, tin")
	addSettings(fs, job.Setting{Key: "date", Arg: "DAY", Help: "the day of the measurement, 2026-11-25; without it today", Value: &o.date})
	addText(fs, &o.reference, "reference", "", "FILE", "the values of a gray or color card that lies in its place in the scan: a table with x_mm, y_mm and colors")
	addText(fs, &o.overlay, "overlay", "", "FILE", "the picture of what was read where; without it SCAN-read.png beside the new shelf")
	o.limitFlags.addFlags(fs)
}

// measurement is what was read and of what.
type measurement struct {
	print   chart.Print
	samples []chart.Sample
	words   string // of what the patches were read from
	reading *chart.Reading
	found   []job.Finding // about the scans
}

func (o *measureOptions) run(ctx context.Context, p *program, paths []string) error {
	if err := o.limitFlags.check(); err != nil {
		return err
	}
	switch o.finish {
	case "", "coated", "uncoated":
	default:
		return usage("--finish %q: give coated or uncoated", o.finish)
	}
	stock, err := o.job.OpenStock()
	if err != nil {
		return err
	}
	old := stock.Shelf
	if stock.From == job.BuiltIn {
		old = nil // invented inks do not belong among measured ones
	}
	if o.Out == "" {
		o.Out = "shelf-measured.toml"
		if old != nil {
			o.Out = strings.TrimSuffix(stock.From, filepath.Ext(stock.From)) + "-measured.toml"
		}
	}
	inputs := append([]string{stock.From, o.table, o.chart}, paths...)
	if err := job.CheckFile(o.Out, o.Force, inputs); err != nil {
		return err
	}
	m := &measurement{}
	if o.table != "" {
		err = o.readTable(p, m)
	} else {
		err = o.readScans(ctx, p, m, paths)
	}
	if err != nil {
		return err
	}
	if err := o.describe(m); err != nil {
		return err
	}
	fit, err := chart.Fit(old, m.print, m.samples)
	if err != nil {
		return fmt.Errorf("%s: %w", m.words, err)
	}
	for i, u := range fit.Inks {
		if m.reading != nil && i < len(m.reading.Register) {
			u.Register = job.Round(m.reading.Register[i].MM, 2)
		}
	}
	if m.reading != nil {
		if err := o.writeOverlays(p, m.reading, paths, inputs); err != nil {
			return err
		}
	}
	err = job.WriteFile(o.Out, o.Force, inputs, func(f *os.File) error { return fit.Shelf.Write(f) })
	if err != nil {
		return err
	}
	o.report(p, m, fit)
	if o.JSON {
		return p.writeJSON(newMeasured(o, m, fit))
	}
	return nil
}

// readTable reads an instrument's table.
func (o *measureOptions) readTable(p *program, m *measurement) error {
	f, err := os.Open(o.table)
	if err != nil {
		return err
	}
	defer f.Close()
	t, err := chart.ReadTable(f, o.table)
	if err != nil {
		return err
	}
	m.print.Inks = o.job.Inks
	if o.chart != "" {
		c, err := openChart(o.chart)
		if err != nil {
			return err
		}
		if m.print.Inks == nil {
			m.print.Inks = c.InkNames()
		}
	}
	if m.print.Inks == nil {
		m.print.Inks = t.Inks
	}
	note, err := t.Order(m.print.Inks)
	if err != nil {
		return fmt.Errorf("%s: %w", o.table, err)
	}
	if note != "" {
		p.say("%s", note)
	}
	m.samples, m.words = t.Samples, o.table
	m.print.Record.By = "an instrument's table"
	return nil
}

// describe adds what the flags say of the print.
func (o *measureOptions) describe(m *measurement) error {
	if o.finish != "" {
		m.print.Finish = ink.Finish(o.finish)
	}
	if o.date == "" {
		o.date = job.Date(time.Now().Format(time.DateOnly))
	}
	if o.job.Paper != "" {
		m.print.Paper = o.job.Paper
	}
	m.print.Record.When, m.print.Record.Mesh, m.print.Record.Note = string(o.date), o.mesh, o.note
	if o.black != "" {
		c, err := ink.ParseColor(o.black)
		if err != nil {
			return usage("--black: %v", err)
		}
		m.print.Black = c
	}
	m.print.Base = make([]float64, len(m.print.Inks))
	for i, name := range m.print.Inks {
		m.print.Base[i] = math.NaN()
		if v, ok := o.job.Base.Of(name); ok {
			if v < 0 || v >= 100 {
				return usage("--base %s: give percents from 0 to below 100", o.job.Base)
			}
			m.print.Base[i] = v
		}
	}
	return nil
}

// report says what was learned.
func (o *measureOptions) report(p *program, m *measurement, fit *chart.Fitted) {
	for _, d := range fit.Doubtful {
		p.say("left out: %s", d.String())
	}
	for _, n := range fit.Notes {
		p.say("%s", n)
	}
	for i := range fit.Bases {
		if b := &fit.Bases[i]; !b.Differs {
			p.say("%s, which stays", b)
		}
	}
	p.sayFindings(baseFindings(fit.Bases))
	if fit.Repeat > 0 {
		p.say("patches printed twice differ by ±ΔE %.1f", fit.Repeat)
	}
	if m.reading != nil {
		mean := 0.0
		for _, s := range m.samples {
			mean += s.Spread / float64(len(m.samples))
		}
		p.say("patches vary by ±ΔE %.1f within and between pulls", mean)
		for i, r := range m.reading.Register {
			if i < len(m.print.Inks) && r.Read {
				p.say("register: %s lies %.2f mm to the right and %.2f mm down", m.print.Inks[i], r.X, r.Y)
			}
		}
	}
	if fit.Before.Patches > 0 {
		p.say("predicted by the old shelf: %v", fit.Before)
	}
	p.say("predicted by the new shelf: %v", fit.After)
	p.say("made: %s", o.Out)
	p.say("print order: %s", printOrder(m.print.Inks))
	p.say("next: platewright inks --shelf %s", quoted(o.Out))
}

// openChart reads a chart.toml.
func openChart(path string) (*chart.Chart, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return chart.Load(f, path)
}

// readScans reads pictures of a printed chart.
func (o *measureOptions) readScans(ctx context.Context, p *program, m *measurement, paths []string) error {
	c, err := openChart(o.chart)
	if err != nil {
		return err
	}
	if o.job.Inks != nil && !slices.Equal(o.job.Inks, c.InkNames()) {
		return usage("--inks and %s disagree: the chart is of %s; leave --inks out", o.chart, strings.Join(c.InkNames(), ", "))
	}
	ref, err := o.openReference(c)
	if err != nil {
		return err
	}
	var pictures []*chart.Picture
	for _, path := range paths {
		p.step("reading " + path)
		pic, err := artwork.Open(path, o.limits())
		if err != nil {
			return err
		}
		m.found = append(m.found, job.Found(path, pic)...)
		pictures = append(pictures, scan(path, pic))
		if err := ctx.Err(); err != nil {
			return err
		}
	}
	p.sayFindings(m.found)
	p.step("finding the chart")
	if m.reading, err = c.Read(pictures, ref); err != nil {
		return err
	}
	for _, f := range m.reading.Findings {
		p.say("%s", f)
	}
	m.samples, m.words = m.reading.Samples, paths[0]
	m.print.Inks, m.print.Paper, m.print.Finish = c.InkNames(), c.Paper.Name, ink.Finish(c.Paper.Finish)
	m.print.Record.By = "a scan of the test print"
	if len(paths) > 1 {
		m.print.Record.By = fmt.Sprintf("%d scans of the test print", len(paths))
	}
	return nil
}

// openReference reads the values of a card, or of solids of the chart.
func (o *measureOptions) openReference(c *chart.Chart) (*chart.Reference, error) {
	if o.reference == "" {
		return nil, nil
	}
	f, err := os.Open(o.reference)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	t, err := chart.ReadTable(f, o.reference)
	if err != nil {
		return nil, err
	}
	ref, err := c.NewReference(t)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", o.reference, err)
	}
	return ref, nil
}

// scan gives a picture's rows in linear light. A channel's color adds to those of
// the others, so that three tables serve for every pixel.
func scan(path string, pic *artwork.Picture) *chart.Picture {
	levels := 256
	if pic.Pix16 != nil {
		levels = 65536
	}
	var light [3][][3]float32
	black := pic.Space.XYZ(0, 0, 0)
	for c := range light {
		light[c] = make([][3]float32, levels)
		for v := range light[c] {
			var rgb [3]float64
			rgb[c] = float64(v) / float64(levels-1)
			x := pic.Space.XYZ(rgb[0], rgb[1], rgb[2])
			for k := range x {
				light[c][v][k] = float32((x[k] - black[k]*2/3) / 100)
			}
		}
	}
	return &chart.Picture{Name: path, Width: pic.Width, Height: pic.Height, PPI: pic.PPI, Row: func(y int, dst []float32) {
		for x := range pic.Width {
			i := 3 * (y*pic.Width + x)
			var r, g, b int
			if pic.Pix16 != nil {
				r, g, b = int(pic.Pix16[i]), int(pic.Pix16[i+1]), int(pic.Pix16[i+2])
			} else {
				r, g, b = int(pic.Pix[i]), int(pic.Pix[i+1]), int(pic.Pix[i+2])
			}
			for k := range 3 {
				dst[3*x+k] = light[0][r][k] + light[1][g][k] + light[2][b][k]
			}
		}
	}}
}

// writeOverlays draws what was read where.
func (o *measureOptions) writeOverlays(p *program, r *chart.Reading, paths, inputs []string) error {
	for i, path := range paths {
		to := o.overlay
		if to == "" || len(paths) > 1 {
			to = filepath.Join(filepath.Dir(o.Out), job.ArtName(path)+"-read.png")
		}
		err := job.WriteFile(to, o.Force, inputs, func(f *os.File) error { return png.Encode(f, r.Overlay(i)) })
		if err != nil {
			return err
		}
		p.say("made: %s: look whether each frame lies in its patch", to)
	}
	return nil
}
