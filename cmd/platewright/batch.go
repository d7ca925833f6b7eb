package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"platewright/cmd/platewright/internal/batch"
	"platewright/cmd/platewright/internal/job"
)

// batchOptions are the flags of batch.
type batchOptions struct {
	outFlags
	jobFlags

	Hold    string
	Workers float64
	Minutes float64
	Part    string
	Collect bool
}

func newBatch(p *program) *cobra.Command {
	o := &batchOptions{jobFlags: jobFlags{job: *job.New()}, Hold: "fault", Minutes: 60}
	cmd := &cobra.Command{
		Use:   "batch FOLDER [flags]",
		Short: "separate a folder of pictures, with one summary",
		Long: `batch separates every picture of a folder and of the folders in it into job
folders beside it, in FOLDER-jobs, with summary.html, summary.json and
summary.csv. It needs --inks, --shelf or --job. Settings of one picture stand
beside it: poster.job.toml for poster.png.

A picture with a fault gets its proof and findings but no films; --hold says
from which findings on. One that cannot be read never stops the others.

The same command goes on where an earlier one was cut off, and makes anew only
what has changed: pictures, settings, inks. Several machines may share the work
on one folder, each with a part of its own: --part 3/16. In a Slurm array each
task takes its part by itself. Then --collect writes the summary.`,
		Example: `  platewright batch orders --inks "harbor blue,egg yolk" --width 210mm
  platewright batch orders --job poster-plates/job.toml --hold warning
  platewright batch orders --shelf inks.toml --inks @harbor --part 3/16
  platewright batch orders --collect`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) != 1 || args[0] == "" {
				return usage("name one folder of pictures: platewright batch FOLDER")
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
		return o.run(cmd.Context(), p, filepath.Clean(args[0]))
	}
	return cmd
}

func (o *batchOptions) addFlags(fs *pflag.FlagSet) {
	o.outFlags.addFlags(fs, "the folder of job folders; without it FOLDER-jobs beside the folder")
	o.addFile(fs, "all settings")
	addText(fs, &o.Hold, "hold", "", "LEVEL", "findings from which on films are held back: fault, warning, or never")
	addNumber(fs, &o.Workers, "workers", "N", "pictures at once; without it one a core, as memory allows")
	addNumber(fs, &o.Minutes, "max-minutes", "MINUTES", "longest that one picture may take")
	addText(fs, &o.Part, "part", "", "N/M", "work on one of M parts of the folder; without it all, or the part of this Slurm array task")
	addBool(fs, &o.Collect, "collect", "", "write the summary of what all parts have made, and make nothing")
	o.addSettings(fs)
	o.limitFlags.addFlags(fs)
	fs.Lookup("max-memory").Usage = "most memory that the pictures in hand may take together, in MB"
}

// check refuses flags that cannot be meant and returns the part to work on.
func (o *batchOptions) check() (share batch.Share, err error) {
	if err := o.jobFlags.check(); err != nil {
		return share, err
	}
	switch o.Hold {
	case "fault", "warning":
	case "never":
	default:
		return share, usage("--hold %s: it takes fault, warning or never", o.Hold)
	}
	if !(o.Workers >= 0 && o.Workers <= 1024) || o.Workers != float64(int(o.Workers)) {
		return share, usage("--workers %g: give a whole number of pictures at once", o.Workers)
	}
	if !(o.Minutes > 0 && o.Minutes <= 1e6) {
		return share, usage("--max-minutes %g: give minutes above zero", o.Minutes)
	}
	if o.Part != "" {
		if share, err = batch.ParseShare(o.Part); err != nil {
			return share, usage("--part: %w", err)
		}
	} else if !o.Collect {
		if share, err = batch.SlurmShare(os.Getenv); err != nil {
			return share, usage("%w", err)
		}
	}
	if !o.Collect && !batch.Choosable(&o.job) {
		return share, usage(`say what to print with: --inks "harbor blue,egg yolk", --shelf inks.toml or --job job.toml`)
	}
	return share, nil
}

func (o *batchOptions) run(ctx context.Context, p *program, folder string) error {
	share, err := o.check()
	if err != nil {
		return err
	}
	results := o.Out
	if results == "" {
		if results, err = batch.Results(folder); err != nil {
			return err
		}
	}
	if same, err := sameFolder(folder, results); err != nil {
		return err
	} else if same {
		return usage("--out %s: the results cannot go where the pictures are: name another folder", o.Out)
	}
	// Pictures that are found take the job's settings, not its picture.
	o.job.Art, o.job.SHA256, o.job.Name = "", "", ""
	s := &batch.Settings{Job: &o.job, Program: "platewright " + release, Build: build(),
		Word: func(err error) string { return oneLine(reword(err).Error()) }}
	if o.Hold != "never" {
		s.Hold = o.Hold
	}
	if !o.Collect {
		if s.Stock, err = o.stock(); err != nil {
			return err
		}
	}
	found, err := batch.Scan(folder, results, o.limits(), func(rel string) error {
		p.step("looking at " + rel)
		return ctx.Err()
	})
	if err != nil {
		return err
	}
	for _, k := range found.Skipped {
		p.say("skipped: %s: %s; %s", k.File, k.Reason, k.Mend)
	}
	if len(found.Inputs) == 0 {
		return fmt.Errorf("%s holds no picture: name the folder that does", folder)
	}
	if o.Collect {
		return o.collect(p, found, s, results)
	}
	return o.work(ctx, p, found, s, results, share)
}

func (o *batchOptions) work(ctx context.Context, p *program, found *batch.Folder, s *batch.Settings, results string, share batch.Share) error {
	if !share.Whole() {
		p.say("part %v of %s", share, found.Path)
	}
	again := 0
	opt := batch.Options{Results: results, Share: share, Workers: int(o.Workers), Memory: int64(o.MaxMemory * 1e6), Limits: o.limits(),
		Longest: time.Duration(o.Minutes * float64(time.Minute)), Force: o.Force,
		Tell: func(e batch.Event) {
			switch {
			case e.Again:
				again++
			case e.State == batch.Failed:
				p.say("%d/%d failed: %s", e.Through, e.Of, named(e.File, e.Reason))
			case e.State == batch.Held:
				p.say("%d/%d held: %s: %s", e.Through, e.Of, e.File, heldBecause(e.Report, s.Hold))
			case !p.terminal:
				p.say("%d/%d done: %s", e.Through, e.Of, e.File)
			}
			p.step(progress(e))
		}}
	t, err := batch.Run(ctx, found, s, opt)
	p.endStep()
	if ctx.Err() != nil {
		p.say("%d of %d pictures are through; the same command goes on from there", t.Through, t.All)
		return ctx.Err()
	}
	if err != nil {
		return fmt.Errorf("%w; %d of %d pictures are through and the same command goes on from there", err, t.Through, t.All)
	}
	if again > 0 {
		p.say("%d had been made before and are as they were", again)
	}
	p.say("%d pictures: %d done, %d held back, %d failed; most memory of one %d MB", t.All, t.Done, t.Held, t.Failed, t.Peak/1e6)
	if share.Whole() {
		p.say("made: %s", filepath.Join(results, "summary.html"))
	} else {
		to := ""
		if o.Out != "" {
			to = " -o " + o.Out
		}
		p.say("next, when all parts have ended: platewright batch %s%s --collect", found.Path, to)
	}
	if o.JSON {
		if err := p.writeJSON(map[string]any{"results": results, "pictures": t.All, "done": t.Done, "held": t.Held, "failed": t.Failed,
			"made_before": t.Again, "skipped": t.Skipped, "peak_bytes": t.Peak}); err != nil {
			return err
		}
	}
	if t.Failed > 0 {
		return &someError{t.Failed, t.All}
	}
	return nil
}

// named begins a reason with the picture's path.
func named(file, reason string) string {
	if strings.HasPrefix(reason, file) {
		return reason
	}
	return file + ": " + strings.TrimPrefix(reason, filepath.Base(file)+": ")
}

// heldBecause is the first finding that held films back.
func heldBecause(r *job.Report, hold string) string {
	for _, f := range r.Findings {
		if f.Level == job.Fault || f.Level == hold {
			return f.Message + "; " + f.Mend
		}
	}
	return "a finding held the films back"
}

func progress(e batch.Event) string {
	s := fmt.Sprintf("%d of %d", e.Through, e.Of)
	if e.Held > 0 {
		s += fmt.Sprintf(", %d held", e.Held)
	}
	if e.Failed > 0 {
		s += fmt.Sprintf(", %d failed", e.Failed)
	}
	if e.Left > 0 && e.Through < e.Of {
		s += fmt.Sprintf("; about %s left", e.Left.Round(time.Second))
	}
	return s
}

func (o *batchOptions) collect(p *program, found *batch.Folder, s *batch.Settings, results string) error {
	sum, err := batch.Collect(found, s, results)
	p.endStep()
	if err != nil {
		return err
	}
	c := sum.Counts
	for _, e := range sum.Jobs {
		switch e.State {
		case batch.Failed:
			p.say("failed: %s", named(e.File, e.Reason))
		case batch.Missing:
			p.say("not made yet: %s", e.File)
		}
	}
	p.say("%d pictures: %d done, %d held back, %d failed, %d not made yet", c.Pictures, c.Done, c.Held, c.Failed, c.Missing)
	p.say("made: %s", filepath.Join(results, "summary.html"))
	if o.JSON {
		if err := p.writeJSON(sum); err != nil {
			return err
		}
	}
	if n := c.Failed + c.Missing; n > 0 {
		return &someError{n, c.Pictures}
	}
	return nil
}

func sameFolder(a, b string) (bool, error) {
	x, err := os.Stat(a)
	if err != nil {
		return false, err
	}
	y, err := os.Stat(b)
	return err == nil && os.SameFile(x, y), nil
}

// build tells two builds of one release apart.
func build() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return ""
	}
	b := info.GoVersion
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision", "vcs.modified", "GOARCH":
			b += " " + s.Value
		}
	}
	return b
}

// newBatchOne is the other end of batch, for one picture.
func newBatchOne(p *program) *cobra.Command {
	return &cobra.Command{
		Use:    batch.ChildCommand,
		Short:  "work on one picture of a batch, which calls this by itself",
		Hidden: true,
		Args:   noFiles,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return batch.Serve(cmd.Context(), p.in, p.out, func(err error) string { return oneLine(reword(err).Error()) })
		},
	}
}
