package main

import (
	"fmt"
	"image/png"
	"math"
	"os"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"platewright/cmd/platewright/internal/job"
	"platewright/cmd/platewright/internal/sheet"
	"platewright/composite/ink"
)

// inksOptions are the flags of inks.
type inksOptions struct {
	outFlags
	job     job.Job
	newFile string
}

func newInks(p *program) *cobra.Command {
	o := &inksOptions{job: *job.New()}
	cmd := &cobra.Command{
		Use:   "inks [flags]",
		Short: "list the inks and papers of a shelf, draw them, or begin a shelf",
		Long: `inks lists the inks and papers of a shelf with their colors, how much each ink
covers (0 clear, 1 opaque) and what that is known by. With -o it draws them, on
the paper and over black. With --new it writes a shelf to fill in.`,
		Example: `  platewright inks --shelf shelf.toml -o swatches.png
  platewright inks --new shelf.toml`,
		Args: noFiles,
	}
	fs := cmd.Flags()
	o.outFlags.addFlags(fs, "draw the inks as swatches into this PNG")
	addText(fs, &o.newFile, "new", "", "FILE", "write a commented shelf to fill in")
	addShelf(fs, &o.job.Shelf)
	addSome(fs, o.job.InkSettings(), "paper")
	cmd.RunE = func(*cobra.Command, []string) error {
		if o.newFile != "" {
			for _, name := range []string{"out", "json", "shelf", "paper"} {
				if fs.Changed(name) {
					return usage("--new writes a shelf to fill in: leave --%s out", name)
				}
			}
			return o.writeNew(p)
		}
		if o.Force && o.Out == "" {
			return usage("--force replaces a file: say which with -o or --new")
		}
		return o.run(p)
	}
	return cmd
}

func (o *inksOptions) writeNew(p *program) error {
	err := job.WriteFile(o.newFile, o.Force, nil, func(f *os.File) error {
		_, err := f.Write(ink.Template())
		return err
	})
	if err != nil {
		return err
	}
	p.say("made: %s; fill in your papers and inks", o.newFile)
	p.say("next: platewright inks --shelf %s", quoted(o.newFile))
	return nil
}

// listed is an ink as --json and the table show it.
type listed struct {
	Name    string     `json:"name"`
	On      string     `json:"on"`
	Color   string     `json:"color"`
	Lab     [3]float64 `json:"lab"`
	Opacity float64    `json:"opacity"`
	Base    float64    `json:"base_percent"`
	KnownBy string     `json:"known_by"`
}

type listedPaper struct {
	Name   string     `json:"name"`
	Finish string     `json:"finish"`
	Color  string     `json:"color"`
	Lab    [3]float64 `json:"lab"`
}

type listedSet struct {
	Name string   `json:"name"`
	Inks []string `json:"inks"`
}

type shelfList struct {
	Shelf  string        `json:"shelf"`
	Papers []listedPaper `json:"papers"`
	Inks   []listed      `json:"inks"`
	Sets   []listedSet   `json:"sets"`
}

func (o *inksOptions) run(p *program) error {
	if o.Out != "" {
		if !strings.EqualFold(lastOf(o.Out, 4), ".png") {
			return usage("--out %s: swatches are a PNG: give a name that ends in .png", o.Out)
		}
		if err := job.CheckFile(o.Out, o.Force, []string{o.job.Shelf}); err != nil {
			return err
		}
	}
	stock, paper, err := shelfAndPaper(&o.job)
	if err != nil {
		return err
	}
	list, err := listShelf(stock)
	if err != nil {
		return err
	}
	if err := o.answer(p, list); err != nil || o.Out == "" {
		return err
	}
	if err := o.draw(stock, paper); err != nil {
		return err
	}
	p.say("made: %s", o.Out)
	return nil
}

func lastOf(s string, n int) string { return s[max(0, len(s)-n):] }

func listShelf(stock *job.Stock) (*shelfList, error) {
	list := &shelfList{Shelf: stock.From, Papers: []listedPaper{}, Inks: []listed{}, Sets: []listedSet{}}
	for _, q := range stock.Papers {
		list.Papers = append(list.Papers, listedPaper{q.Name, string(q.Finish), job.HexCode(q.Color), job.RoundLab(q.Color)})
	}
	for _, i := range stock.Inks {
		on, err := stock.Paper(i.On)
		if err != nil {
			return nil, err
		}
		f, err := stock.Film(i)
		if err != nil {
			return nil, err
		}
		list.Inks = append(list.Inks, listed{i.Name, on.Name, job.HexCode(i.Color), job.RoundLab(i.Color), job.Round(f.Opacity, 3), job.Round(f.Base, 3), i.KnownBy()})
	}
	for _, s := range stock.Sets {
		list.Sets = append(list.Sets, listedSet{s.Name, s.Inks})
	}
	return list, nil
}

func (l *shelfList) print(p *program) error {
	w := tabwriter.NewWriter(p.out, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "INK\tCOLOR\tLAB\tOPACITY\tON\tKNOWN BY\n")
	for _, i := range l.Inks {
		fmt.Fprintf(w, "%s\t%s\t%s\t%.2f\t%s\t%s\n", i.Name, i.Color, wholeLab(i.Lab), i.Opacity, i.On, i.KnownBy)
	}
	fmt.Fprintf(w, "\nPAPER\tCOLOR\tLAB\tFINISH\n")
	for _, q := range l.Papers {
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", q.Name, q.Color, wholeLab(q.Lab), q.Finish)
	}
	if len(l.Sets) > 0 {
		fmt.Fprintf(w, "\nSET\tINKS\n")
		for _, s := range l.Sets {
			fmt.Fprintf(w, "@%s\t%s\n", s.Name, strings.Join(s.Inks, ", "))
		}
	}
	if err := w.Flush(); err != nil {
		return err
	}
	if l.Shelf == job.BuiltIn {
		p.say("these are invented example inks; describe your own: platewright inks --new shelf.toml")
	} else {
		p.say("shelf: %s", l.Shelf)
	}
	return nil
}

// wholeLab is a color in whole numbers, without a zero below zero.
func wholeLab(c [3]float64) string {
	for i, v := range c {
		c[i] = math.Round(v) + 0
	}
	return fmt.Sprintf("%.0f, %.0f, %.0f", c[0], c[1], c[2])
}

// draw makes the swatch picture: each solid on the paper and over a black.
func (o *inksOptions) draw(stock *job.Stock, paper *ink.Paper) error {
	swatches, black, err := stock.Swatches(paper)
	if err != nil {
		return err
	}
	m, err := sheet.Swatches(sheet.Paper{Name: paper.Name, Finish: string(paper.Finish), Color: paper.Color}, black, swatches)
	if err != nil {
		return err
	}
	return job.WriteFile(o.Out, o.Force, []string{o.job.Shelf}, func(f *os.File) error { return png.Encode(f, m) })
}
