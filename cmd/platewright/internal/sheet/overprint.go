package sheet

import (
	"fmt"
	"strings"

	"platewright/composite/spectrum"
)

// grid lays out the 2^k overprints of k inks as a map in which each ink
// covers whole columns or whole rows. Columns and rows run in Gray code, so
// that up to two inks a side are each one rectangle and the map looks like
// what it is: rectangles of ink printed over each other.
type grid struct {
	W, H  int // of the drawing, in its own units
	Cells []cell
	Bars  []bar
	Paper string // hex
}

type cell struct {
	X, Y, W, H int
	Mask       uint
	Color      spectrum.XYZ
	Fill, Text string // hex
	Lines      []line
	Measured   bool
}

type line struct {
	X, Y int
	S    string
}

// bar is a tab outside the map that carries an ink's name over the columns,
// or beside the rows, that it prints.
type bar struct {
	X, Y, W, H int
	Fill, Text string
	Label      line
	Upright    bool // beside rows: the label is turned by 90°
}

const (
	tabSize  = 26
	gridPad  = 14
	lineStep = 15
)

func newGrid(names []string, over []Overprint) *grid {
	k := len(names)
	across := (k + 1) / 2 // inks that cover columns; the others cover rows
	cols, rows := 1<<across, 1<<(k-across)
	g := &grid{Paper: hex(over[0].Color)}
	cw, ch := max(60, 640/cols), 104
	if k > 4 {
		ch = 48
	} else if k == 4 {
		cw = 168
	}
	left, top := gridPad+(k-across)*(tabSize+6), gridPad+across*(tabSize+6)
	if k == 1 {
		left = gridPad
	}
	for r := range rows {
		for c := range cols {
			mask := gray(c) | gray(r)<<across
			o := over[mask]
			x := cell{X: left + c*cw, Y: top + r*ch, W: cw, H: ch, Mask: mask,
				Color: o.Color, Fill: hex(o.Color), Text: inkOn(o.Color), Measured: o.Measured}
			x.label(names, k > 4)
			g.Cells = append(g.Cells, x)
		}
	}
	for i, n := range names {
		solid := over[1<<i].Color
		b := bar{Fill: hex(solid), Text: inkOn(solid), Upright: i >= across}
		for _, s := range spans(i, across, cols, rows) {
			if b.Upright {
				b.X, b.W = gridPad+(i-across)*(tabSize+6), tabSize
				b.Y, b.H = top+s[0]*ch, (s[1]-s[0])*ch
			} else {
				b.Y, b.H = gridPad+i*(tabSize+6), tabSize
				b.X, b.W = left+s[0]*cw, (s[1]-s[0])*cw
			}
			room := b.W
			if b.Upright {
				room = b.H
			}
			b.Label = line{b.X + b.W/2, b.Y + b.H/2, shorten(fmt.Sprintf("%d  %s", i+1, n), room*2/13)}
			if room < 90 {
				b.Label.S = fmt.Sprint(i + 1)
			}
			g.Bars = append(g.Bars, b)
		}
	}
	g.W, g.H = left+cols*cw+gridPad, top+rows*ch+gridPad
	return g
}

// Mixed lists the overprints of two inks and more, at most nine of them, for
// the color bar at the head of the page.
func (g *grid) Mixed() []string {
	var out []string
	for mask := uint(3); len(out) < 9 && int(mask) < len(g.Cells); mask++ {
		if mask&(mask-1) == 0 {
			continue
		}
		for _, c := range g.Cells {
			if c.Mask == mask {
				out = append(out, c.Fill)
			}
		}
	}
	return out
}

// gray is the n-th Gray code.
func gray(n int) uint { return uint(n ^ n>>1) }

// spans returns the runs of columns, or rows, that ink i prints.
func spans(i, across, cols, rows int) [][2]int {
	n, bit := cols, i
	if i >= across {
		n, bit = rows, i-across
	}
	var out [][2]int
	for j := range n {
		if gray(j)>>bit&1 == 0 {
			continue
		}
		if l := len(out); l > 0 && out[l-1][1] == j {
			out[l-1][1] = j + 1
		} else {
			out = append(out, [2]int{j, j + 1})
		}
	}
	return out
}

// label writes the names of the cell's inks in print order, or only the
// digits of their places in it where the cells are small.
func (c *cell) label(names []string, short bool) {
	var words []string
	for i, n := range names {
		if c.Mask>>i&1 == 0 {
			continue
		}
		if short {
			words = append(words, fmt.Sprint(i+1))
		} else {
			words = append(words, shorten(n, c.W/7))
		}
	}
	if short && len(words) > 0 {
		words = []string{strings.Join(words, "")}
	}
	if len(words) == 0 {
		words = []string{"paper"}
	}
	if c.Measured && !short && c.Mask&(c.Mask-1) != 0 {
		words = append(words, "(measured)")
	}
	y := c.Y + c.H/2 - (len(words)-1)*lineStep/2
	for i, s := range words {
		c.Lines = append(c.Lines, line{c.X + c.W/2, y + i*lineStep, s})
	}
}

// shorten cuts s to n characters, with an ellipsis where it was longer.
func shorten(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return string(r[:max(1, n-1)]) + "…"
}

// inkOn is the gray that reads on a color: near black or near white.
func inkOn(c spectrum.XYZ) string {
	if c.Lab()[0] > 56 {
		return "#1b1b1d"
	}
	return "#fafafa"
}
