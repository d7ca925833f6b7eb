package main

import (
	"fmt"
	"slices"
	"strings"
	"text/tabwriter"

	"platewright/separate/choose"
)

// words say what speaks for and against a choice.
func (s *suggestion) words(c *choose.Choice) []string {
	out := []string{c.Why}
	for _, a := range c.Alike {
		out = append(out, fmt.Sprintf("%s and %s color the paper nearly alike: one of them does little", a[0], a[1]))
	}
	for _, m := range c.Merged[:min(4, len(c.Merged))] {
		if m.Bare {
			out = append(out, fmt.Sprintf("%s prints as bare paper", hexRGB(m.RGB)))
		} else {
			out = append(out, fmt.Sprintf("%s and %s print alike", hexRGB(m.RGB), hexRGB(m.With)))
		}
	}
	if f := c.Farthest; f != nil {
		out = append(out, fmt.Sprintf("%s comes out worst, ΔE %.0f off", hexRGB(f.RGB), f.DE))
	}
	if c.OpacityDE >= .5 {
		out = append(out, fmt.Sprintf("the print hangs on the opacity of %s: measure it over black", c.OpacityInk))
	}
	return out
}

// names are the inks with the base they are let down with, in print order.
func (c *choiceJSON) names() (names []string) {
	for _, k := range c.Inks {
		n := k.Name
		if k.BasePercent != nil {
			n += fmt.Sprintf(" (%g %% base)", *k.BasePercent)
		}
		names = append(names, n)
	}
	return names
}

// print writes the ranking as a table.
func (s *suggestion) print() error {
	w := tabwriter.NewWriter(s.p.out, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "INKS\tMEAN ΔE\t95 %% BELOW\tIN REACH\tPER SPOT\tFULLEST\t%g MM OFF\tOPACITY\tIN PRINT ORDER, FIRST PRINTED FIRST\n", s.json.RegisterMM)
	for _, c := range s.json.Choices {
		fmt.Fprintf(w, "%d\t%.2f\t%.2f\t%.0f %%\t%.1f\t%.0f %%\t%.2f\t%.2f\t%s\n", c.Count, c.MeanDE00, c.P95DE00, c.InReach, c.InksPerSpot,
			c.TotalCoverage, c.RegisterDE00, c.OpacityDE00, strings.Join(c.names(), ", "))
	}
	if err := w.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(s.p.out, "%s\n%g mm off: ΔE by plates so far out of register; opacity: ΔE by 10 %% more or less of it\n", figureWords(), s.json.RegisterMM)
	s.explain()
	s.printOrders()
	s.printMixed()
	return nil
}

// worthDE is what a further ink has to gain in mean ΔE: less is not seen.
const worthDE = 1

// picked is the place of the set to print: the fewest inks that come within worthDE of the
// set that comes nearest.
func (s *suggestion) picked() int {
	all := s.json.Choices // by number of inks, then by rank
	least := all[0].MeanDE00
	for _, c := range all {
		least = min(least, c.MeanDE00)
	}
	return slices.IndexFunc(all, func(c choiceJSON) bool { return c.MeanDE00 <= least+worthDE })
}

// explain says what the picked set does.
func (s *suggestion) explain() {
	c := &s.json.Choices[s.picked()]
	out := s.p.out
	reason := ""
	if all := s.json.Choices; all[0].Count != all[len(all)-1].Count {
		reason = fmt.Sprintf(": the fewest inks within ΔE %d of the nearest print", worthDE)
	}
	fmt.Fprintf(out, "\nbest: %s%s\n", strings.Join(c.names(), ", "), reason)
	fmt.Fprintf(out, "why: %s\n", c.Why)
	for _, o := range c.Overlaps {
		var colors []string
		for _, m := range o.Colors[:min(4, len(o.Colors))] {
			if m.Share >= .05 {
				colors = append(colors, fmt.Sprintf("%s (%.1f %%, ΔE %.1f)", m.Artwork, m.Share, m.DE00))
			}
		}
		if n := len(o.Colors) - len(colors); n > 0 {
			colors = append(colors, fmt.Sprintf("%d smaller", n))
		}
		fmt.Fprintf(out, "  %s makes %s\n", strings.Join(o.Inks, " + "), strings.Join(colors, ", "))
	}
	const most = 8
	for _, m := range c.Merged[:min(most, len(c.Merged))] {
		if m[1] == "" {
			fmt.Fprintf(out, "lost: %s prints as bare paper\n", m[0])
		} else {
			fmt.Fprintf(out, "lost: %s and %s print alike\n", m[0], m[1])
		}
	}
	if n := len(c.Merged) - most; n > 0 {
		fmt.Fprintf(out, "lost: %d more\n", n)
	}
	if f := c.Farthest; f != nil {
		fmt.Fprintf(out, "worst: %s (%.1f %%) prints as %s, ΔE %.1f off\n", f.Artwork, f.Share, f.Printed, f.DE00)
	}
	for _, c := range s.json.Choices {
		for _, a := range c.Alike {
			fmt.Fprintf(out, "alike: %s and %s color the paper nearly alike, so one of them does little: %s\n", a[0], a[1], strings.Join(c.names(), ", "))
		}
	}
	if s.run != nil {
		for _, k := range c.Inks {
			fmt.Fprintf(out, "ink: %.0f ± %.0f g of %s\n", k.Grams, k.PlusMinus, k.Name)
			for _, p := range k.Parts {
				fmt.Fprintf(out, "  %.0f g %s\n", p.Grams, p.Name)
			}
		}
		fmt.Fprintf(out, "grams assume %s\n", s.run.Assumptions())
	}
}

func (s *suggestion) printOrders() {
	if s.json.Orders == nil {
		return
	}
	out := s.p.out
	fmt.Fprintf(out, "\nprint orders of the best set, with their mean ΔE:\n")
	for n, o := range s.json.Orders {
		if n >= 12 && len(o.Rules) == 0 {
			continue
		}
		rules := ""
		if len(o.Rules) > 0 {
			rules = ": " + strings.Join(o.Rules, "; ")
			if d := o.MeanDE00 - s.json.Orders[0].MeanDE00; d > 0 {
				rules += fmt.Sprintf(" (%.2f behind the best)", d)
			}
		}
		fmt.Fprintf(out, "  %3d  %.2f  %s%s\n", n+1, o.MeanDE00, strings.Join(o.Inks, ", "), rules)
	}
}

func (s *suggestion) printMixed() {
	m := s.json.Mixed
	if m == nil {
		return
	}
	out := s.p.out
	fmt.Fprintf(out, "\ninks to mix, in print order: mean ΔE %.2f, 95 %% below %.2f, %.0f %% in reach\n", m.MeanDE00, m.P95DE00, m.InReach)
	for _, r := range m.Inks {
		fmt.Fprintf(out, "  %s  %s", r.Want, r.words())
		if !r.InReach {
			fmt.Fprintf(out, " (comes out as %s, ΔE %.1f off: out of reach of the shelf)", r.Color, r.DE00)
		}
		fmt.Fprintln(out)
	}
}
