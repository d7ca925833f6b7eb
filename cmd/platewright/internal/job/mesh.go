package job

import (
	"fmt"
	"math"
	"strings"

	"platewright/halftone"
)

// MeshReport is how the halftones of a print go with its mesh.
type MeshReport struct {
	Count       string     `json:"count"` // with its unit
	SmallestDot float64    `json:"smallest_dot_mm"`
	Inks        []MeshInk  `json:"inks"`
	Pairs       []MeshPair `json:"pairs"`
}

// MeshInk is one ink on the mesh. A beat is the period of the pattern that two
// grids show over each other, 0 where they lock.
type MeshInk struct {
	Ink             string  `json:"ink"`
	RulingLPI       float64 `json:"ruling_lpi"`
	AngleDeg        float64 `json:"angle_deg"`
	Levels          float64 `json:"levels"`
	ThreadsPerLine  float64 `json:"threads_per_line"`
	LowTone         float64 `json:"low_tone_percent"` // of dots of the smallest size
	BeatMM          float64 `json:"beat_mm"`
	BetterRulingLPI float64 `json:"better_ruling_lpi,omitempty"` // with the turn below; 0 for none
	BetterTurnDeg   float64 `json:"better_turn_deg,omitempty"`
	BetterBeatMM    float64 `json:"better_beat_mm,omitempty"`
}

// MeshPair is the beat of two inks' halftones.
type MeshPair struct {
	Inks   [2]string `json:"inks"`
	BeatMM float64   `json:"beat_mm"`
}

// adviseMesh says how the halftones go with the mesh; inks of one ruling are
// advised together, so that a better angle keeps them apart.
func (s *FilmSet) adviseMesh(angles []float64) {
	j := s.job
	mesh := j.Mesh.Count()
	if mesh <= 0 || !j.Dot.Screened() {
		return
	}
	m := &MeshReport{Count: string(j.Mesh), SmallestDot: Round(mesh.SmallestDot(), 3), Inks: make([]MeshInk, len(s.names)), Pairs: []MeshPair{}}
	groups := map[float64][]int{}
	var order []float64
	for i, name := range s.names {
		lpi := j.Ruling.Of(name)
		if groups[lpi] == nil {
			order = append(order, lpi)
		}
		groups[lpi] = append(groups[lpi], i)
	}
	low := 0.0
	for _, lpi := range order {
		var own []float64
		for _, i := range groups[lpi] {
			own = append(own, angles[i])
		}
		a := mesh.Advise(lpi, j.Resolution(), own)
		low = max(low, a.LowTone)
		s.add(a.Findings)
		for k, i := range groups[lpi] {
			in := MeshInk{Ink: s.names[i], RulingLPI: lpi, AngleDeg: angles[i], Levels: Round(a.Levels, 1), ThreadsPerLine: Round(a.Ratio, 2),
				LowTone: Round(100*a.LowTone, 1), BeatMM: beatMM(a.MeshBeats[k])}
			if b := a.Better; b != nil {
				in.BetterRulingLPI, in.BetterTurnDeg, in.BetterBeatMM = b.Ruling, b.Turn, Round(b.Beat, 3)
			}
			m.Inks[i] = in
		}
	}
	for i := range s.names {
		for k := range i {
			b := halftone.Slowest(j.Ruling.Of(s.names[i]), angles[i], j.Ruling.Of(s.names[k]), angles[k], 1)
			m.Pairs = append(m.Pairs, MeshPair{[2]string{s.names[k], s.names[i]}, beatMM(b)})
		}
	}
	if least := mesh.SmallestDot(); j.MinDot.MM() < least-.005 {
		s.Findings = addFinding(s.Findings, Finding{Code: "dots-below-mesh", Level: Note,
			Message: fmt.Sprintf("dots below %.2f mm, tints below about %.0f %%, do not hold on mesh %s", least, 100*low, j.Mesh),
			Mend:    fmt.Sprintf("keep them off the film with --min-dot %.2fmm", least)})
	}
	s.Mesh = m
}

func beatMM(b halftone.Beat) float64 {
	if math.IsInf(b.Period, 1) {
		return 0
	}
	return Round(b.Period, 3)
}

// words are the advice in short lines, a title and a text each.
func (m *MeshReport) words() (lines [][2]string) {
	mm := func(v float64) string {
		if v == 0 {
			return "none, they lock"
		}
		return fmt.Sprintf("%.2g mm", v)
	}
	for _, i := range m.Inks {
		text := fmt.Sprintf("%.3g threads to a line, %.0f levels, smallest dot %.2f mm (%.0f %%), beat with the mesh %s", i.ThreadsPerLine, i.Levels, m.SmallestDot, i.LowTone, mm(i.BeatMM))
		if i.BetterRulingLPI > 0 {
			text += fmt.Sprintf("; better at %g lpi, all turned by %g°: %s", i.BetterRulingLPI, i.BetterTurnDeg, mm(i.BetterBeatMM))
		}
		lines = append(lines, [2]string{"Mesh and " + i.Ink, text})
	}
	var pairs []string
	for _, p := range m.Pairs {
		pairs = append(pairs, fmt.Sprintf("%s and %s %s", p.Inks[0], p.Inks[1], mm(p.BeatMM)))
	}
	if len(pairs) > 0 {
		lines = append(lines, [2]string{"Beats of inks", strings.Join(pairs, ", ")})
	}
	return lines
}
