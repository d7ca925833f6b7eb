package separate

import (
	"fmt"
	"math"

	"platewright/composite/spectrum"
)

// pix8 is the picture in 8 bits a channel.
func (e *engine) pix8() []uint8 {
	if e.p.Pix != nil {
		return e.p.Pix
	}
	pix := make([]uint8, len(e.p.Pix16))
	for i, v := range e.p.Pix16 {
		pix[i] = uint8((uint32(v)*255 + 32767) / 65535)
	}
	return pix
}

// A chooser gives the best of a few fixed combinations of coverage for a
// color: the labels.
type chooser struct {
	cov [][]uint16 // [label][ink]
	lab []spectrum.Lab
	add []float64 // cost of ink by label
}

// newChooser lists all combinations of the allowed coverages; label 0 is bare.
func (e *engine) newChooser() (*chooser, error) {
	k := e.m.Inks()
	levels := []float64{0}
	if e.res.Tints == TintsList {
		for _, p := range e.opt.Percents {
			levels = append(levels, p/100)
		}
	}
	levels = append(levels, 1)
	n := 1
	for i := 0; i < k; i++ {
		n *= len(levels)
		if n > 65000 {
			return nil, fmt.Errorf("separate: %d inks in %d steps give too many combinations: list fewer tints or take fewer inks", k, len(levels))
		}
	}
	c := &chooser{cov: make([][]uint16, n), lab: make([]spectrum.Lab, n), add: make([]float64, n)}
	s := newSolver(e.m, e.opt.inksPerSpot(), e.starts)
	v := make([]float64, k)
	for l := range c.cov {
		c.cov[l] = make([]uint16, k)
		r := l
		for i := range v {
			v[i] = levels[r%len(levels)]
			c.cov[l][i] = uint16(math.Round(v[i] * 65535))
			r /= len(levels)
		}
		c.lab[l] = s.e.XYZ(v).Lab()
		c.add[l] = s.small(v)
	}
	if e.opt.Underbase {
		c.overBaseOnly()
	}
	return c, nil
}

func (c *chooser) best(t *target) uint16 {
	best, at := math.Inf(1), 0
	for l, lab := range c.lab {
		if d := t.distance2(lab) + c.add[l]; d < best {
			best, at = d, l
		}
	}
	return uint16(at)
}

// solid returns the label of one ink alone, or over the underbase.
func (c *chooser) solid(ink int, underbase bool) uint16 {
	for l, cov := range c.cov {
		ok := true
		for i, v := range cov {
			on := i == ink || underbase && i == 0
			ok = ok && on == (v == 65535) && (on || v == 0)
		}
		if ok {
			return uint16(l)
		}
	}
	return 0
}

// labels separates into flats.
func (e *engine) labels() error {
	c, err := e.newChooser()
	if err != nil {
		return err
	}
	bare := e.bareCodes8()
	pins := e.pinCodes()
	assign := func(rgb [3]uint8) uint16 {
		if bare.has(uint16(rgb[0]), uint16(rgb[1]), uint16(rgb[2])) {
			return 0
		}
		for i, p := range pins {
			if near(rgb, p, pinNear) {
				return c.solid(e.opt.Pins[i].Ink, e.opt.Underbase)
			}
		}
		t := e.read.target([3]float64{float64(rgb[0]) / 255, float64(rgb[1]) / 255, float64(rgb[2]) / 255})
		return c.best(&t)
	}
	pix := e.pix8()
	l := NewLabels(pix, e.p.Width, e.p.Height, assign, c.cov, e.opt.Workers)
	e.res.Labels = l
	e.res.Solve = SolveExact
	if e.p.Alpha != nil {
		for x, a := range e.p.Alpha {
			if a == 0 {
				l.Map[x] = 0
			}
		}
	}
	e.res.rows = &rows{p: e.p, labels: l}
	if !e.opt.ByRows {
		e.res.Hold(e.opt.Workers)
	}
	e.mergedColors(pix, assign)
	e.fitPlanes()
	return nil
}

func (e *engine) bareCodes8() bareSet { return e.read.bareCodes(e.opt, 255) }

// mergedColors reports plain colors of the artwork that print alike.
func (e *engine) mergedColors(pix []uint8, assign func([3]uint8) uint16) {
	main := Flatness(pix, e.p.Width, e.p.Height).Main
	first := map[uint16][3]uint8{}
	var pairs [][2][3]uint8
	for _, c := range main {
		l := assign(c)
		o, ok := first[l]
		if !ok {
			first[l] = c
			continue
		}
		if spectrum.DeltaE(e.wanted8(o), e.wanted8(c)) > 4 {
			pairs = append(pairs, [2][3]uint8{o, c})
		}
	}
	if len(pairs) == 0 {
		return
	}
	msg := fmt.Sprintf("#%02x%02x%02x and #%02x%02x%02x of the artwork print alike", pairs[0][0][0], pairs[0][0][1], pairs[0][0][2], pairs[0][1][0], pairs[0][1][1], pairs[0][1][2])
	if n := len(pairs) - 1; n > 0 {
		msg += fmt.Sprintf(", and %d more pairs", n)
	}
	e.find("colors-merge", "warning", msg, "add an ink, allow tints with --tints any, or change one of the colors")
}

func (e *engine) wanted8(c [3]uint8) spectrum.Lab {
	return e.read.wanted([3]float64{float64(c[0]) / 255, float64(c[1]) / 255, float64(c[2]) / 255})
}

func (e *engine) find(code, level, message, mend string) {
	e.res.Findings = append(e.res.Findings, Finding{code, level, message, mend})
}

// flatness measures the share of the picture in plain colors.
func (e *engine) flatness() Flat { return Flatness(e.pix8(), e.p.Width, e.p.Height) }
