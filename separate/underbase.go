package separate

import (
	"errors"
	"math"

	"platewright/composite/spectrum"
)

// overBase separates a picture of any tints over a solid underbase: the other
// inks are solved as if the underbase were the paper, and spots that the paper
// itself meets better have neither.
func (e *engine) overBase() error {
	over, err := e.m.OverFirst()
	if err != nil {
		return err
	}
	opt := *e.opt
	opt.Underbase, opt.Unprinted, opt.Pins, opt.ByRows = false, nil, nil, false
	for _, p := range e.opt.Pins {
		if p.Ink == 0 {
			return errors.New("separate: a color is pinned to the underbase: pin it to an ink over it")
		}
		opt.Pins = append(opt.Pins, Pin{p.Color, p.Ink - 1})
	}
	sub := &engine{ctx: e.ctx, p: e.p, m: over, opt: &opt, read: newReading(e.p.Space, over, &opt), pal: e.pal, starts: newStartTable(over)}
	sub.res = &Result{Width: e.p.Width, Height: e.p.Height, inks: over.Inks(), Tints: TintsAny}
	sub.fs = &fieldSolver{m: over, inksPerSpot: opt.inksPerSpot(), smooth: opt.smooth(), target: sub.read.target, cells: e.pal.cells, starts: sub.starts, workers: opt.Workers}
	if err := sub.continuous(); err != nil {
		return err
	}
	e.res.Solve, e.res.Fit = sub.res.Solve, sub.res.Fit
	e.res.Ink = append([][]uint16{make([]uint16, e.p.Width*e.p.Height)}, sub.res.Ink...)
	e.layBase()
	e.fitPlanes()
	return nil
}

// layBase makes the underbase solid, and clears all inks where the paper is to
// stay.
func (e *engine) layBase() {
	bare, pins := e.bareSet(), e.pinCodes()
	full := 255.0
	if e.p.Pix == nil {
		full = 65535
	}
	paper := e.m.Overprint(0).Lab()
	ev := e.m.NewEvaluator()
	c := make([]float64, len(e.res.Ink))
	known := make([]uint8, 1<<15) // by color in 5 bits: 1 paper, 2 underbase
	for i := range e.res.Ink[0] {
		x, y := i%e.p.Width, i/e.p.Width
		r, g, b := e.p.At(x, y)
		state := uint8(1)
		if (e.p.Alpha == nil || e.p.Alpha[i] != 0) && !bare.has(uint16(r*full+.5), uint16(g*full+.5), uint16(b*full+.5)) {
			key := int(r*31+.5)<<10 | int(g*31+.5)<<5 | int(b*31+.5)
			if known[key] == 0 {
				want := e.read.wanted([3]float64{r, g, b})
				c[0] = 1
				for k := 1; k < len(c); k++ {
					c[k] = float64(e.res.Ink[k][i]) / 65535
				}
				known[key] = 2
				if spectrum.DeltaE(want, paper) <= spectrum.DeltaE(want, ev.XYZ(c).Lab()) {
					known[key] = 1
				}
			}
			state = known[key]
			for _, pin := range pins {
				if near([3]uint8{uint8(r*255 + .5), uint8(g*255 + .5), uint8(b*255 + .5)}, pin, pinNear) {
					state = 2
				}
			}
		}
		e.res.Ink[0][i] = math.MaxUint16
		if state == 1 {
			for k := range e.res.Ink {
				e.res.Ink[k][i] = 0
			}
		}
	}
}

// overBaseOnly bars the labels that have an ink without the underbase.
func (c *chooser) overBaseOnly() {
	for l, cov := range c.cov {
		for _, v := range cov[1:] {
			if v > 0 && cov[0] != 65535 {
				c.add[l] = math.Inf(1)
			}
		}
		if cov[0] > 0 && cov[0] < 65535 {
			c.add[l] = math.Inf(1)
		}
	}
}
