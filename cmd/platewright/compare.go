package main

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"platewright/cmd/platewright/internal/job"
	"platewright/cmd/platewright/internal/sheet"
	"platewright/composite/ink"
	"platewright/separate"
	"platewright/separate/choose"
)

// compareOptions are the flags of compare.
type compareOptions struct {
	outFlags
	limitFlags
	runFlags
	job     job.Job
	shelves job.Texts
	inks    job.Texts
}

func newCompare(p *program) *cobra.Command {
	o := &compareOptions{job: *job.New()}
	cmd := &cobra.Command{
		Use:   "compare ART… --inks A --inks B [flags]",
		Short: "print pictures with several sets of inks side by side",
		Long: `compare separates each picture for each set of inks and puts artwork, prints,
their differences, figures and plates on one page and in one picture. Sets are
lists of inks in print order or sets of the shelf; without --inks all of those.
With several shelves each set is taken from every shelf that has it.`,
		Example: `  platewright compare poster.png --inks @harbor --inks "deep kelp,brick rust"
  platewright compare *.png --shelf spring.toml --shelf autumn.toml --inks @harbor -o two-shelves`,
		Args: needFiles("a picture"),
	}
	fs := cmd.Flags()
	o.addFlags(fs)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		o.carried = carried(fs, separateToo()...)
		return o.run(cmd.Context(), p, args)
	}
	return cmd
}

func (o *compareOptions) addFlags(fs *pflag.FlagSet) {
	o.outFlags.addFlags(fs, "write PATH.html and PATH.png, or only the one that PATH ends in; without it comparison")
	addSettings(fs, job.Setting{Key: "shelf", Arg: "FILE", Help: "the inks and papers, may be repeated; without it ./shelf.toml, or else the built-in example inks", Value: &o.shelves},
		job.Setting{Key: "inks", Arg: "NAMES", Help: "a set of inks in print order, with commas between, or @set; repeated for each set", Value: &o.inks})
	addSome(fs, o.job.InkSettings(), "paper", "base")
	addSettings(fs, o.job.SizeSettings()...)
	addSome(fs, o.job.SeparationSettings(), "tints", "out-of-reach", "inks-per-spot", "unprinted", "solve", "smooth")
	o.runFlags.addFlags(fs)
	o.limitFlags.addFlags(fs)
}

// inkSet is one set to compare.
type inkSet struct {
	name   string
	stock  *job.Stock
	choice *job.Choice
}

type compareJSON struct {
	Arts        []comparedJSON `json:"artworks"`
	Files       []string       `json:"files"`
	Assumptions string         `json:"quantities_assume,omitempty"`
	Findings    []job.Finding  `json:"findings"` // of the shelf
}

type comparedJSON struct {
	artJSON
	Sets     []comparedSetJSON `json:"sets"`
	Findings []job.Finding     `json:"findings"` // of the reader
}

type comparedSetJSON struct {
	Name          string        `json:"name"`
	Shelf         string        `json:"shelf"`
	Paper         string        `json:"paper"`
	Tints         string        `json:"tints"`
	Inks          []setInk      `json:"inks"`
	Fit           job.Fit       `json:"fit"`
	TotalCoverage float64       `json:"total_coverage_percent"`
	Findings      []job.Finding `json:"findings"`
}

func (o *compareOptions) run(ctx context.Context, p *program, arts []string) error {
	if err := o.limitFlags.check(); err != nil {
		return err
	}
	if err := o.job.Check(); err != nil {
		return err
	}
	if o.Out == "" {
		o.Out = "comparison"
	}
	inputs := append(append([]string(nil), arts...), o.shelves...)
	if err := checkPages(o.Out, o.Force, inputs); err != nil {
		return err
	}
	sets, err := o.sets()
	if err != nil {
		return err
	}
	opt, err := o.job.SeparateOptions()
	if err != nil {
		return err
	}
	page := sheet.Comparison{Title: fmt.Sprintf("%d sets of inks compared", len(sets)), Lead: fmt.Sprintf("%d pictures; the prints are predicted", len(arts))}
	if len(arts) == 1 {
		page.Title = fmt.Sprintf("%s in %d sets of inks", filepath.Base(arts[0]), len(sets))
		page.Lead = "the prints are predicted"
	}
	out := compareJSON{Files: both(pageFiles(o.Out)), Findings: append([]job.Finding{}, sets[0].stock.Findings()...)}
	p.sayFindings(out.Findings)
	for _, path := range arts {
		row, j, run, err := o.compare(ctx, p, path, sets, opt)
		if err != nil {
			return err
		}
		page.Arts = append(page.Arts, *row)
		out.Arts = append(out.Arts, *j)
		for _, f := range j.Findings {
			page.Notes = append(page.Notes, fmt.Sprintf("%s: %s", j.File, f.Message))
		}
		if run != nil {
			out.Assumptions = run.Assumptions()
		}
	}
	if out.Assumptions != "" {
		page.Notes = append(page.Notes, "grams: "+out.Assumptions)
	}
	best, at := sets[0], 2e3
	for i, s := range out.Arts[0].Sets {
		if s.Fit.MeanDE00 < at {
			best, at = sets[i], s.Fit.MeanDE00
		}
	}
	shelf := best.stock.From
	if shelf == job.BuiltIn {
		shelf = ""
	}
	next := separateCommand(arts[0], shelf, o.job.Paper, best.choice.Uses, o.carried)
	page.Next = []string{next}
	if err := p.writePages(ctx, o.Out, o.Force, inputs, page); err != nil {
		return err
	}
	if err := o.answer(p, &out); err != nil {
		return err
	}
	p.say("next: %s", next)
	return nil
}

// sets opens the shelves and finds the sets on them.
func (o *compareOptions) sets() ([]inkSet, error) {
	var stocks []*job.Stock
	if len(o.shelves) == 0 {
		o.shelves = job.Texts{""}
	}
	for _, path := range o.shelves {
		j := o.job
		j.Shelf = path
		s, err := j.OpenStock()
		if err != nil {
			return nil, err
		}
		stocks = append(stocks, s)
	}
	wanted := o.inks
	if len(wanted) == 0 {
		seen := make(map[string]bool)
		for _, s := range stocks {
			for _, set := range s.Sets {
				if !seen[set.Name] {
					seen[set.Name] = true
					wanted = append(wanted, "@"+set.Name)
				}
			}
		}
		if len(wanted) == 0 {
			return nil, usage("name the sets to compare: --inks \"deep kelp,brick rust\" --inks @harbor, or give the shelf sets of its own")
		}
	}
	var out []inkSet
	for _, typed := range wanted {
		found := false
		var last error
		for _, stock := range stocks {
			j := o.job
			j.Inks = nil
			if err := (job.Setting{Key: "inks", Value: &j.Inks}).Set(typed, false); err != nil {
				return nil, err
			}
			paper, inks, err := stock.Named(&j)
			if err == nil && len(inks) == 0 {
				err = usage("--inks %q names no ink", typed)
			}
			if err != nil {
				last = err
				continue
			}
			choice, err := stock.Choose(baseOf(&j, inks), paper, inks)
			if err != nil {
				return nil, err
			}
			found = true
			s := inkSet{name: typed, stock: stock, choice: choice}
			if len(stocks) > 1 {
				s.name += " of " + filepath.Base(stock.From)
			}
			out = append(out, s)
		}
		if !found {
			return nil, last
		}
	}
	return out, nil
}

// baseOf returns j with the bases that concern the given inks, as other sets
// have other inks.
func baseOf(j *job.Job, inks []*ink.Ink) *job.Job {
	k := *j
	var names []string
	var base []float64
	for _, i := range inks {
		if b, ok := j.Base.Of(i.Name); ok {
			names, base = append(names, i.Name), append(base, b)
		}
	}
	k.Base = ""
	if len(names) > 0 {
		k.Base = job.PerInkOf(names, base)
	}
	return &k
}

// compare prints one picture with all sets.
func (o *compareOptions) compare(ctx context.Context, p *program, path string, sets []inkSet, opt separate.Options) (*sheet.ComparedArt, *comparedJSON, *choose.Run, error) {
	var row *sheet.ComparedArt
	var j *comparedJSON
	var run *choose.Run
	for n, s := range sets {
		p.step(fmt.Sprintf("%s: set %d of %d", path, n+1, len(sets)))
		// Transparency lies over each set's own paper.
		art, err := o.job.OpenArt(path, s.choice.Paper, o.limitFlags.limits())
		if err != nil {
			return nil, nil, nil, err
		}
		if n == 0 {
			p.say("%s: %s", path, art.Note)
			row = &sheet.ComparedArt{Name: art.File, Art: art.Preview(pagePicture)}
			j = &comparedJSON{artJSON: newArtJSON(art), Findings: append([]job.Finding{}, art.Found()...)}
			p.sayFindings(j.Findings)
			if run, err = o.runFlags.run(art); err != nil {
				return nil, nil, nil, err
			}
		}
		pr, err := choose.NewProof(ctx, s.stock.Shelf, s.choice.Paper, art.Picture, s.choice.Uses, opt, pagePicture, false)
		if err != nil {
			return nil, nil, nil, err
		}
		inks, err := setInks(s.choice.Model, s.choice.Uses, pr.Coverage, run)
		if err != nil {
			return nil, nil, nil, err
		}
		row.Sets = append(row.Sets, o.column(&s, pr, inks))
		f := pr.Fit
		c := comparedSetJSON{Name: s.name, Shelf: s.stock.From, Paper: s.choice.Paper.Name, Tints: pr.Tints.String(), Inks: inks, TotalCoverage: round(pr.TotalCoverage), Findings: []job.Finding{},
			Fit: job.Fit{MeanDE00: round(f.MeanDE), P95DE00: round(f.P95DE), MaxDE00: round(f.MaxDE), InReachPercent: round(f.InReach), LatticeError: round(f.LatticePercent)}}
		for _, f := range pr.Findings {
			c.Findings = append(c.Findings, job.Finding{Code: f.Code, Level: f.Level, Message: f.Message, Mend: f.Mend})
		}
		j.Sets = append(j.Sets, c)
	}
	return row, j, run, nil
}

// column is a print on the page.
func (o *compareOptions) column(s *inkSet, pr *choose.Proof, inks []setInk) sheet.ComparedSet {
	f := pr.Fit
	set := sheet.ComparedSet{Name: s.name, Paper: s.choice.Paper.Color, Proof: pr.Print, Want: pr.Want, Printed: pr.Printed, Mean: f.MeanDE, P95: f.P95DE, InReach: f.InReach}
	set.Figures = []sheet.Fact{
		{Name: "mean ΔE", Value: fmt.Sprintf("%.2f", f.MeanDE)},
		{Name: "95 % below", Value: fmt.Sprintf("%.2f", f.P95DE)},
		{Name: "most", Value: fmt.Sprintf("%.1f", f.MaxDE)},
		{Name: "in reach", Value: fmt.Sprintf("%.0f %%", f.InReach)},
		{Name: "fullest spot", Value: fmt.Sprintf("%.0f %%", pr.TotalCoverage)},
		{Name: "tints", Value: pr.Tints.String()},
		{Name: "paper", Value: s.choice.Paper.Name},
	}
	for i, k := range inks {
		set.Inks = append(set.Inks, sheet.ComparedInk{Name: k.Name, Color: s.choice.Solid(i), Note: k.note(), Plate: pr.Plates[i]})
	}
	for _, f := range pr.Findings {
		set.Words = append(set.Words, f.Message)
	}
	return set
}

func (c *compareJSON) print(p *program) error {
	w := tabwriter.NewWriter(p.out, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "ARTWORK\tINKS\tMEAN ΔE\t95 %% BELOW\tMOST\tIN REACH\tFULLEST\tPRINT ORDER\n")
	for _, a := range c.Arts {
		for _, s := range a.Sets {
			var names []string
			for _, k := range s.Inks {
				n := k.Name
				if k.Grams > 0 {
					n += fmt.Sprintf(" (%.0f ± %.0f g)", k.Grams, k.PlusMinus)
				}
				names = append(names, n)
			}
			fmt.Fprintf(w, "%s\t%s\t%.2f\t%.2f\t%.1f\t%.0f %%\t%.0f %%\t%s\n", a.File, s.Name, s.Fit.MeanDE00, s.Fit.P95DE00, s.Fit.MaxDE00, s.Fit.InReachPercent, s.TotalCoverage, strings.Join(names, ", "))
		}
	}
	if err := w.Flush(); err != nil {
		return err
	}
	fmt.Fprintln(p.out, figureWords())
	if c.Assumptions != "" {
		fmt.Fprintf(p.out, "grams assume %s\n", c.Assumptions)
	}
	return nil
}
