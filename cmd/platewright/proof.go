package main

import (
	"bytes"
	"context"
	"os"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"platewright/cmd/platewright/internal/job"
	"platewright/halftone/film"
)

// proofOptions are the flags of proof.
type proofOptions struct {
	outFlags
	jobFlags
	table  string
	shift  job.Texts
	random int
	seed   int
}

func newProof(p *program) *cobra.Command {
	o := &proofOptions{jobFlags: jobFlags{job: *job.New()}, random: 3, seed: 1}
	cmd := &cobra.Command{
		Use:   "proof PLATE… --inks NAMES [flags]",
		Short: "predict the print of plates, hand-made ones too",
		Long: `proof composes grayscale plates in print order, first printed first, and writes
the predicted print. With --table it predicts rows of film percents instead and
writes them to stdout with X,Y,Z,L,a,b,hex added (D50, a perfect white has
Y = 100).`,
		Example: `  platewright proof water.png sun.png --inks "harbor blue,egg yolk" -o print.png
  platewright proof poster-plates/plates/*.png --job poster-plates/job.toml --shift 0.5mm
  platewright proof --table tints.csv --shelf shelf.toml --inks "harbor blue,egg yolk"`,
		Args: func(_ *cobra.Command, args []string) error {
			switch {
			case o.table != "" && len(args) > 0:
				return usage("--table predicts a table and %q is a plate: give one of them", args[0])
			case o.table == "" && len(args) == 0:
				return usage("name plates in print order: platewright proof PLATE… --inks NAMES")
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
		if o.jobFile != "" {
			if !fs.Changed("trap") {
				o.job.Trap = "" // the plates of the job have it
			}
			// The size of the job is that of its artwork; plates state theirs.
			if !fs.Changed("width") && !fs.Changed("height") {
				o.job.Width, o.job.Height = "", ""
			}
		}
		if o.table != "" {
			for _, name := range []string{"out", "force", "json", "width", "height", "bits", "shift", "random", "seed", "trap", "max-pixels", "max-memory"} {
				if fs.Changed(name) {
					return usage("--table writes its rows to stdout: leave --%s out", name)
				}
			}
			return o.runTable(p)
		}
		return o.run(cmd.Context(), p, args)
	}
	return cmd
}

func (o *proofOptions) addFlags(fs *pflag.FlagSet) {
	o.outFlags.addFlags(fs, "the picture of the print; without it proof.png")
	o.addFile(fs, "inks, paper and base")
	addSome(fs, o.job.InkSettings(), "paper", "inks", "base")
	addSettings(fs, o.job.SizeSettings()...)
	addSettings(fs, job.Setting{Key: "table", Arg: "FILE", Help: "a CSV table of film percents, a column an ink, in place of plates", Value: &o.table},
		job.Setting{Key: "shift", Arg: "LENGTH", Help: "show plates out of register and where paper opens between inks: 0.5mm the worst and some random ways to lie no further apart, ink=0.5mm/-0.2mm one plate to the right and down; may be repeated", Value: &o.shift},
		job.Setting{Key: "random", Arg: "N", Help: "how many random ways --shift 0.5mm shows beside the worst", Value: &o.random},
		job.Setting{Key: "seed", Arg: "N", Help: "begins the random ways; the same number gives the same ways", Value: &o.seed})
	addSome(fs, o.job.RegisterSettings(), "trap")
	addSome(fs, o.job.OutputSettings(), "bits")
	o.limitFlags.addFlags(fs)
}

// choose settles the inks, one for each plate where their number is given.
func (o *proofOptions) choose(stock *job.Stock, plates int) (*job.Choice, error) {
	paper, inks, err := stock.Named(&o.job)
	if err != nil {
		return nil, err
	}
	if len(inks) == 0 {
		return nil, usage("name the inks in print order, one for each plate: --inks NAMES")
	}
	if plates > 0 && len(inks) != plates {
		return nil, usage("%d plates and %d inks: name one ink for each plate, in print order", plates, len(inks))
	}
	return stock.Choose(&o.job, paper, inks)
}

func (o *proofOptions) runTable(p *program) error {
	stock, err := o.job.OpenStock()
	if err != nil {
		return err
	}
	f, err := os.Open(o.table)
	if err != nil {
		return err
	}
	defer f.Close()
	table, err := job.ReadCoverages(f, o.table)
	if err != nil {
		return err
	}
	if len(o.job.Inks) == 0 {
		o.job.Inks = table.InkNames(stock)
		if len(o.job.Inks) == 0 {
			return usage("%s: no column names an ink of the shelf: name ink columns as the shelf does, or give --inks", o.table)
		}
		p.say("inks: %s", strings.Join(o.job.Inks, ", "))
	}
	choice, err := o.choose(stock, 0)
	if err != nil {
		return err
	}
	var rows bytes.Buffer // all rows or none
	if err := table.Predict(&rows, stock, choice); err != nil {
		return err
	}
	_, err = p.out.Write(rows.Bytes())
	return err
}

func (o *proofOptions) run(ctx context.Context, p *program, paths []string) error {
	if err := o.check(); err != nil {
		return err
	}
	if o.Out == "" {
		o.Out = "proof.png"
	}
	if err := job.CheckFile(o.Out, o.Force, paths); err != nil {
		return err
	}
	stock, err := o.job.OpenStock()
	if err != nil {
		return err
	}
	choice, err := o.choose(stock, len(paths))
	if err != nil {
		return err
	}
	shifts, err := job.ParseShifts(o.shift, choice.Names())
	if err != nil {
		return err
	}
	p.step("reading the plates")
	plates, err := job.ReadPlates(paths, o.limitFlags.limits(), o.job.Width, o.job.Height)
	if err != nil {
		return err
	}
	first := plates[0]
	p.say("%s", first.Note)
	found := job.PlateFindings(plates)
	p.sayFindings(found)
	if stock.Here {
		p.say("inks: ./%s", stock.From)
	}
	ways, err := o.ways(p, stock, choice, plates, shifts, paths)
	if err != nil {
		return err
	}
	for _, w := range ways {
		if err := ctx.Err(); err != nil {
			return err
		}
		p.step("predicting the print")
		print, err := choice.Model.Render(w.cov(), first.Width, first.Height, o.job.Bits, 0)
		if err != nil {
			return err
		}
		err = job.WriteFile(w.file, o.Force, paths, func(f *os.File) error {
			return film.WriteProof(job.Guard(ctx, f), print.Width, print.Height, print.Pix, print.Pix16, film.Info{DPI: first.PPI(), Title: "predicted print"})
		})
		if err != nil {
			return err
		}
		p.say("made: %s", w.file)
	}
	p.say("print order: %s", printOrder(choice.Names()))
	if o.JSON {
		return p.writeJSON(struct {
			Proof    string   `json:"proof"`
			Width    int      `json:"width"`
			Height   int      `json:"height"`
			WidthMM  float64  `json:"width_mm"`
			HeightMM float64  `json:"height_mm"`
			Paper    string   `json:"paper"`
			Inks     []string `json:"inks"`

			Misregister []*job.Misregister `json:"misregister,omitempty"`
			Findings    []job.Finding      `json:"findings"`
		}{o.Out, first.Width, first.Height, first.WidthMM, first.HeightMM, choice.Paper.Name, choice.Names(), tries(ways), found})
	}
	return nil
}
