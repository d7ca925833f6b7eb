package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"platewright/cmd/platewright/internal/chartfilm"
	"platewright/cmd/platewright/internal/job"
	"platewright/composite/chart"
	"platewright/halftone"
	"platewright/halftone/film"
)

// chartOptions are the flags of chart.
type chartOptions struct {
	outFlags
	job       job.Job
	paperSize job.FilmSize
	swatches  bool
	blackCard bool
}

func newChart(p *program) *cobra.Command {
	o := &chartOptions{job: *job.New(), paperSize: "A4"}
	cmd := &cobra.Command{
		Use:   "chart --inks NAMES [flags]",
		Short: "make the films of a test print",
		Long: `chart makes the films of a test print, one an ink, and chart.toml, by which
measure reads the print: paper, solids, all overlaps in print order, ramps, tints of
overlaps, each ink over a black bar, lines and gaps, and register verniers. The black
bar is pulled first, in an opaque black, from a film of its own; or lay black card
under windows that you cut (--black-card). Wear gloves, air the room and keep to the
ink maker's safety data sheet.`,
		Example: `  platewright chart --inks "harbor blue,egg yolk,brick rust" -o chart
  platewright chart --inks @harbor --paper-size A3 --films pdf
  platewright chart --inks @harbor --swatches`,
		Args: noFiles,
	}
	fs := cmd.Flags()
	o.addFlags(fs)
	cmd.RunE = func(cmd *cobra.Command, _ []string) error { return o.run(cmd.Context(), p) }
	return cmd
}

func (o *chartOptions) addFlags(fs *pflag.FlagSet) {
	o.outFlags.addFlags(fs, "the folder for films and chart.toml; without it chart where you stand")
	addShelf(fs, &o.job.Shelf)
	for _, s := range o.job.InkSettings() {
		if s.Key == "paper" || s.Key == "inks" {
			addSettings(fs, s)
		}
	}
	addSettings(fs, job.Setting{Key: "paper-size", Arg: "SIZE", Help: "the sheet that is printed on: A4, A3, letter, 300x400mm", Value: &o.paperSize})
	addBool(fs, &o.swatches, "swatches", "", "only the overlaps with their names, for the eye")
	addBool(fs, &o.blackCard, "black-card", "", "windows to cut for black card, in place of a black film")
	for _, s := range o.job.FilmSettings() {
		switch s.Key {
		case "films", "film-dpi", "ruling", "angle", "dot", "min-dot", "mesh", "mirror", "negative":
			addSettings(fs, s)
		}
	}
	addSettings(fs, o.job.DateSetting())
}

func (o *chartOptions) run(ctx context.Context, p *program) error {
	if err := o.job.Check(); err != nil {
		return err
	}
	if !o.job.Dot.Screened() {
		return usage("--dot none leaves the ramps without tints: give a dot")
	}
	if len(o.job.Inks) == 0 {
		return usage("name the inks in print order: --inks NAMES")
	}
	formats := o.job.FilmFormats()
	if len(formats) == 0 {
		return usage("--films none leaves nothing to make: give tiff, png or pdf")
	}
	c, err := o.layOut()
	if err != nil {
		return err
	}
	if o.Out == "" {
		o.Out = "chart"
	}
	films := c.Films()
	targets := o.targets(films, formats)
	toml := filepath.Join(o.Out, "chart.toml")
	if err := os.MkdirAll(o.Out, 0o777); err != nil {
		return err
	}
	for _, path := range append([]string{toml}, paths(targets)...) {
		if err := job.CheckFile(path, o.Force, nil); err != nil {
			return err
		}
	}
	pages, findings, err := o.pages(c, films)
	if err != nil {
		return err
	}
	p.sayFindings(findings)
	for _, t := range targets {
		p.step("writing " + t.Path)
		if err := job.WriteFile(t.Path, o.Force, nil, func(f *os.File) error { return o.write(ctx, f, t, pages) }); err != nil {
			return err
		}
	}
	if err := job.WriteFile(toml, o.Force, nil, func(f *os.File) error { return c.Write(f) }); err != nil {
		return err
	}
	for _, t := range targets {
		p.say("made: %s", t.Path)
	}
	p.say("made: %s", toml)
	names := make([]string, len(films))
	for i, f := range films {
		names[i] = f.Name
	}
	p.say("print order: %s", printOrder(names))
	if !o.swatches {
		p.say("let it dry for a day, scan it, then: platewright measure SCAN --chart %s", toml)
	}
	if o.JSON {
		return p.writeJSON(struct {
			Chart   string       `json:"chart"`
			Code    string       `json:"code"`
			Patches int          `json:"patches"`
			Pulls   []string     `json:"pulls"`
			Films   []filmTarget `json:"films"`
		}{toml, c.Code, len(c.Patches), names, targets})
	}
	return nil
}

// layOut lays out the chart.
func (o *chartOptions) layOut() (*chart.Chart, error) {
	stock, err := o.job.OpenStock()
	if err != nil {
		return nil, err
	}
	paper, inks, err := stock.Named(&o.job)
	if err != nil {
		return nil, err
	}
	w, h, err := film.ParseSize(string(o.paperSize))
	if err != nil {
		return nil, usage("--paper-size %s: %v", o.paperSize, err)
	}
	c, err := chart.New(chart.Order{Shelf: stock.Shelf, Paper: paper, Inks: inks, Width: w, Height: h, Swatches: o.swatches, BlackCard: o.blackCard})
	if err != nil {
		return nil, &usageError{err}
	}
	return c, nil
}

func (o *chartOptions) targets(films []chart.Film, formats []string) []filmTarget {
	var out []filmTarget
	for _, format := range formats {
		if format == "pdf" {
			out = append(out, filmTarget{filepath.Join(o.Out, "chart-films.pdf"), format, -1})
			continue
		}
		for i, f := range films {
			name := fmt.Sprintf("chart-%d-%s%s", i+1, job.FileName(strings.ToLower(f.Name)), job.FilmEnding(format))
			out = append(out, filmTarget{filepath.Join(o.Out, name), format, i})
		}
	}
	return out
}

func paths(targets []filmTarget) []string {
	out := make([]string, len(targets))
	for i, t := range targets {
		out[i] = t.Path
	}
	return out
}

// pages draws the films, each ink through a screen of its own angle.
func (o *chartOptions) pages(c *chart.Chart, films []chart.Film) ([]*film.Page, []job.Finding, error) {
	dpi := o.job.Resolution()
	layout, err := film.New(film.Sheet{WidthMM: c.Width, HeightMM: c.Height, DPI: dpi, NoMarks: true, Mirror: o.job.Mirror, Negative: o.job.Negative})
	if err != nil {
		return nil, nil, err
	}
	dot, err := halftone.ParseDot(string(o.job.Dot))
	if err != nil {
		return nil, nil, err
	}
	angles := halftone.Angles(c.Darkness())
	first := len(films) - len(c.Inks)
	var findings []job.Finding
	var pages []*film.Page
	for i := range films {
		f := &films[i]
		var screen *halftone.Screen
		if i >= first {
			angle := angles[i-first]
			if v, ok := o.job.Angle.Of(f.Name); ok {
				angle = v
			}
			screen, err = halftone.NewScreen(halftone.Spec{Ruling: o.job.Ruling.LPI(), Angle: angle, Dot: dot, DPI: dpi, MinDot: o.job.MinDot.MM(), MinHole: o.job.MinDot.MM()})
			if err != nil {
				return nil, nil, &job.ScreenError{Err: err}
			}
			for _, s := range screen.Findings() {
				findings = append(findings, job.Finding{Code: s.Code, Level: job.Warning, Message: f.Name + ": " + s.Message, Mend: s.Mend})
			}
		}
		bits, err := chartfilm.New(f, c.Width, c.Height, dpi, screen)
		if err != nil {
			return nil, nil, err
		}
		page, err := layout.Page(bits, film.Label{Ink: f.Name}, nil)
		if err != nil {
			return nil, nil, err
		}
		pages = append(pages, page)
	}
	return pages, findings, nil
}

func (o *chartOptions) write(ctx context.Context, f *os.File, t filmTarget, pages []*film.Page) error {
	date := o.job.Date.Time()
	if o.job.Date == "" {
		date = job.Date(time.Now().Format(time.DateOnly)).Time()
	}
	info := film.Info{Title: "test print", Date: date, Compression: film.Group4}
	switch t.Format {
	case "pdf":
		return film.WritePDF(job.Guard(ctx, f), pages, info)
	case "png":
		info.Compression = film.Deflate
		return film.WritePNG(job.Guard(ctx, f), pages[t.Plate], info)
	}
	return film.WriteTIFF(job.Guard(ctx, f), pages[t.Plate], info)
}
