package main

import (
	"context"
	"encoding/json"
	"fmt"
	"image/png"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"platewright/cmd/platewright/internal/job"
	"platewright/cmd/platewright/internal/preflight"
)

// preflightOptions are the flags of preflight.
type preflightOptions struct {
	jobFlags
	Out   string
	Force bool
	JSON  bool
}

func newPreflight(p *program) *cobra.Command {
	o := &preflightOptions{jobFlags: jobFlags{job: *job.New()}}
	cmd := &cobra.Command{
		Use:   "preflight ART… [flags]",
		Short: "check pictures the way a print shop does, before anything is made",
		Long: `preflight looks at pictures as separate would take them: resolution at print
size, colors, edges, transparency, thin lines and gaps, tints that do not hold,
coverage, bleed, and what the inks cannot print. Each finding is a note, a
warning or a fault, says where in millimeters from the upper left corner, and
how to mend it. No picture is changed and no plate is made.

With -o it writes for each picture a marked-up picture, the findings as JSON,
and a letter in plain words that can go to whoever sent the file.

It ends with 1 when a picture has a fault, with 3 when only some of several do.`,
		Example: `  platewright preflight poster.png --inks "harbor blue,egg yolk" --width 297mm
  platewright preflight *.png --shelf inks.toml --inks @harbor -o checked`,
		Args: needFiles("a picture"),
	}
	fs := cmd.Flags()
	o.addFlags(fs)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if err := o.read(fs); err != nil {
			return err
		}
		return o.run(cmd.Context(), p, args)
	}
	return cmd
}

func (o *preflightOptions) addFlags(fs *pflag.FlagSet) {
	addText(fs, &o.Out, "out", "o", "FOLDER", "write marked-up pictures, findings and letters into this folder")
	addBool(fs, &o.Force, "force", "", "replace what an earlier run made")
	addBool(fs, &o.JSON, "json", "", "write the result to stdout as JSON")
	o.addFile(fs, "all settings")
	addSettings(fs, o.job.InkSettings()...)
	addSettings(fs, o.job.SizeSettings()...)
	addSettings(fs, o.job.CheckSettings()...)
	addSettings(fs, o.job.SeparationSettings()...)
	addSome(fs, o.job.FilmSettings(), "process", "film-size", "film-dpi", "ruling", "dot", "mesh", "bleed")
	o.limitFlags.addFlags(fs)
}

// checked is what preflight says of one picture.
type checked struct {
	File     string            `json:"file"`
	Level    string            `json:"level"` // the gravest, "" for none
	Artwork  job.Artwork       `json:"artwork"`
	Paper    string            `json:"paper"`
	Inks     []string          `json:"inks"`
	Tints    string            `json:"tints"`
	Fit      *job.Fit          `json:"fit"`
	Coverage *job.Coverage     `json:"coverage"`
	Findings []job.Finding     `json:"findings"`
	Letter   string            `json:"letter"`
	Files    map[string]string `json:"files,omitempty"` // what was written, by kind
}

func (o *preflightOptions) run(ctx context.Context, p *program, arts []string) error {
	if err := o.check(); err != nil {
		return err
	}
	stock, err := o.stock()
	if err != nil {
		return err
	}
	if o.Out != "" {
		if err := os.MkdirAll(o.Out, 0o777); err != nil {
			return err
		}
	}
	o.job.SHA256, o.job.Name = "", ""
	var all []any
	failed := 0
	taken := make(map[string]string)
	for i, art := range arts {
		c, err := o.one(ctx, p, stock, art, taken)
		p.endStep()
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil && len(arts) == 1:
			return err
		case err != nil:
			failed++
			line := oneLine(reword(err).Error())
			p.say("platewright: %s", line)
			all = append(all, failure{art, line})
			continue
		}
		all = append(all, c)
		if c.Level == string(preflight.Fault) {
			failed++
		}
		if !o.JSON {
			if i > 0 {
				fmt.Fprintln(p.out)
			}
			c.print(p)
		}
	}
	if o.JSON {
		var v any = all
		if len(arts) == 1 {
			v = all[0]
		}
		if err := p.writeJSON(v); err != nil {
			return err
		}
	}
	switch {
	case failed > 0 && len(arts) == 1:
		return fmt.Errorf("%s has a fault: see above", arts[0])
	case failed > 0:
		return &faultsError{failed, len(arts)}
	}
	return nil
}

// faultsError says how many of several pictures cannot be printed as they are.
type faultsError struct{ faulty, all int }

func (e *faultsError) Error() string {
	return fmt.Sprintf("%d of %d pictures have faults or cannot be read: see above", e.faulty, e.all)
}

func (e *faultsError) Unwrap() error { return &someError{e.faulty, e.all} }

func (o *preflightOptions) one(ctx context.Context, p *program, stock *job.Stock, art string, taken map[string]string) (*checked, error) {
	j := o.job
	j.Art = art
	files, err := o.files(art, taken)
	if err != nil {
		return nil, err
	}
	r, err := job.Inspect(ctx, &j, job.Options{Program: "platewright " + release, Stock: stock, Limits: o.limitFlags.limits(), Step: p.step})
	if err != nil {
		return nil, err
	}
	found := job.Checked(r.Findings)
	preflight.Sort(found)
	c := &checked{File: art, Level: string(preflight.Worst(found)), Artwork: r.Artwork, Paper: r.Paper, Inks: j.Inks, Tints: r.Tints,
		Fit: r.Fit, Coverage: r.Coverage, Findings: r.Findings, Letter: preflight.Letter(filepath.Base(art), *r.Artwork.Facts, found), Files: files}
	if o.Out == "" {
		return c, nil
	}
	marked, err := preflight.Mark(r.Art, r.Artwork.Facts.WidthMM, r.Artwork.Facts.HeightMM, found)
	if err != nil {
		return nil, err
	}
	for _, w := range []struct {
		kind string
		fill func(*os.File) error
	}{
		{"marked", func(f *os.File) error { return png.Encode(f, marked) }},
		{"letter", func(f *os.File) error { _, err := f.WriteString(c.Letter); return err }},
		{"findings", func(f *os.File) error {
			enc := json.NewEncoder(f)
			enc.SetEscapeHTML(false)
			enc.SetIndent("", "  ")
			return enc.Encode(c)
		}},
	} {
		if err := job.WriteFile(files[w.kind], o.Force, []string{art}, w.fill); err != nil {
			return nil, err
		}
	}
	return c, nil
}

// files are where the results of one picture go.
func (o *preflightOptions) files(art string, taken map[string]string) (map[string]string, error) {
	if o.Out == "" {
		return nil, nil
	}
	name := job.ArtName(art)
	if other, ok := taken[strings.ToLower(name)]; ok {
		return nil, fmt.Errorf("%s would give the files of %s: rename one of them", art, other)
	}
	taken[strings.ToLower(name)] = art
	at := filepath.Join(o.Out, name)
	files := map[string]string{"marked": at + "-marked.png", "letter": at + "-letter.txt", "findings": at + "-findings.json"}
	for _, path := range files {
		if err := job.CheckFile(path, o.Force, []string{art}); err != nil {
			return nil, err
		}
	}
	return files, nil
}

// print writes the findings for people.
func (c *checked) print(p *program) {
	f := c.Artwork.Facts
	fmt.Fprintf(p.out, "%s\n", visible(c.File))
	fmt.Fprintf(p.out, "  size      %.1f × %.1f mm, %s, %d × %d pixels, %.0f ppi\n", f.WidthMM, f.HeightMM, f.Shape, f.Width, f.Height, f.PPI)
	profile := f.Profile
	if profile == "" {
		profile = "none, taken as sRGB"
	}
	fmt.Fprintf(p.out, "  file      %s, color profile: %s\n", f.Format, visible(profile))
	kind := "continuous tone"
	if f.Flat {
		kind = fmt.Sprintf("flat artwork, %d plain colors", f.Plain)
	}
	fmt.Fprintf(p.out, "  colors    %d distinct; %s\n", f.Colors, kind)
	if f.Clear > 0 || f.HalfClear > 0 {
		fmt.Fprintf(p.out, "  clear     %.1f %% transparent, %.1f %% half transparent\n", f.Clear, f.HalfClear)
	}
	fmt.Fprintf(p.out, "  paper     %s\n", c.Paper)
	for i, plate := range c.Coverage.Plates {
		fmt.Fprintf(p.out, "  plate %d   %s: covers %.1f %%, solid on %.1f %%, tints on %.1f %%\n", i+1, plate.Ink, plate.Mean, plate.Solid, plate.Tint)
	}
	t := c.Coverage.Total
	fmt.Fprintf(p.out, "  total     %.1f %%, at most %.0f %% in one spot, %.1f %% of the paper bare\n", t.Mean, t.Most, t.Bare)
	fmt.Fprintf(p.out, "  fit       mean ΔE %.2f, %.1f %% in reach of the inks\n", c.Fit.MeanDE00, c.Fit.InReachPercent)
	found := job.Checked(c.Findings)
	preflight.Sort(found)
	if len(found) == 0 {
		fmt.Fprintln(p.out, "  nothing to remark")
	}
	for _, g := range found {
		where := ""
		if len(g.Places) > 0 {
			at := g.Places[0]
			where = fmt.Sprintf(" (at %.1f, %.1f mm: %.1f × %.1f mm", at.X, at.Y, at.W, at.H)
			if n := len(g.Places) - 1; n > 0 {
				where += fmt.Sprintf(", and %d more", n)
			}
			where += ")"
		}
		fmt.Fprintf(p.out, "  %-8s  %s%s [%s]\n", g.Level, visible(g.Message), where, g.Code)
		if g.Mend != "" {
			fmt.Fprintf(p.out, "            mend: %s\n", visible(g.Mend))
		}
	}
	for _, kind := range []string{"marked", "letter", "findings"} {
		if path := c.Files[kind]; path != "" {
			p.say("made: %s", path)
		}
	}
}
