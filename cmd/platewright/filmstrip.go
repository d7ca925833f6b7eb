package main

import (
	"context"
	"os"
	"time"

	"platewright/cmd/platewright/internal/job"
)

// runStrip makes the exposure test strip.
func (o *filmOptions) runStrip(ctx context.Context, p *program) error {
	if err := o.job.Check(); err != nil {
		return err
	}
	if o.strip < 3 || o.strip > 12 {
		return usage("--test-strip %d: give 3 to 12 steps", o.strip)
	}
	if o.job.Date == "" {
		o.job.Date = job.Date(time.Now().Format(time.DateOnly))
	}
	formats := o.job.FilmFormats()
	if len(formats) != 1 {
		return usage("a test strip is one film: give one of --films tiff, png or pdf")
	}
	if o.Out == "" {
		o.Out = "exposure-test-strip" + job.FilmEnding(formats[0])
	}
	if err := job.CheckFile(o.Out, o.Force, nil); err != nil {
		return err
	}
	set, err := o.job.ExposureStrip(o.strip)
	if err != nil {
		return err
	}
	p.sayFindings(set.Findings)
	if err := job.WriteFile(o.Out, o.Force, nil, func(f *os.File) error { return set.Write(ctx, f, formats[0], 0, nil) }); err != nil {
		return err
	}
	p.say("made: %s", o.Out)
	p.say("take exposure times from the emulsion maker's data sheet alone; never look into a UV lamp, and wear gloves and goggles with photo-chemicals")
	if o.JSON {
		return p.writeJSON(struct {
			Films []filmTarget `json:"films"`
			job.Print
			Findings []job.Finding `json:"findings"`
		}{[]filmTarget{{o.Out, formats[0], 0}}, set.Print, set.Findings})
	}
	return nil
}
