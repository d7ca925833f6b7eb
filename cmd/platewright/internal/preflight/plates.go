package preflight

import (
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"platewright/composite"
	"platewright/composite/spectrum"
	"platewright/halftone"
	"platewright/halftone/spread"
	"platewright/separate"
	"platewright/separate/artwork"
)

// Print is a separation to be looked at.
type Print struct {
	Picture  *artwork.Picture // flattened
	Model    *composite.Model
	Names    []string // of the inks, in print order
	Plates   *separate.Result
	Screened bool // the plates hold tints
	WidthMM  float64
	HeightMM float64
}

// PlateFacts are the figures of one plate, in percent of the print's area.
type PlateFacts struct {
	Ink   string  `json:"ink"`
	Mean  float64 `json:"mean_percent"`
	Solid float64 `json:"solid_percent"` // full coverage
	Tint  float64 `json:"tint_percent"`  // between bare and solid
	Pale  float64 `json:"pale_percent"`  // tints below what holds
	Deep  float64 `json:"deep_percent"`  // tints above what holds

	Share float64 `json:"-"` // the mean, 0 … 1, not rounded
}

// TotalFacts are those of all plates together.
type TotalFacts struct {
	Mean float64 `json:"mean_percent"` // sum of the coverages
	Most float64 `json:"most_percent"` // where most ink lies
	Bare float64 `json:"bare_percent"` // of the area
}

// Coverages from which a spot counts as inked, and as solid.
const (
	inked = halftone.Full / 200
	solid = halftone.Full - halftone.Full/200
)

// Plates looks at the plates of a separation. Errors are those of package
// spread.
func Plates(p *Print, r Rules) ([]PlateFacts, TotalFacts, []Finding, error) {
	c := &plateChecker{Print: p, rules: r, w: p.Picture.Width, h: p.Picture.Height}
	c.coverage()
	reach, reached := *c, make(chan struct{})
	reach.found = nil
	go func() {
		defer close(reached)
		reach.reach()
	}()
	for i := range p.Names {
		c.tones(i)
		if err := c.thin(i); err != nil {
			return nil, TotalFacts{}, nil, err
		}
	}
	c.edges()
	<-reached
	return c.facts, c.total, append(c.found, reach.found...), nil
}

type plateChecker struct {
	*Print
	rules Rules
	w, h  int
	facts []PlateFacts
	total TotalFacts
	found []Finding
	// sampled are the coverages, all inks of a pixel together, of every step-th
	// pixel of the picture.
	sampled []uint16
	step    int
}

func (c *plateChecker) find(code string, level Level, message, mend, client string, places ...Place) {
	c.found = append(c.found, Finding{code, level, message, mend, client, places})
}

func (c *plateChecker) newTiles() *tiles { return newTiles(c.w, c.h, c.WidthMM, c.HeightMM) }

// count is what a pass over the plates counts.
type count struct {
	sum        []uint64 // of the coverages, by ink
	full, tint []int    // pixels, by ink
	bare, most int      // pixels without ink; the largest sum of coverages
}

func newCount(inks int) *count {
	return &count{sum: make([]uint64, inks), full: make([]int, inks), tint: make([]int, inks)}
}

func (n *count) add(m *count) {
	for i := range n.sum {
		n.sum[i] += m.sum[i]
		n.full[i] += m.full[i]
		n.tint[i] += m.tint[i]
	}
	n.bare += m.bare
	n.most = max(n.most, m.most)
}

// row counts a row of all plates; sums is scratch of the row's width.
func (n *count) row(planes [][]uint16, sums []int32) {
	clear(sums)
	for i, plane := range planes {
		var sum uint64
		full, some := 0, 0
		for x, v := range plane[:len(sums)] {
			sum += uint64(v)
			sums[x] += int32(v)
			// The sign bits of differences count without branches.
			full += int(uint32(solid-1-int32(v)) >> 31)
			some += int(uint32(inked-1-int32(v)) >> 31)
		}
		n.sum[i] += sum
		n.full[i] += full
		n.tint[i] += some - full
	}
	for _, v := range sums {
		n.most = max(n.most, int(v))
		n.bare += int(uint32(v-inked) >> 31)
	}
}

// pass counts all rows, on all cores, and takes the samples.
func (c *plateChecker) pass() *count {
	inks := len(c.Names)
	c.step = stride(c.w, c.h, sample)
	c.sampled = make([]uint16, inks*((c.w*c.h+c.step-1)/c.step))
	all := newCount(inks)
	var mu sync.Mutex
	var next atomic.Int64
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			n, sums, planes := newCount(inks), make([]int32, c.w), make([][]uint16, inks)
			for i := range planes {
				planes[i] = make([]uint16, c.w)
			}
			for y := int(next.Add(1)) - 1; y < c.h; y = int(next.Add(1)) - 1 {
				c.Plates.Row(planes, y)
				n.row(planes, sums)
				first := (y*c.w + c.step - 1) / c.step
				for j := first; j*c.step < (y+1)*c.w; j++ {
					for i, plane := range planes {
						c.sampled[j*inks+i] = plane[j*c.step-y*c.w]
					}
				}
			}
			mu.Lock()
			defer mu.Unlock()
			all.add(n)
		})
	}
	wg.Wait()
	return all
}

// coverage takes the figures of each plate and of all together.
func (c *plateChecker) coverage() {
	n := float64(c.w * c.h)
	percent := func(count int) float64 { return round(100*float64(count)/n, 2) }
	all := c.pass()
	for i := range c.Names {
		sum, full, tint := all.sum[i], all.full[i], all.tint[i]
		c.facts = append(c.facts, PlateFacts{Ink: c.Names[i], Share: float64(sum) / halftone.Full / n, Mean: round(100*float64(sum)/halftone.Full/n, 2), Solid: percent(full), Tint: percent(tint)})
		c.total.Mean = round(c.total.Mean+c.facts[i].Mean, 2)
		if full+tint == 0 {
			c.find("blank-plate", Warning, fmt.Sprintf("nothing of %s prints", c.Names[i]), "leave the ink out", "")
		}
		if mean := c.facts[i].Mean; c.rules.Duplicator && mean > 85 { // common practice
			c.find("heavy-plate", Warning, fmt.Sprintf("%s covers %.0f %% of the sheet; a stencil duplicator feeds up to about 85 %%", c.Names[i], mean),
				"lighten it, or leave a margin",
				"Nearly the whole sheet is covered with one color. Sheets may stick; a lighter tone or a white margin would help.")
		}
	}
	bare, most, over := all.bare, all.most, c.newTiles()
	for j := 0; j*len(c.Names) < len(c.sampled); j++ {
		solids := 0
		for _, v := range c.sampled[j*len(c.Names):][:len(c.Names)] {
			if v >= solid {
				solids++
			}
		}
		over.add(j*c.step%c.w, j*c.step/c.w, solids >= 3)
	}
	c.total.Most, c.total.Bare = round(100*float64(most)/halftone.Full, 1), percent(bare)
	switch {
	case bare == c.w*c.h:
		c.find("nothing-prints", Fault, "every plate is empty", "look at --unprinted and at the picture's transparency",
			"We see nothing in this file that would print. Please check that its layers were shown when it was exported.")
	case over.share() > .05:
		c.find("heavy-coverage", Note, fmt.Sprintf("3 inks or more lie over each other solid on %.0f %% of the print", 100*over.share()),
			"let each dry before the next, or take fewer inks in one spot", "", over.places(.3)...)
	}
}

// tones looks for tints that a press loses or fills in.
func (c *plateChecker) tones(i int) {
	low, high := uint16(c.rules.LowTone/100*halftone.Full), uint16(c.rules.HighTone/100*halftone.Full)
	if !c.Screened || low == 0 && high == 0 {
		return
	}
	pale, deep, used := c.newTiles(), c.newTiles(), 0
	n := 0
	for j := 0; j*len(c.Names) < len(c.sampled); j++ {
		k, v := j*c.step, c.sampled[j*len(c.Names)+i]
		n++
		if v >= inked {
			used++
		}
		pale.add(k%c.w, k/c.w, v >= inked && v < low)
		deep.add(k%c.w, k/c.w, v > high && v < solid)
	}
	f := &c.facts[i]
	f.Pale, f.Deep = round(100*pale.share(), 2), round(100*deep.share(), 2)
	ofInk := func(t *tiles) float64 { return t.share() * float64(n) / float64(max(used, 1)) }
	level := func(share float64) Level {
		if share > .25 {
			return Warning
		}
		return Note
	}
	if s := ofInk(pale); s > .05 {
		c.find("pale-tints", level(s), fmt.Sprintf("%.0f %% of what %s prints are tints below %g %%, which do not hold", 100*s, f.Ink, c.rules.LowTone),
			"leave them to the paper with --unprinted, strengthen them, or take --tints none",
			"Very light tones will vanish in print. Make them clearly stronger, or plain white.", pale.places(.5)...)
	}
	if s := ofInk(deep); s > .05 {
		c.find("deep-tints", level(s), fmt.Sprintf("%.0f %% of what %s prints are tints above %g %%, which fill in", 100*s, f.Ink, c.rules.HighTone),
			"make them solid, or lighten them", "Very dark tones will close up to solid color. Details in them will be lost.", deep.places(.5)...)
	}
}

const (
	// thinPixels is the most pixels of a plate that thin places are looked for
	// in; a larger one is reduced by area, which keeps widths. A line of 0.35 mm
	// still has two pixels on a plate of A3.
	thinPixels = 4 << 20
	// lineWork is the share of tints in what a plate prints up to which it is
	// looked at for thin lines: elsewhere dots decide what is seen.
	lineWork = .25
	// shortest is how long a thin place must be, in limits, to be seen as a line:
	// shorter ones are spurs of a contour.
	shortest = 2
)

// thin looks for lines, gaps and dots that do not hold.
func (c *plateChecker) thin(i int) error {
	f := c.facts[i]
	if f.Solid+f.Tint == 0 || f.Tint > lineWork*(f.Solid+f.Tint) || c.rules.LineMM == 0 && c.rules.GapMM == 0 {
		return nil
	}
	by := 1
	for (c.w/by)*(c.h/by) > thinPixels || max(c.w, c.h)/by > 1<<14 {
		by++
	}
	plate := reduce(c.Plates.Plates()[i], by)
	ppi := float64(c.w) / c.WidthMM * 25.4 / float64(by)
	found, err := spread.Find(plate, ppi, spread.Limits{Line: c.rules.LineMM, Dot: c.rules.LineMM, Gap: c.rules.GapMM, Hole: c.rules.GapMM})
	if err != nil {
		return err
	}
	for _, k := range []struct {
		kind           spread.Kind
		code, many     string
		level          Level
		limit          float64
		mend, forOwner string
	}{
		{spread.Line, "thin-lines", "lines", Warning, c.rules.LineMM, "thicken them, or print larger", "Some lines are thinner than %.2f mm and may break in print. Please make them thicker."},
		{spread.Gap, "thin-gaps", "gaps", Warning, c.rules.GapMM, "widen them, or print larger", "Some white gaps are narrower than %.2f mm and may fill with ink. Please widen them."},
		{spread.Dot, "small-dots", "lone dots", Note, c.rules.LineMM, "enlarge them, or take them for dust and remove them", "There are specks smaller than %.2f mm, which may not print. If they are dust, please remove them."},
		{spread.Hole, "small-holes", "holes", Note, c.rules.GapMM, "enlarge or fill them", "There are pinholes smaller than %.2f mm, which may fill with ink."},
	} {
		var places []Place
		n, least := 0, math.Inf(1)
		for _, t := range found { // the narrowest first
			long := t.Kind == spread.Line || t.Kind == spread.Gap
			if t.Kind != k.kind || long && max(t.Wd, t.Ht) < shortest*k.limit {
				continue
			}
			n++
			least = min(least, t.Width)
			if len(places) < mostPlaces {
				places = append(places, Place{t.X, t.Y, t.Wd, t.Ht})
			}
		}
		if n == 0 {
			continue
		}
		many := k.many
		if n == 1 {
			many = strings.TrimSuffix(many, "s")
		}
		c.find(k.code, k.level, fmt.Sprintf("%d %s of %s below %.2f mm, the least %.2f mm", n, many, f.Ink, k.limit, least), k.mend,
			fmt.Sprintf(k.forOwner, k.limit), places...)
	}
	return nil
}

// reduce averages a plate over squares of by pixels.
func reduce(p halftone.Tone, by int) *halftone.Plate {
	w, h := p.Size()
	out := &halftone.Plate{Width: w / by, Height: h / by}
	out.Cov = make([]uint16, out.Width*out.Height)
	sums, row := make([]uint64, out.Width), make([]uint16, w)
	for y := range out.Height {
		clear(sums)
		for j := y * by; j < (y+1)*by; j++ {
			p.Row(row, j)
			for x := range sums {
				for _, v := range row[x*by : (x+1)*by] {
					sums[x] += uint64(v)
				}
			}
		}
		for x, s := range sums {
			out.Cov[y*out.Width+x] = uint16(s / uint64(by*by))
		}
	}
	return out
}

// edges looks at what happens along the trim: with bleed, whether ink goes
// through it; without, whether ink runs off the picture.
func (c *plateChecker) edges() {
	cov := make([]uint16, len(c.Names))
	any := func(x, y int) bool {
		c.Plates.At(x, y, cov)
		return slices.Max(cov) > halftone.Full/20
	}
	px, py := float64(c.w)/c.WidthMM, float64(c.h)/c.HeightMM
	bx, by := int(c.rules.BleedMM*px), int(c.rules.BleedMM*py)
	if bx > 0 && (2*bx+2 >= c.w || 2*by+2 >= c.h) {
		c.find("bleed-too-wide", Fault, fmt.Sprintf("a bleed of %g mm leaves nothing of the picture", c.rules.BleedMM), "give a smaller --bleed", "")
		return
	}
	for _, side := range []struct {
		name    string
		n       int
		out, in func(k int) (int, int) // midway in the bleed, and just inside the trim
		place   Place
	}{
		{"left", c.h, func(k int) (int, int) { return bx / 2, k }, func(k int) (int, int) { return bx, k }, Place{0, 0, c.rules.BleedMM, c.HeightMM}},
		{"right", c.h, func(k int) (int, int) { return c.w - 1 - bx/2, k }, func(k int) (int, int) { return c.w - 1 - bx, k }, Place{c.WidthMM - c.rules.BleedMM, 0, c.rules.BleedMM, c.HeightMM}},
		{"upper", c.w, func(k int) (int, int) { return k, by / 2 }, func(k int) (int, int) { return k, by }, Place{0, 0, c.WidthMM, c.rules.BleedMM}},
		{"lower", c.w, func(k int) (int, int) { return k, c.h - 1 - by/2 }, func(k int) (int, int) { return k, c.h - 1 - by }, Place{0, c.HeightMM - c.rules.BleedMM, c.WidthMM, c.rules.BleedMM}},
	} {
		runs, short := 0, 0
		for k := range side.n {
			if any(side.in(k)) {
				runs++
				if bx > 0 && !any(side.out(k)) {
					short++
				}
			}
		}
		switch {
		case bx > 0 && float64(short) > .02*float64(side.n):
			c.find("bleed-short", Warning, fmt.Sprintf("ink reaches the trim at the %s edge but not through the bleed", side.name),
				"extend the picture by the bleed, or leave a margin",
				fmt.Sprintf("The picture must go on %g mm beyond the %s edge, where it will be cut.", c.rules.BleedMM, side.name), side.place)
		case bx == 0 && float64(runs) > .05*float64(side.n):
			c.find("runs-to-edge", Note, "ink runs to the edge of the picture, which has no bleed",
				"print on a larger sheet and leave it untrimmed, or add bleed to the picture and give --bleed 3mm",
				"Color runs to the edge. If the print is to be cut there, please let the picture go on 3 mm on each side.")
			return
		}
	}
}

// reach looks for colors that the inks do not print.
func (c *plateChecker) reach() {
	paper := c.Model.Overprint(0).Lab()
	ev, cov, at := c.Model.NewEvaluator(), make([]float64, len(c.Names)), make([]uint16, len(c.Names))
	t := c.newTiles()
	for k := 0; k < c.w*c.h; k += stride(c.w, c.h, sample/10) {
		x, y := k%c.w, k/c.w
		sum := 0
		c.Plates.At(x, y, at)
		for i, v := range at {
			cov[i] = float64(v) / halftone.Full
			sum += int(v)
		}
		far := false
		if sum >= inked && !c.Picture.Bare(x, y) {
			want := c.Picture.Space.XYZ(c.Picture.At(x, y)).Lab()
			paperLike := want[0] > paper[0]-1 && math.Hypot(want[1], want[2]) < 8
			far = !paperLike && spectrum.DeltaE(want, ev.XYZ(cov).Lab()) > separate.ReachDE
		}
		t.add(x, y, far)
	}
	if share := t.share(); share > .01 {
		level := Note
		if share > .1 {
			level = Warning
		}
		c.find("out-of-reach", level, fmt.Sprintf("%.0f %% of the picture is more than %d ΔE away from what these inks print", 100*share, separate.ReachDE),
			"compare with other inks, or keep the steps between the colors with --out-of-reach ease",
			"Some colors cannot be printed with the inks we chose and will look different; see the proof.", t.places(.4)...)
	}
}
