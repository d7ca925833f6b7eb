package film

import (
	"math"
	"strconv"
)

// lineWidths are the lines and gaps of the line wedge in mm.
var lineWidths = [...]float64{0.1, 0.15, 0.2, 0.25, 0.35, 0.5, 0.7, 1}

const lineCell = 6.0 // mm a width

// patchPlace is where patches of w × h pixels begin, side by side.
type patchPlace struct{ x, y, w, h int }

// place draws what all plates share. Every mark is tied to the pixels of the
// area, so that it sits the same on all sides.
func (l *Layout) place(a arrangement) {
	l.label = a.at[labelItem]
	l.registration()
	l.crops()
	l.placeUp(a.at[upItem])
	l.placeWedge(a.at[wedgeItem])
	l.placeBar(a.at[barItem])
	l.placeLines(a.at[linesItem])
}

// stroke is a line's width in pixels.
func (l *Layout) stroke() int { return max(1, l.pixels(lineMM)) }

// x and y turn mm from the area's corner into pixels of the sheet.
func (l *Layout) x(mm float64) float64 { return float64(l.ox) + l.scale(mm) }
func (l *Layout) y(mm float64) float64 { return float64(l.oy) + l.scale(mm) }

func round(v float64) int { return int(math.Floor(v + 0.5)) }

func (l *Layout) add(o ...outline) { l.marks = append(l.marks, o...) }

func (l *Layout) addText(t *typeface, s string, x, y, capMM, maxMM float64) float64 {
	set := t.set(s, x, y, l.scale(capMM), l.scale(maxMM))
	l.add(set.glyphs...)
	return set.width
}

// registration puts a cross in a circle on both center lines and the corners. On
// artwork too small for all of them those of the corners do.
func (l *Layout) registration() {
	off := l.scale(ringMM)
	x0, x1 := float64(l.ox), float64(l.ox+l.aw)
	y0, y1 := float64(l.oy), float64(l.oy+l.ah)
	for _, x := range []float64{x0 - off, (x0 + x1) / 2, x1 + off} {
		for _, y := range []float64{y0 - off, (y0 + y1) / 2, y1 + off} {
			midX, midY := x > x0 && x < x1, y > y0 && y < y1
			if midX && (midY || !l.sheet.centered(l.sheet.WidthMM)) || midY && !l.sheet.centered(l.sheet.HeightMM) {
				continue
			}
			l.ringCross(x, y)
		}
	}
}

// centered reports whether marks on the center line of a side of that length have
// room between those of the corners.
func (s *Sheet) centered(mm float64) bool { return mm-2*s.BleedMM >= centeredMM }

func (l *Layout) ringCross(cx, cy float64) {
	n := l.stroke()
	// The line takes whole pixels; the circle follows the line's true center.
	x, y := round(cx-float64(n)/2), round(cy-float64(n)/2)
	cx, cy = float64(x)+float64(n)/2, float64(y)+float64(n)/2
	arm := round(l.scale(crossMM/2) - float64(n)/2)
	l.add(rect(x-arm, y, x+n+arm, y+n), rect(x, y-arm, x+n, y+n+arm))
	r := l.scale(circleMM / 2)
	l.add(ring(cx, cy, r-float64(n), r))
}

// crops marks the trim's corners, held off the area.
func (l *Layout) crops() {
	n := l.stroke()
	bleed, off, long := l.scale(l.sheet.BleedMM), l.pixels(clearMM), l.pixels(cropMM)
	for _, x := range []int{round(float64(l.ox) + bleed - float64(n)/2), round(float64(l.ox+l.aw) - bleed - float64(n)/2)} {
		l.add(rect(x, l.oy-off-long, x+n, l.oy-off), rect(x, l.oy+l.ah+off, x+n, l.oy+l.ah+off+long))
	}
	for _, y := range []int{round(float64(l.oy) + bleed - float64(n)/2), round(float64(l.oy+l.ah) - bleed - float64(n)/2)} {
		l.add(rect(l.ox-off-long, y, l.ox-off, y+n), rect(l.ox+l.aw+off, y, l.ox+l.aw+off+long, y+n))
	}
}

// placeUp draws the arrow and says which way the film lies.
func (l *Layout) placeUp(b box) {
	x, y := l.x(b.x), l.y(b.y)
	u := l.scale(1)
	p := func(dx, dy float64) point { return point{x + float64(dx*u), y + float64(dy*u)} }
	l.add(polygon(p(2.5, 0), p(5, 4), p(3.2, 4), p(3.2, 9), p(1.8, 9), p(1.8, 4), p(0, 4)))
	l.addText(&l.faces.bold, "this side up", l.x(b.x+7), l.y(b.y+3.4), 2.2, b.w-7)
	side := "right-reading, emulsion side up"
	if l.sheet.Mirror {
		side = "right-reading, emulsion side down"
	}
	if l.sheet.Negative {
		side += ", negative"
	}
	l.addText(&l.faces.regular, side, l.x(b.x+7), l.y(b.y+8), 1.8, b.w-7)
}

// placeWedge frames the tone wedge and numbers every second step. The patches
// themselves come through each plate's own screen.
func (l *Layout) placeWedge(b box) {
	n := l.stroke()
	w := patchPlace{x: round(l.x(b.x)) + n, y: round(l.y(b.y)) + n, w: l.pixels(patchMM), h: l.pixels(6)}
	l.wedge = w
	l.frame(w.x-n, w.y-n, w.x+w.w*wedgeN+n, w.y+w.h+n)
	for i := 0; i < wedgeN; i += 2 {
		l.centered(strconv.Itoa(i*wedgeStep), float64(w.x+i*w.w)+float64(w.w)/2, l.y(b.y+9), 1.5)
	}
}

// frame draws a rectangle's outline, inside its edges.
func (l *Layout) frame(x0, y0, x1, y1 int) {
	n := l.stroke()
	l.add(rect(x0, y0, x1, y0+n), rect(x0, y1-n, x1, y1), rect(x0, y0+n, x0+n, y1-n), rect(x1-n, y0+n, x1, y1-n))
}

// centered sets s about x.
func (l *Layout) centered(s string, x, y, capMM float64) {
	t := &l.faces.regular
	half := l.scale(capMM) / t.cap * t.advance(s) / 2
	l.addText(t, s, x-half, y, capMM, barMM)
}

// placeBar draws a solid exactly 100 mm long with a tick every 10 mm.
func (l *Layout) placeBar(b box) {
	n := l.stroke()
	x, y := round(l.x(b.x)), round(l.y(b.y))
	long, thick, tick := l.pixels(barMM), l.pixels(1), l.pixels(2)
	l.add(rect(x, y+tick, x+long, y+tick+thick))
	for i := 0; i <= 10; i++ {
		t := round(float64(x) + float64(i)*float64(long-n)/10)
		l.add(rect(t, y, t+n, y+tick))
	}
	l.centered("100 mm: print at 100 %", float64(x)+float64(long)/2, l.y(b.y+7.4), 2.2)
}

// placeLines draws the line wedge.
func (l *Layout) placeLines(b box) { l.lineWedge(b.x, b.y, lineWidths[:], lineCell, 1.5, " mm") }

// lineWedge draws each width as two lines and as two gaps in a solid, a cell of that
// many mm for each, and the widths below, a unit behind the last.
func (l *Layout) lineWedge(xMM, yMM float64, widths []float64, cellMM, capMM float64, unit string) {
	for i, mm := range widths {
		x, n := round(l.x(xMM+float64(i)*cellMM)), max(1, l.pixels(mm))
		y0, y1, y2 := round(l.y(yMM)), round(l.y(yMM+4)), round(l.y(yMM+8))
		end := round(l.x(xMM + float64(i+1)*cellMM))
		a, c := x+(end-x)/3-n/2, x+2*(end-x)/3-n/2
		l.add(rect(a, y0, a+n, y1), rect(c, y0, c+n, y1))
		l.add(rect(x, y1, a, y2), rect(a+n, y1, c, y2), rect(c+n, y1, end, y2))
		s := decimal(mm, 2)
		if i == len(widths)-1 {
			s += unit
		}
		l.centered(s, float64(x+end)/2, l.y(yMM+8.9+capMM), capMM)
	}
}
