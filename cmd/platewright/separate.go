package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"platewright/cmd/platewright/internal/job"
)

// separateOptions are the flags of separate.
type separateOptions struct {
	outFlags
	jobFlags
	exact, quick bool
}

func newSeparate(p *program) *cobra.Command {
	o := &separateOptions{jobFlags: jobFlags{job: *job.New()}}
	cmd := &cobra.Command{
		Use:   "separate ART… [flags]",
		Short: "split pictures into plates, films, proof and job sheet",
		Long: `separate splits each picture into one plate per ink, predicts the print and
writes film positives, all in a job folder NAME-plates with job.toml, which
makes the same result again, and report.json.`,
		Example: `  platewright separate poster.png --inks "harbor blue,egg yolk" --width 297mm
  platewright separate poster.png --shelf inks.toml --inks @harbor --tints none
  platewright separate --job poster-plates/job.toml --ruling 55 -o finer`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 && o.jobFile == "" {
				return usage("name a picture: platewright separate ART… [flags], or take a job with --job job.toml")
			}
			return nil
		},
	}
	fs := cmd.Flags()
	o.addFlags(fs)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if err := o.read(fs); err != nil {
			return err
		}
		if o.exact {
			if fs.Changed("solve") && o.job.Solve != "exact" {
				return usage("--exact and --solve %s: give one of them", o.job.Solve)
			}
			o.job.Solve = "exact"
		}
		if o.quick {
			if fs.Changed("only") && o.job.Only != "proof" {
				return usage("--quick makes a proof alone, not --only %s: give one of them", o.job.Only)
			}
			o.job.Only = "proof"
		}
		return o.run(cmd.Context(), p, args)
	}
	return cmd
}

func (o *separateOptions) addFlags(fs *pflag.FlagSet) {
	o.outFlags.addFlags(fs, "the job folder, or with several pictures the folder that holds theirs; without it NAME-plates where you stand")
	o.addFile(fs, "all settings")
	o.addSettings(fs)
	addBool(fs, &o.exact, "exact", "", "solve every color exactly, as --solve exact")
	addBool(fs, &o.quick, "quick", "", "only a proof for the display, at most 1,000 pixels a side")
	o.limitFlags.addFlags(fs)
}

// result is what --json prints of one picture.
type result struct {
	*job.Report
	Folder string `json:"folder"`
}

// failure is what --json prints of a picture that failed beside others.
type failure struct {
	File  string `json:"file"`
	Error string `json:"error"`
}

func (o *separateOptions) run(ctx context.Context, p *program, arts []string) error {
	if err := o.check(); err != nil {
		return err
	}
	stock, err := o.stock()
	if err != nil {
		return err
	}
	if len(arts) == 0 {
		if o.job.Art == "" {
			return usage("%s names no picture: platewright separate ART --job %[1]s", o.jobFile)
		}
		err := o.one(ctx, p, stock, o.job, o.Out, false)
		if errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("%s: the picture of the job is not there: name it: platewright separate ART --job %s", o.job.Art, o.jobFile)
		}
		return err
	}
	if len(arts) == 1 {
		j := o.job
		j.Art = arts[0]
		return o.one(ctx, p, stock, j, o.Out, true)
	}
	return o.several(ctx, p, stock, arts)
}

func (o *separateOptions) one(ctx context.Context, p *program, stock *job.Stock, j job.Job, out string, other bool) error {
	report, folder, err := job.Run(ctx, &j, o.runOptions(p, stock, out, other))
	p.endStep()
	if err != nil {
		return err
	}
	p.sayReport(report, folder)
	if o.JSON {
		return p.writeJSON(result{report, folder})
	}
	return nil
}

func (o *separateOptions) several(ctx context.Context, p *program, stock *job.Stock, arts []string) error {
	done := []any{}
	failed := 0
	taken := make(map[string]string) // folder to the picture that goes there
	for _, art := range arts {
		j := o.job
		j.Art = art
		out := filepath.Join(o.Out, job.ArtName(art)+"-plates")
		var report *job.Report
		var folder string
		var err error
		if other, ok := taken[strings.ToLower(out)]; ok {
			err = fmt.Errorf("%s would go to %s as %s does: rename one of them", art, out, other)
		} else {
			taken[strings.ToLower(out)] = art
			report, folder, err = job.Run(ctx, &j, o.runOptions(p, stock, out, true))
		}
		p.endStep()
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil:
			failed++
			line := oneLine(reword(err).Error())
			p.say("platewright: %s", line)
			done = append(done, failure{art, line})
		default:
			p.sayReport(report, folder)
			done = append(done, result{report, folder})
		}
	}
	if o.JSON {
		if err := p.writeJSON(done); err != nil {
			return err
		}
	}
	if failed > 0 {
		return &someError{failed, len(arts)}
	}
	return nil
}

func (o *separateOptions) runOptions(p *program, stock *job.Stock, out string, other bool) job.Options {
	return job.Options{Program: "platewright " + release, Out: out, Other: other, Force: o.Force, Stock: stock, Limits: o.limitFlags.limits(), Quick: o.quick, Say: p.say, Step: p.step}
}

// sayReport tells people what a run gave; the last thing is what comes next.
func (p *program) sayReport(r *job.Report, folder string) {
	if f := r.Fit; f != nil {
		p.say("fit: mean ΔE %.2f, 95 %% below %.2f, most %.2f; %.1f %% of the area in reach of the inks", f.MeanDE00, f.P95DE00, f.MaxDE00, f.InReachPercent)
	}
	p.sayFindings(r.Findings)
	p.say("made: %s (%d files)", folder, len(r.Files)+1)
	var order []string
	for _, i := range r.Inks {
		order = append(order, fmt.Sprintf("%d %s", i.Order, i.Name))
	}
	p.say("print order: %s", strings.Join(order, ", "))
	p.say("next: %s", r.Next(folder))
}

func (p *program) sayFindings(findings []job.Finding) {
	for _, f := range findings {
		line := f.Level + ": " + f.Message
		if w := f.Where; w != nil {
			line += fmt.Sprintf(" (%.0f mm from the left, %.0f mm from the top)", w.XMM, w.YMM)
		}
		if f.Mend != "" {
			line += "; " + f.Mend
		}
		p.say("%s [%s]", line, f.Code)
	}
}
