package main

import (
	"fmt"
	"strings"
	"text/tabwriter"

	"platewright/separate/choose"
)

// words say what speaks for and against a choice.
func (s *suggestion) words(c *choose.Choice) []string {
	out := []string{c.Why}
	for _, a := range c.Alike {
		out = append(out, fmt.Sprintf("%s and %s pull the paper nearly the same way: one of them does little", a[0], a[1]))
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
		out = append(out, fmt.Sprintf("it hangs on the opacity of %s: measure that over black", c.OpacityInk))
	}
	return out
}

// print writes the ranking as a table.
func (s *suggestion) print() error {
	w := tabwriter.NewWriter(s.p.out, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "INKS\tMEAN ΔE\t95 %%\tIN REACH\tPER SPOT\tFULLEST\tREGISTER\tOPACITY\tIN PRINT ORDER, FIRST PRINTED FIRST\n")
	for _, c := range s.json.Choices {
		var names []string
		for _, k := range c.Inks {
			n := k.Name
			if k.BasePercent != nil {
				n += fmt.Sprintf(" (%g %% base)", *k.BasePercent)
			}
			names = append(names, n)
		}
		fmt.Fprintf(w, "%d\t%.2f\t%.2f\t%.0f %%\t%.1f\t%.0f %%\t%.2f\t%.2f\t%s\n", c.Count, c.MeanDE00, c.P95DE00, c.InReach, c.InksPerSpot,
			c.TotalCoverage, c.RegisterDE00, c.OpacityDE00, strings.Join(names, ", "))
	}
	if err := w.Flush(); err != nil {
		return err
	}
	s.explain()
	s.printOrders()
	s.printMixed()
	return nil
}

// explain says why the first choice is the first.
func (s *suggestion) explain() {
	c := &s.json.Choices[0]
	out := s.p.out
	fmt.Fprintf(out, "\nwhy: %s\n", c.Why)
	for _, o := range c.Overlaps {
		var colors []string
		for _, m := range o.Colors[:min(4, len(o.Colors))] {
			colors = append(colors, fmt.Sprintf("%s (%.1f %%, ΔE %.1f)", m.Artwork, m.Share, m.DE00))
		}
		if n := len(o.Colors) - len(colors); n > 0 {
			colors = append(colors, fmt.Sprintf("%d more", n))
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
			fmt.Fprintf(out, "alike: %s and %s, set %d of %d inks\n", a[0], a[1], c.Rank, c.Count)
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
	fmt.Fprintf(out, "\nprint orders, by the model:\n")
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
