package main

import (
	"context"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"platewright/cmd/platewright/internal/job"
	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
	"platewright/separate/choose"
)

// mixOptions are the flags of mix.
type mixOptions struct {
	outFlags
	job     job.Job
	grams   float64
	step    float64
	most    float64
	opacity float64
	with    job.Names
	without job.Names
	name    string
	save    string
	got     string
	have    string
	best    float64
	carried string // flags for the command that comes next
}

func newMix(p *program) *cobra.Command {
	o := &mixOptions{job: *job.New(), grams: 100, step: .1, most: 3, best: 3}
	cmd := &cobra.Command{
		Use:   "mix COLOR [flags]",
		Short: "find the recipe of a color from the inks of the shelf",
		Long: `mix finds what to weigh of at most three inks and transparent base so that the
solid on the paper has the color, in percent of the total weight and in grams.
Mixes are computed and real ones depart from that: weigh a small trial, print
it, and give its color with --got to hear what to add.`,
		Example: `  platewright mix 2f6d58 --shelf shelf.toml --grams 250
  platewright mix lab:62,-21,6 --name "pond green" --save pond.toml
  platewright mix 2f6d58 --got 2a6450`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) != 1 {
				return usage("name one color: platewright mix 2f6d58, lab:62,-21,6 or xyz:84.5,87.6,74.6")
			}
			return nil
		},
	}
	fs := cmd.Flags()
	o.addFlags(fs)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		o.carried = carried(fs, "shelf", "paper", "grams", "step", "have", "most", "opacity", "with", "without")
		return o.run(cmd.Context(), p, args[0])
	}
	return cmd
}

func (o *mixOptions) addFlags(fs *pflag.FlagSet) {
	addBool(fs, &o.JSON, "json", "", "write the result to stdout as JSON")
	addBool(fs, &o.Force, "force", "", "replace the file of --save")
	addShelf(fs, &o.job.Shelf)
	addSome(fs, o.job.InkSettings(), "paper")
	addNumber(fs, &o.grams, "grams", "GRAMS", "how much to mix in all")
	addNumber(fs, &o.step, "step", "GRAMS", "the smallest step of the scale")
	addText(fs, &o.have, "have", "", "INK=GRAMS", "mix as much as there is of one ink, in place of --grams")
	addNumber(fs, &o.most, "most", "N", "most inks beside base, 1 to 3")
	addNumber(fs, &o.opacity, "opacity", "RATIO", "how much the mix shall cover, as a contrast ratio above 0 and up to 1; 0 is any")
	addSettings(fs, job.Setting{Key: "with", Arg: "NAMES", Help: "inks that have to be in it, with commas between", Value: &o.with},
		job.Setting{Key: "without", Arg: "NAMES", Help: "inks that must not be in it", Value: &o.without})
	addNumber(fs, &o.best, "best", "N", "how many recipes to show, 1 to 5")
	addText(fs, &o.got, "got", "", "COLOR", "the color that the first recipe came out with: says what to add")
	addText(fs, &o.name, "name", "", "NAME", "what the mix is called on the shelf that --save writes")
	addText(fs, &o.save, "save", "", "FILE", "write a shelf that has the mix beside all else")
}

type recipeJSON struct {
	Want    string      `json:"want"`
	Color   string      `json:"color"` // predicted
	Lab     [3]float64  `json:"lab"`
	DE00    float64     `json:"de00"`
	InReach bool        `json:"in_reach"`
	Opacity float64     `json:"opacity"`
	Grams   float64     `json:"grams"`
	Parts   []partJSON  `json:"parts"` // percents of the total weight
	OnInks  []onInkJSON `json:"on_inks"`
}

type onInkJSON struct {
	Ink   string     `json:"ink"`
	Color string     `json:"color"`
	Lab   [3]float64 `json:"lab"`
}

func newRecipeJSON(r *choose.Recipe) recipeJSON {
	j := recipeJSON{Want: job.HexCode(r.Want), Color: job.HexCode(r.Color), Lab: job.RoundLab(r.Color), DE00: round(r.DE), InReach: r.InReach, Opacity: round(r.Opacity), OnInks: []onInkJSON{}}
	for _, p := range r.Parts {
		j.Parts = append(j.Parts, partJSON{p.Name, job.Round(p.Percent, 4), p.Grams})
		j.Grams += p.Grams
	}
	j.Grams = job.Round(j.Grams, 6)
	for _, o := range r.OnInks {
		j.OnInks = append(j.OnInks, onInkJSON{o.Name, job.HexCode(o.Color), job.RoundLab(o.Color)})
	}
	return j
}

// words is the recipe in one line.
func (r *recipeJSON) words() string {
	var parts []string
	for _, p := range r.Parts {
		parts = append(parts, fmt.Sprintf("%s %.1f %%", p.Name, p.Percent))
	}
	return strings.Join(parts, ", ")
}

type mixJSON struct {
	Shelf      string          `json:"shelf"`
	Paper      string          `json:"paper"`
	Recipes    []recipeJSON    `json:"recipes"`
	Correction *correctionJSON `json:"correction,omitempty"`
	Saved      string          `json:"saved,omitempty"`

	step float64 // of the scale, in grams
}

type correctionJSON struct {
	Got     string     `json:"got"`
	GotDE00 float64    `json:"got_de00"`
	Add     []partJSON `json:"add"`
	Grams   float64    `json:"grams"` // after
	Color   string     `json:"color"`
	DE00    float64    `json:"de00"`
	Because string     `json:"because"`
}

func (o *mixOptions) run(ctx context.Context, p *program, typed string) error {
	want, err := ink.ParseColor(typed)
	if err != nil {
		return &usageError{err}
	}
	got := spectrum.XYZ{}
	if o.got != "" {
		if got, err = ink.ParseColor(o.got); err != nil {
			return usage("--got: %w", err)
		}
	}
	switch {
	case o.best != float64(int(o.best)) || o.best < 1 || o.best > 5:
		return usage("--best %g: give a number of recipes from 1 to 5", o.best)
	case o.most != float64(int(o.most)):
		return usage("--most %g: give 1, 2 or 3", o.most)
	case (o.name == "") != (o.save == ""):
		return usage("--name and --save belong together: --name \"pond green\" --save pond.toml")
	case o.Force && o.save == "":
		return usage("--force replaces a file: say which with --save")
	}
	stock, paper, err := shelfAndPaper(&o.job)
	if err != nil {
		return err
	}
	if o.save != "" {
		if err := job.CheckFile(o.save, o.Force, []string{stock.From}); err != nil {
			return err
		}
		if _, err := stock.Ink(o.name); err == nil {
			return usage("--name %q: the shelf has an ink of that name: take another", o.name)
		}
	}
	m := choose.Mixing{Grams: o.grams, Step: o.step, Inks: int(o.most), With: o.with, Without: o.without, Opacity: o.opacity}
	if o.grams == 0 || o.step == 0 || o.most == 0 {
		return usage("--grams, --step and --most are more than 0")
	}
	recipes, err := choose.Mix(ctx, stock.Shelf, paper, want, m)
	if err != nil {
		return asked(err)
	}
	recipes = recipes[:min(int(o.best), len(recipes))]
	if o.have != "" {
		if err := o.limit(recipes); err != nil {
			return err
		}
	}
	out := mixJSON{Shelf: stock.From, Paper: paper.Name, Saved: o.save, step: o.step}
	for _, r := range recipes {
		out.Recipes = append(out.Recipes, newRecipeJSON(r))
	}
	if o.got != "" {
		if out.Correction, err = correct(ctx, stock, paper, recipes[0], got, m); err != nil {
			return asked(err)
		}
	}
	if o.save != "" {
		if err := o.saveMix(stock, paper, recipes[0]); err != nil {
			return err
		}
	}
	if err := o.answer(p, &out); err != nil {
		return err
	}
	if o.save != "" {
		p.say("made: %s", o.save)
		p.say("next: %s", separateCommand("ART", o.save, o.job.Paper, composite.AsMeasured(&ink.Ink{Name: o.name}), ""))
	} else {
		p.say("next: platewright mix %s%s --name NAME --save FILE", quoted(typed), o.carried)
	}
	return nil
}

// limit rescales the recipes to what there is of one ink.
func (o *mixOptions) limit(recipes []*choose.Recipe) error {
	name, number, ok := strings.Cut(o.have, "=")
	var grams float64
	if n, err := fmt.Sscanf(strings.TrimSuffix(strings.TrimSpace(number), "g"), "%g", &grams); !ok || n != 1 || err != nil || !(grams > 0) {
		return usage("--have %q: give an ink and its grams, such as \"egg yolk=30\"", o.have)
	}
	for i, r := range recipes {
		s, err := r.ScaleTo(strings.TrimSpace(name), grams, o.step)
		if err != nil {
			if i > 0 {
				continue // other recipes need not have it
			}
			return asked(err)
		}
		recipes[i] = s
	}
	return nil
}

func correct(ctx context.Context, stock *job.Stock, paper *ink.Paper, r *choose.Recipe, got spectrum.XYZ, m choose.Mixing) (*correctionJSON, error) {
	m.With, m.Without = nil, nil
	c, err := choose.Correct(ctx, stock.Shelf, paper, r, got, m)
	if err != nil {
		return nil, err
	}
	j := &correctionJSON{Got: job.HexCode(c.Got), GotDE00: round(c.GotDE), Grams: round(c.Grams), Color: job.HexCode(c.Color), DE00: round(c.DE), Because: c.Explain, Add: []partJSON{}}
	for _, p := range c.Add {
		j.Add = append(j.Add, partJSON{p.Name, round(p.Percent), round(p.Grams)})
	}
	return j, nil
}

// saveMix writes the shelf with the mix on it.
func (o *mixOptions) saveMix(stock *job.Stock, paper *ink.Paper, r *choose.Recipe) error {
	shelf := &ink.Shelf{Papers: stock.Papers, Inks: append(stock.Inks[:len(stock.Inks):len(stock.Inks)], r.Ink(o.name, stock.Shelf, paper)), Overprints: stock.Overprints, Sets: stock.Sets}
	if err := shelf.Prepare(); err != nil {
		return &usageError{err}
	}
	return job.WriteFile(o.save, o.Force, []string{stock.From}, func(f *os.File) error { return shelf.Write(f) })
}

func (m *mixJSON) print(p *program) error {
	for n, r := range m.Recipes {
		note := ""
		switch {
		case !r.InReach:
			note = ": out of reach of these inks, this is the nearest"
		case n > 0:
			note = ": another way"
		}
		fmt.Fprintf(p.out, "%s on %s, ΔE %.2f from %s, opacity %.2f%s\n", r.Color, m.Paper, r.DE00, r.Want, r.Opacity, note)
		d := percentDecimals(100 * m.step / r.Grams)
		for _, part := range r.Parts {
			fmt.Fprintf(p.out, "  %*.*f %%  %8s g  %s\n", 4+d, d, part.Percent, m.grams(part.Grams), part.Name)
		}
		fmt.Fprintf(p.out, "  %*.*f %%  %8s g  in all\n", 4+d, d, 100.0, m.grams(r.Grams))
	}
	fmt.Fprintf(p.out, "the first, printed over the other inks:\n")
	for _, o := range m.Recipes[0].OnInks {
		fmt.Fprintf(p.out, "  %s  on %s\n", o.Color, o.Ink)
	}
	if c := m.Correction; c != nil {
		fmt.Fprintf(p.out, "it came out as %s, ΔE %.2f off, %s\n", c.Got, c.GotDE00, c.Because)
		if len(c.Add) == 0 {
			fmt.Fprintf(p.out, "nothing that could be added brings it nearer: mix anew\n")
			return nil
		}
		for _, a := range c.Add {
			fmt.Fprintf(p.out, "  add %s g %s\n", m.grams(a.Grams), a.Name)
		}
		fmt.Fprintf(p.out, "  makes %s g of %s, ΔE %.2f\n", m.grams(c.Grams), c.Color, c.DE00)
	}
	return nil
}

// grams writes a weight with the decimals of the scale's step.
func (m *mixJSON) grams(v float64) string {
	_, fraction, _ := strings.Cut(strconv.FormatFloat(m.step, 'f', -1, 64), ".")
	return strconv.FormatFloat(v, 'f', len(fraction), 64)
}

// percentDecimals is how many decimals tell steps of that many percent apart.
func percentDecimals(step float64) int {
	return min(4, max(0, int(math.Ceil(-math.Log10(step)-1e-9))))
}
