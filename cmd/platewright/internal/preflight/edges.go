package preflight

import (
	"fmt"
	"math"
)

const (
	linesLooked = 600 // rows, and columns, that are walked
	evenPixels  = 3   // of one value, to be the flat on either side of an edge
	evenStep    = 2   // codes that two pixels of a flat may differ by: lossy compression
	edgeStep    = 32  // codes between the flats from which an edge is one
	hardPixels  = 2   // an anti-aliased edge has so many pixels between the flats
	softPixels  = 4   // from here it is soft
	softLimit   = 64  // and beyond, a gradient that is meant
)

// softEdges looks for edges between flats that take many pixels: on line work
// they turn into dots or fray.
func (c *checker) softEdges() {
	if !c.facts.Flat {
		return // a photograph has them where it should
	}
	w, h := c.p.Width, c.p.Height
	t := newTiles(w, h, c.wMM, c.hMM)
	walk := func(n int, at func(k int) (x, y int)) {
		e := edge{}
		for k := range n {
			x, y := at(k)
			width := e.next(c.luma(y*w + x))
			if width == 0 {
				continue
			}
			x, y = at(max(k-evenPixels-width/2, 0))
			t.add(x, y, width >= softPixels && c.across(x, y, e.step) >= softPixels-.5)
		}
	}
	for y := 0; y < h; y += max(1, h/linesLooked) {
		walk(w, func(k int) (int, int) { return k, y })
	}
	for x := 0; x < w; x += max(1, w/linesLooked) {
		walk(h, func(k int) (int, int) { return x, k })
	}
	soft := 0
	for _, n := range t.bad {
		soft += n
	}
	if share := t.share(); share > .03 && soft >= 20 {
		level := Note
		if share > .15 {
			level = Warning
		}
		c.find("soft-edges", level, fmt.Sprintf("%.0f %% of the edges between flats are soft, %d pixels and more", 100*share, softPixels),
			"sharpen them, or draw them anew at print size; with --tints none they are cut at the middle",
			"Many edges are blurred and will not print crisp. If you have the drawing as shapes or in a larger size, please send that.", t.places(.3)...)
	}
}

// across is the width in pixels of an edge of so many codes, measured at a pixel
// within it along its steepest slope: a line that crosses it aslant sees it
// wider.
func (c *checker) across(x, y, step int) float64 {
	w, h := c.p.Width, c.p.Height
	dx := c.luma(y*w+min(x+1, w-1)) - c.luma(y*w+max(x-1, 0))
	dy := c.luma(min(y+1, h-1)*w+x) - c.luma(max(y-1, 0)*w+x)
	return math.Abs(float64(step)) / max(math.Hypot(float64(dx), float64(dy))/2, .5)
}

// luma is a pixel's lightness as a code 0 … 255.
func (c *checker) luma(i int) int {
	if c.p.Pix != nil {
		p := c.p.Pix[3*i : 3*i+3]
		return (int(p[0])*54 + int(p[1])*183 + int(p[2])*19) >> 8
	}
	p := c.p.Pix16[3*i : 3*i+3]
	return (int(p[0])*54 + int(p[1])*183 + int(p[2])*19) >> 16
}

// edge follows a line of pixels: a flat, what changes one way, a flat.
type edge struct {
	last, run int // the last value and how many alike end with it
	from      int // value of the flat that was left; the line begins with none
	left      bool
	n         int // pixels since
	up, down  bool
	step      int // codes between the flats of the edge that ended last
}

// next takes a pixel and returns, where an edge has ended, how many pixels lie
// between its flats.
func (e *edge) next(v int) int {
	d := v - e.last
	if e.run == 0 {
		e.last, e.run = v, 1
		return 0
	}
	if d >= -evenStep && d <= evenStep {
		e.run++
		e.n++
		if e.run != evenPixels {
			return 0
		}
		width := e.n - evenPixels
		step := v - e.from
		e.step = step
		ok := e.left && e.up != e.down && (step >= edgeStep || step <= -edgeStep) && width < softLimit
		e.left, e.up, e.down, e.n = false, false, false, 0
		if !ok {
			return 0
		}
		return max(width, 1)
	}
	if !e.left && e.run >= evenPixels {
		e.left, e.from, e.n = true, e.last, 0
	}
	e.up, e.down = e.up || d > 0, e.down || d < 0
	e.n++
	e.last, e.run = v, 1
	return 0
}
