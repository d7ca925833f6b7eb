package film

import (
	"fmt"
	"strconv"
)

// Sizes of the exposure test strip in mm.
const (
	stepMM   = 22.0 // one step
	stepEdge = 10.0 // around the strip
	stepHead = 38.0 // above the steps, for words
	stepTall = 56.0
)

// What a step shows: lines and gaps in mm, tints in percent, type in points. 0.35 mm
// lines, 8 pt type and tints of 15 … 85 percent are what a beginner can hold
// (common practice).
var (
	stepLines = [...]float64{0.1, 0.2, 0.35, 0.5, 0.7}
	stepTints = [...]float64{5, 15, 50, 85, 95}
	stepType  = [...]float64{10, 8, 6}
)

// exposureWords head the strip. They give no times: those are the emulsion maker's
// to give.
var exposureWords = [...]string{
	"After each exposure cover one step more. Write each step's total time in its box.",
	"Take times from the emulsion maker's data sheet alone. Follow its safety data sheet and local rules.",
	"Never look into a UV lamp; cover skin. Wear gloves and goggles with photo-chemicals.",
}

// blanks are what to write down by hand.
var blanks = [...]string{"emulsion", "lamp", "distance", "date"}

// ExposureStrip makes a film for finding an exposure: 3 … 12 equal steps with lines,
// gaps, type and tints, and a box under each to write its time in. tint makes the
// tints through the screen to be used; nil leaves them out.
func ExposureStrip(dpi float64, steps int, label Label, tint Tint) (*Page, error) {
	if steps < 3 || steps > 12 {
		return nil, fmt.Errorf("film: exposure test strip of %d steps: give 3 … 12", steps)
	}
	w := max(float64(steps)*stepMM, 5*stepMM) // room for the words and the bar
	sheet := Sheet{WidthMM: float64(steps) * stepMM, HeightMM: stepTall, DPI: dpi}
	if err := sheet.check(); err != nil {
		return nil, err
	}
	l := &Layout{sheet: sheet, wMM: w + 2*stepEdge, hMM: stepHead + stepTall + 16}
	l.w, l.h = l.pixels(l.wMM), l.pixels(l.hMM)
	l.ox, l.oy = l.pixels(stepEdge), l.pixels(stepHead)
	l.aw, l.ah = l.pixels(sheet.WidthMM), l.pixels(stepTall)
	var err error
	if l.faces, err = newFaces(); err != nil {
		return nil, err
	}
	p := newPage(l, nil, label)
	l.addText(&l.faces.bold, "exposure test strip", l.x(0), l.y(-29), 3, w)
	screen := label.lines(dpi)[2] + "; lines and gaps in mm"
	if tint != nil {
		screen += ", tints in percent"
	}
	l.addText(&l.faces.regular, screen, l.x(0), l.y(-24), 2, w)
	for i, s := range exposureWords {
		l.addText(&l.faces.regular, s, l.x(0), l.y(-19+3.6*float64(i)), 1.8, w)
	}
	for i, s := range blanks {
		x := float64(i) * w / float64(len(blanks))
		end := x + w/float64(len(blanks)) - 2
		used := l.addText(&l.faces.regular, s, l.x(x), l.y(-4), 1.8, w) / l.scale(1)
		l.add(rect(round(l.x(x+used+1)), round(l.y(-4)), round(l.x(end)), round(l.y(-4))+l.stroke()))
	}
	for i := range steps {
		if err := p.addStep(i, tint); err != nil {
			return nil, err
		}
	}
	l.placeBar(box{0, stepTall + 4, barMM, 9})
	return p, nil
}

// addStep draws step i.
func (p *Page) addStep(i int, tint Tint) error {
	l, x := p.layout, float64(i)*stepMM
	n := l.stroke()
	left, right, top, bottom := round(l.x(x)), round(l.x(x+stepMM)), round(l.y(0)), round(l.y(stepTall))
	l.frame(left, top, right+n, bottom)
	l.addText(&l.faces.bold, strconv.Itoa(i+1), l.x(x+1.5), l.y(5), 3, stepMM)
	// The largest type beside the number, the others below.
	pen, base := x+6, 5.0
	for k, pt := range stepType {
		em := pt / 72 * mmPerInch
		pen += l.addText(&l.faces.regular, decimal(pt, 0)+" pt", l.x(pen), l.y(base), em*l.faces.regular.cap, stepMM)/l.scale(1) + 2
		if k == 0 {
			pen, base = x+1.5, 9
		}
	}
	l.lineWedge(x+1, 11.5, stepLines[:], 4, 1.2, "")
	if tint != nil {
		at := patchPlace{x: round(l.x(x + 1)), y: round(l.y(24.5)), w: l.pixels(4), h: l.pixels(8)}
		if err := p.addTints(at, stepTints[:], tint); err != nil {
			return err
		}
		for k, v := range stepTints {
			l.centered(decimal(v, 0), float64(at.x+k*at.w)+float64(at.w)/2, l.y(34.6), 1.2)
		}
	}
	l.frame(round(l.x(x+1)), round(l.y(37.5)), round(l.x(x+stepMM-1)), round(l.y(stepTall-1.5)))
	l.addText(&l.faces.regular, "time", l.x(x+2), l.y(40.5), 1.5, stepMM)
	return nil
}
