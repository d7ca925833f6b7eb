package main

import (
	"fmt"
	"math"

	"platewright/cmd/platewright/internal/job"
	"platewright/composite/chart"
)

// baseFindings are of prints that look to hold other base than was stated.
func baseFindings(bases []chart.Base) []job.Finding {
	out := []job.Finding{}
	for i := range bases {
		b := &bases[i]
		if !b.Differs {
			continue
		}
		f := job.Finding{Code: "base-differs", Level: job.Warning, Message: b.String()}
		switch {
		case math.IsNaN(b.Written):
			f.Message += "; through another mesh its film is another, so none goes on the new shelf"
			f.Mend = "where it was let down say with how much, with --base"
		case b.Written == b.Stated:
			f.Message += ", which stays on the new shelf"
			f.Mend = "weigh the mix again; through another mesh its film is another, and looks like other base"
		default:
			f.Message += fmt.Sprintf("; the new shelf takes %g %%", b.Written)
			f.Mend = fmt.Sprintf("weigh the mix again; where you are sure of it write base on the new shelf under %q", b.Ink)
		}
		out = append(out, f)
	}
	return out
}

type measuredInk struct {
	Name     string        `json:"name"`
	Lab      [3]float64    `json:"lab"`
	Tints    int           `json:"tints"`
	Register *shiftMM      `json:"register,omitempty"`
	Base     *measuredBase `json:"base,omitempty"`
	KnownBy  string        `json:"known_by"`
}

// measuredBase is with how much base a print looks to be made, in percent.
type measuredBase struct {
	Percent   float64  `json:"percent"`
	PlusMinus float64  `json:"plus_minus"`
	Stated    *float64 `json:"stated"`
	Written   *float64 `json:"on_the_shelf"`
}

func newMeasuredBase(b *chart.Base) *measuredBase {
	said := func(v float64) *float64 {
		if math.IsNaN(v) {
			return nil
		}
		return &v
	}
	return &measuredBase{job.Round(b.Percent, 1), job.Round(b.PlusMinus, 1), said(b.Stated), said(b.Written)}
}

type shiftMM struct {
	X  float64 `json:"x_mm"`
	Y  float64 `json:"y_mm"`
	MM float64 `json:"mm"`
}

type measuredErrors struct {
	Patches int     `json:"patches"`
	Mean    float64 `json:"mean_de00"`
	P95     float64 `json:"p95_de00"`
	Most    float64 `json:"max_de00"`
}

type measuredPatch struct {
	Name   string     `json:"name"`
	Print  string     `json:"print"`
	Lab    [3]float64 `json:"lab"`
	Spread float64    `json:"plus_minus_de00"`
}

type measuredOut struct {
	Shelf    string          `json:"shelf"`
	Paper    string          `json:"paper"`
	PaperLab [3]float64      `json:"paper_lab"`
	Inks     []measuredInk   `json:"inks"`
	Repeat   float64         `json:"repeatability_de00"`
	Before   *measuredErrors `json:"before,omitempty"`
	After    measuredErrors  `json:"after"`
	LeftOut  []string        `json:"left_out"`
	Notes    []string        `json:"notes"`
	Findings []job.Finding   `json:"findings"`
	Patches  []measuredPatch `json:"patches"`
}

func newMeasured(o *measureOptions, m *measurement, fit *chart.Fitted) *measuredOut {
	errs := func(e chart.Errors) measuredErrors {
		return measuredErrors{e.Patches, job.Round(e.Mean, 3), job.Round(e.P95, 3), job.Round(e.Most, 3)}
	}
	out := &measuredOut{Shelf: o.Out, Paper: fit.Paper.Name, PaperLab: job.RoundLab(fit.Paper.Color), Repeat: job.Round(fit.Repeat, 3),
		After: errs(fit.After), LeftOut: []string{}, Notes: append([]string{}, fit.Notes...), Findings: append(append([]job.Finding{}, m.found...), baseFindings(fit.Bases)...), Patches: []measuredPatch{}}
	if fit.Before.Patches > 0 {
		e := errs(fit.Before)
		out.Before = &e
	}
	for i, u := range fit.Inks {
		mi := measuredInk{Name: u.Name, Lab: job.RoundLab(u.Color), Tints: len(u.Tints), KnownBy: u.KnownBy()}
		if m.reading != nil && i < len(m.reading.Register) {
			if r := m.reading.Register[i]; r.Read {
				mi.Register = &shiftMM{job.Round(r.X, 3), job.Round(r.Y, 3), job.Round(r.MM, 3)}
			}
		}
		for k := range fit.Bases {
			if fit.Bases[k].Ink == u.Name {
				mi.Base = newMeasuredBase(&fit.Bases[k])
			}
		}
		out.Inks = append(out.Inks, mi)
	}
	for i := range fit.Doubtful {
		out.LeftOut = append(out.LeftOut, fit.Doubtful[i].String())
	}
	for i := range m.samples {
		s := &m.samples[i]
		out.Patches = append(out.Patches, measuredPatch{s.Name, s.Words(m.print.Inks), job.RoundLab(s.Color), job.Round(s.Spread, 2)})
	}
	return out
}
