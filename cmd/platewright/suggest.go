package main

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"platewright/cmd/platewright/internal/job"
	"platewright/cmd/platewright/internal/sheet"
	"platewright/composite"
	"platewright/composite/ink"
	"platewright/separate/choose"
)

// suggestOptions are the flags of suggest.
type suggestOptions struct {
	outFlags
	limitFlags
	runFlags
	job      job.Job
	count    string
	with     job.Names
	without  job.Names
	best     float64
	fewest   float64
	mask     string
	bases    bool
	baseStep float64
	mixed    bool
	orders   bool
	register job.Length
}

func newSuggest(p *program) *cobra.Command {
	o := &suggestOptions{job: *job.New(), count: "3", best: 5, baseStep: 5, register: "0.5mm"}
	cmd := &cobra.Command{
		Use:   "suggest ART [flags]",
		Short: "find the inks of the shelf that print a picture best",
		Long: `suggest looks at every set of inks of the shelf, in every order, and ranks the
sets by how near they print to the picture. With --mixed it also says which
inks would print it best whatever the shelf has, and how to mix them from it.`,
		Example: `  platewright suggest poster.png --shelf shelf.toml --count 2..4 -o inks
  platewright suggest poster.png --with "lamp soot" --without "egg yolk" --bases
  platewright suggest poster.png --count 5 --fewest 4 --copies 60 --mesh 77/cm`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) != 1 {
				return usage("name one picture: platewright suggest ART [flags]")
			}
			return nil
		},
	}
	fs := cmd.Flags()
	o.addFlags(fs)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		o.carried = carried(fs, separateToo()...)
		return o.run(cmd.Context(), p, args[0])
	}
	return cmd
}

func (o *suggestOptions) addFlags(fs *pflag.FlagSet) {
	o.outFlags.addFlags(fs, "write a page with the prints, PATH.html and PATH.png, or only the one that PATH ends in; without it only words")
	addShelf(fs, &o.job.Shelf)
	addSome(fs, o.job.InkSettings(), "paper")
	addText(fs, &o.count, "count", "", "N", "how many inks: 3, or 2..6 for each number")
	addSettings(fs, job.Setting{Key: "with", Arg: "NAMES", Help: "inks that have to be in the set, with commas between", Value: &o.with},
		job.Setting{Key: "without", Arg: "NAMES", Help: "inks that must not be in it", Value: &o.without})
	addNumber(fs, &o.fewest, "fewest", "DE", "take the smallest set, up to --count inks, whose mean ΔE (CIEDE2000) is at most this; 0 is off")
	addNumber(fs, &o.best, "best", "N", "how many sets to show of each number")
	addText(fs, &o.mask, "mask", "", "FILE", "a picture that says what matters: white counts, black does not")
	addBool(fs, &o.bases, "bases", "", "also find how much transparent base each ink of the best dozen sets is best printed with")
	addNumber(fs, &o.baseStep, "base-step", "PERCENT", "steps of the base")
	addBool(fs, &o.mixed, "mixed", "", "also find the inks that would print it best, whatever the shelf has, and how to mix them from it")
	addBool(fs, &o.orders, "orders", "", "list all print orders of the best set beside the trade's rules of thumb")
	addSettings(fs, job.Setting{Key: "register", Arg: "LENGTH", Help: "how far plates lie out of register, to say what that changes", Value: &o.register})
	addSettings(fs, o.job.SizeSettings()...)
	addSome(fs, o.job.SeparationSettings(), "tints", "out-of-reach", "inks-per-spot", "unprinted")
	o.runFlags.addFlags(fs)
	o.limitFlags.addFlags(fs)
}

// counts reads 3 or 2..6.
func (o *suggestOptions) counts() (from, to int, err error) {
	a, b, isRange := strings.Cut(o.count, "..")
	if !isRange {
		b = a
	}
	from, err = strconv.Atoi(strings.TrimSpace(a))
	if err == nil {
		to, err = strconv.Atoi(strings.TrimSpace(b))
	}
	if err != nil || from < 1 || to < from || to > composite.MaxInks {
		return 0, 0, usage("--count %s: give a number of inks from 1 to %d, or a range such as 2..4", o.count, composite.MaxInks)
	}
	return from, to, nil
}

// suggestJSON is what --json prints.
type suggestJSON struct {
	Artwork     artJSON       `json:"artwork"`
	Shelf       string        `json:"shelf"`
	Paper       string        `json:"paper"`
	Tints       string        `json:"tints"`
	RegisterMM  float64       `json:"register_mm"`
	Choices     []choiceJSON  `json:"choices"`
	Orders      []orderJSON   `json:"orders,omitempty"`
	Mixed       *mixedJSON    `json:"mixed,omitempty"`
	Assumptions string        `json:"quantities_assume,omitempty"`
	Findings    []job.Finding `json:"findings"`
}

type artJSON struct {
	File     string  `json:"file"`
	SHA256   string  `json:"sha256"`
	Width    int     `json:"width"`
	Height   int     `json:"height"`
	WidthMM  float64 `json:"width_mm"`
	HeightMM float64 `json:"height_mm"`
}

func newArtJSON(a *job.Art) artJSON {
	return artJSON{a.File, a.SHA256, a.Width, a.Height, round(a.WidthMM), round(a.HeightMM)}
}

type choiceJSON struct {
	Rank          int           `json:"rank"` // among sets of as many inks
	Count         int           `json:"count"`
	Inks          []setInk      `json:"inks"` // in print order
	MeanDE00      float64       `json:"mean_de00"`
	P95DE00       float64       `json:"p95_de00"`
	InReach       float64       `json:"in_reach_percent"`
	InksPerSpot   float64       `json:"inks_per_spot"`
	MostInks      int           `json:"most_inks_in_a_spot"`
	TotalCoverage float64       `json:"total_coverage_percent"`
	RegisterDE00  float64       `json:"register_de00"`
	OpacityDE00   float64       `json:"opacity_de00"`
	OpacityInk    string        `json:"opacity_ink"`
	Alike         [][2]string   `json:"alike"`
	Merged        [][2]string   `json:"merged"`             // colors of flat artwork that print alike; "" is bare paper
	Farthest      *madeJSON     `json:"farthest,omitempty"` // the main color that comes out worst, where it is far off
	RuleDE00      float64       `json:"trade_order_de00"`
	Why           string        `json:"why"`
	Overlaps      []overlapJSON `json:"overlaps"`
}

type orderJSON struct {
	Inks     []string `json:"inks"`
	MeanDE00 float64  `json:"mean_de00"`
	Rules    []string `json:"rules"`
}

type mixedJSON struct {
	MeanDE00 float64      `json:"mean_de00"`
	P95DE00  float64      `json:"p95_de00"`
	InReach  float64      `json:"in_reach_percent"`
	Inks     []recipeJSON `json:"inks"` // in print order
}

// suggestion is a suggest under way.
type suggestion struct {
	*suggestOptions
	p     *program
	stock *job.Stock
	paper *ink.Paper
	art   *job.Art
	q     choose.Question
	run   *choose.Run
	json  suggestJSON
	page  sheet.ComparedArt
}

func (o *suggestOptions) run(ctx context.Context, p *program, path string) error {
	from, to, err := o.counts()
	if err != nil {
		return err
	}
	if o.best != float64(int(o.best)) || o.best < 1 || o.best > 50 {
		return usage("--best %g: give a number of sets from 1 to 50", o.best)
	}
	if !(o.fewest >= 0 && o.fewest < 100) {
		return usage("--fewest %g: give a mean difference above zero, such as 4", o.fewest)
	}
	if !(o.baseStep >= .5 && o.baseStep <= 50) {
		return usage("--base-step %g: give percents from 0.5 to 50", o.baseStep)
	}
	if err := o.limitFlags.check(); err != nil {
		return err
	}
	if err := o.job.Check(); err != nil {
		return err
	}
	s := &suggestion{suggestOptions: o, p: p}
	if s.stock, s.paper, err = shelfAndPaper(&o.job); err != nil {
		return err
	}
	inputs := both(path, o.mask)
	if o.Out != "" {
		if err := checkPages(o.Out, o.Force, inputs); err != nil {
			return err
		}
	} else if o.Force {
		return usage("--force replaces a file: say which with -o")
	}
	if err := s.open(path); err != nil {
		return err
	}
	for n := from; n <= to; n++ {
		if done, err := s.rank(ctx, n, to); err != nil || done {
			if err != nil {
				return asked(err)
			}
			break
		}
	}
	if err := s.more(ctx); err != nil {
		return asked(err)
	}
	p.endStep()
	if o.Out != "" {
		s.page.Sets[s.picked()].Name += ", the best"
		page := sheet.Comparison{Title: "inks for " + s.art.File, Arts: []sheet.ComparedArt{s.page}, Next: []string{s.next(path)},
			Lead: fmt.Sprintf("on %s, %.0f × %.0f mm; ranked by the mean difference from the picture's main colors", s.paper.Name, s.art.WidthMM, s.art.HeightMM)}
		for _, f := range s.json.Findings {
			page.Notes = append(page.Notes, f.Message)
		}
		if s.run != nil {
			page.Notes = append(page.Notes, "grams: "+s.run.Assumptions())
		}
		if err := p.writePages(ctx, o.Out, o.Force, inputs, page); err != nil {
			return err
		}
	}
	if o.JSON {
		err = p.writeJSON(s.json)
	} else {
		err = s.print()
	}
	if err != nil {
		return err
	}
	p.say("next: %s", s.next(path))
	return nil
}

func (s *suggestion) open(path string) error {
	var err error
	s.p.step("reading " + path)
	if s.art, err = s.job.OpenArt(path, s.paper, s.limitFlags.limits()); err != nil {
		return err
	}
	s.p.say("%s: %s", path, s.art.Note)
	if s.run, err = s.runFlags.run(s.art); err != nil {
		return err
	}
	s.q = choose.Question{With: s.with, Without: s.without, Bases: s.bases, BaseStep: s.baseStep, Top: int(s.best),
		WidthMM: s.art.WidthMM, Register: s.register.MM()}
	if s.q.Options, err = s.job.SeparateOptions(); err != nil {
		return err
	}
	if s.mask != "" {
		if s.q.Mask, err = job.OpenMask(s.mask, s.art, s.limitFlags.limits()); err != nil {
			return asked(err)
		}
	}
	s.json = suggestJSON{Artwork: newArtJSON(s.art), Shelf: s.stock.From, Paper: s.paper.Name, RegisterMM: s.q.Register, Choices: []choiceJSON{},
		Findings: append(append([]job.Finding{}, s.art.Found()...), s.stock.Findings()...)}
	s.p.sayFindings(s.json.Findings)
	if s.run != nil {
		s.json.Assumptions = s.run.Assumptions()
	}
	s.page = sheet.ComparedArt{Name: s.art.File, Art: s.art.Preview(pagePicture)}
	return nil
}

// pagePicture is the longest side of pictures on a page, in pixels.
const pagePicture = 560

// rank ranks the sets of n inks and reports whether no more are wanted.
func (s *suggestion) rank(ctx context.Context, n, most int) (bool, error) {
	s.p.step(fmt.Sprintf("looking at all sets of %d inks", n))
	s.q.Count = n
	var all []*choose.Choice
	var err error
	done := false
	if s.fewest > 0 {
		var ok bool
		s.q.Count = most
		if all, ok, err = choose.Fewest(ctx, s.stock.Shelf, s.paper, s.art.Picture, s.fewest, s.q); err != nil {
			return false, err
		}
		if !ok {
			s.p.say("no set of up to %d inks comes within %.2f: these come nearest", most, s.fewest)
		}
		done = true
	} else if all, err = choose.Rank(ctx, s.stock.Shelf, s.paper, s.art.Picture, s.q); err != nil {
		return false, err
	}
	for i, c := range all {
		m, err := composite.New(s.stock.Shelf, s.paper, c.Uses)
		if err != nil {
			return false, err
		}
		inks, err := setInks(m, c.Uses, c.Coverage, s.run)
		if err != nil {
			return false, err
		}
		s.json.Tints = c.Tints.String()
		j := choiceJSON{Rank: i + 1, Count: len(inks), Inks: inks, MeanDE00: round(c.MeanDE), P95DE00: round(c.P95DE), InReach: round(c.InReach),
			InksPerSpot: round(c.InksPerSpot), MostInks: c.MostInks, TotalCoverage: round(c.TotalCoverage), RegisterDE00: round(c.RegisterDE),
			OpacityDE00: round(c.OpacityDE), OpacityInk: c.OpacityInk, Alike: c.Alike, RuleDE00: round(c.RuleDE), Why: c.Why, Overlaps: overlapsJSON(c.Overlaps)}
		if j.Alike == nil {
			j.Alike = [][2]string{}
		}
		j.Merged = [][2]string{}
		for _, m := range c.Merged {
			pair := [2]string{hexRGB(m.RGB), ""}
			if !m.Bare {
				pair[1] = hexRGB(m.With)
			}
			j.Merged = append(j.Merged, pair)
		}
		if f := c.Farthest; f != nil {
			j.Farthest = &madeJSON{hexRGB(f.RGB), job.HexCode(f.Printed.XYZ()), round(f.Share), round(f.DE)}
		}
		s.json.Choices = append(s.json.Choices, j)
		if s.Out != "" {
			if err := s.show(ctx, fmt.Sprintf("%d inks: no. %d", len(inks), i+1), c, inks); err != nil {
				return false, err
			}
		}
	}
	return done, nil
}

// show puts a choice on the page.
func (s *suggestion) show(ctx context.Context, name string, c *choose.Choice, inks []setInk) error {
	s.p.step("drawing " + name)
	pr, err := choose.NewProof(ctx, s.stock.Shelf, s.paper, s.art.Picture, c.Uses, s.q.Options, pagePicture, true)
	if err != nil {
		return err
	}
	set := sheet.ComparedSet{Name: name, Paper: s.paper.Color, Proof: pr.Print, Want: pr.Want, Printed: pr.Printed,
		Mean: c.MeanDE, P95: c.P95DE, InReach: c.InReach, Makes: makes(c.Overlaps), Words: s.words(c)}
	set.Figures = []sheet.Fact{
		{Name: "mean ΔE", Value: fmt.Sprintf("%.2f", c.MeanDE)},
		{Name: "95 % below", Value: fmt.Sprintf("%.2f", c.P95DE)},
		{Name: "in reach", Value: fmt.Sprintf("%.0f %%", c.InReach)},
		{Name: "inks per spot", Value: fmt.Sprintf("%.1f, most %d", c.InksPerSpot, c.MostInks)},
		{Name: "fullest spot", Value: fmt.Sprintf("%.0f %%", c.TotalCoverage)},
		{Name: fmt.Sprintf("out of register %g mm", s.q.Register), Value: fmt.Sprintf("%.2f", c.RegisterDE)},
		{Name: "opacity ± 10 %", Value: fmt.Sprintf("%.2f", c.OpacityDE)},
	}
	m, err := composite.New(s.stock.Shelf, s.paper, c.Uses)
	if err != nil {
		return err
	}
	for i, k := range inks {
		set.Inks = append(set.Inks, sheet.ComparedInk{Name: k.Name, Color: m.Overprint(1 << i), Note: k.note(), Plate: pr.Plates[i]})
	}
	s.page.Sets = append(s.page.Sets, set)
	return nil
}

// more adds orders and free inks.
func (s *suggestion) more(ctx context.Context) error {
	if s.orders {
		uses, err := s.uses(&s.json.Choices[s.picked()])
		if err != nil {
			return err
		}
		s.p.step("printing in every order")
		all, err := choose.Orders(ctx, s.stock.Shelf, s.paper, s.art.Picture, uses, s.q.Options)
		if err != nil {
			return err
		}
		for _, a := range all {
			j := orderJSON{MeanDE00: round(a.MeanDE), Rules: a.Rules}
			for _, u := range a.Uses {
				j.Inks = append(j.Inks, u.Ink.Name)
			}
			if j.Rules == nil {
				j.Rules = []string{}
			}
			s.json.Orders = append(s.json.Orders, j)
		}
	}
	if !s.mixed {
		return nil
	}
	s.p.step("looking for inks to mix")
	s.q.Count = s.json.Choices[len(s.json.Choices)-1].Count
	free, c, err := choose.FreeInks(ctx, s.stock.Shelf, s.paper, s.art.Picture, s.q, choose.Mixing{})
	if err != nil {
		return err
	}
	s.json.Mixed = &mixedJSON{MeanDE00: round(c.MeanDE), P95DE00: round(c.P95DE), InReach: round(c.InReach)}
	for _, f := range free {
		s.json.Mixed.Inks = append(s.json.Mixed.Inks, newRecipeJSON(f.Recipe))
	}
	return nil
}

// uses are the inks of a choice.
func (s *suggestion) uses(c *choiceJSON) ([]composite.Use, error) {
	var out []composite.Use
	for _, k := range c.Inks {
		i, err := s.stock.Ink(k.Name)
		if err != nil {
			return nil, err
		}
		u := composite.AsMeasured(i)[0]
		if k.BasePercent != nil {
			u.Base = *k.BasePercent
		}
		out = append(out, u)
	}
	return out, nil
}

func (s *suggestion) next(path string) string {
	uses, err := s.uses(&s.json.Choices[s.picked()])
	if err != nil {
		return ""
	}
	return separateCommand(path, s.job.Shelf, s.job.Paper, uses, s.carried)
}
