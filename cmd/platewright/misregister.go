package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"platewright/cmd/platewright/internal/job"
	"platewright/separate/artwork"
)

// way is one way for plates to lie, and the picture of it.
type way struct {
	file string
	cov  func() [][]uint16
	try  *job.Misregister // nil for what was typed plate by plate
}

// tries are the ways that were tried, for --json.
func tries(ways []way) (out []*job.Misregister) {
	for _, w := range ways {
		if w.try != nil {
			out = append(out, w.try)
		}
	}
	return out
}

// ways are the pictures to make: one of the plates as they are or as typed, or
// of a --shift that names no plate the worst way to lie and random ones, about
// which it says what opens.
func (o *proofOptions) ways(p *program, stock *job.Stock, choice *job.Choice, plates []*job.Plate, shifts []job.Shift, inputs []string) ([]way, error) {
	var mm float64
	if len(o.shift) == 1 && !strings.Contains(o.shift[0], "=") {
		mm, _ = artwork.ParseLength(o.shift[0]) // 0 moves nothing
	}
	trap := o.job.Trap.MM(mm)
	if trap > 0 || mm > 0 {
		p.step("looking for what opens")
		found, trapped, err := choice.Misregistered(stock, plates, mm, trap, o.random, uint64(o.seed))
		if err != nil {
			return nil, err
		}
		plates = trapped
		if mm > 0 {
			return o.tried(p, found, plates, trap, inputs)
		}
	}
	return []way{{file: o.Out, cov: func() [][]uint16 {
		cov := make([][]uint16, len(plates))
		for i, plate := range plates {
			cov[i] = plate.Shifted(shifts[i])
		}
		return cov
	}}}, nil
}

// tried says what opens, and names the picture of each way.
func (o *proofOptions) tried(p *program, found []*job.Misregister, plates []*job.Plate, trap float64, inputs []string) ([]way, error) {
	var out []way
	ending := filepath.Ext(o.Out)
	for _, m := range found {
		m.Proof = o.Out
		if m.Name != "worst" {
			m.Proof = fmt.Sprintf("%s-%s%s", strings.TrimSuffix(o.Out, ending), strings.ReplaceAll(m.Name, " ", "-"), ending)
			if err := job.CheckFile(m.Proof, o.Force, inputs); err != nil {
				return nil, err
			}
		}
		line := m.Before.Words()
		if trap > 0 {
			line = fmt.Sprintf("without a trap %s; with a trap of %g mm %s", line, job.Round(trap, 3), m.After.Words())
		}
		p.say("%s: %s: %s", m.Name, m.Words(), line)
		out = append(out, way{m.Proof, func() [][]uint16 { return m.Moved(plates) }, m})
	}
	return out, nil
}
