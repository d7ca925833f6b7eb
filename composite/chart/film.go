package chart

import (
	"fmt"
	"math"
	"strings"
)

// A Tint is a rectangle of one coverage on a film, in mm on the sheet. Solids,
// 100, have hard edges and no dots.
type Tint struct {
	X, Y, W, H float64
	Percent    float64
}

// A Disc is a filled circle or, with Inner above 0, a ring.
type Disc struct{ X, Y, R, Inner float64 }

// A Word is a line of text with its lower left corner at X, Y. It is at most
// Width wide; what does not fit is set narrower or cut.
type Word struct {
	X, Y, Height, Width float64
	Text                string
}

// A Film is what one pull prints.
type Film struct {
	Name  string // the ink's, or "black bar"
	Tints []Tint
	Discs []Disc
	Words []Word
}

// Films returns the films in print order. With patches over black and no card
// under the sheet, the film of the black bar comes first.
func (c *Chart) Films() []Film {
	var films []Film
	offset := 0
	if c.Rows[0] > 0 && !c.BlackCard {
		films = append(films, c.blackFilm())
		offset = 1
	}
	for i, s := range c.Inks {
		f := Film{Name: s.Name}
		share := (c.Width - 2*margin) / float64(len(c.Inks)) // beside each other on the print
		f.Words = append(f.Words, Word{margin + float64(i)*share, c.Height - 4, 2, share - 2,
			fmt.Sprintf("%s · pull %d of %d · chart %s", s.Name, i+1+offset, len(c.Inks)+offset, c.Code)})
		f.crosses(c)
		for _, p := range c.Patches {
			if p.Film != nil && p.Film[i] > 0 {
				f.Tints = append(f.Tints, Tint{p.X, p.Y, p.W, p.H, p.Film[i]})
			}
		}
		if i == c.MarkInk {
			c.marks(&f)
		}
		if !c.Swatches {
			c.wedge(&f, i)
		}
		for _, p := range c.Pairs {
			if p.Ink == i {
				f.Discs = append(f.Discs, Disc{p.X + p.Step, p.Y, discR, 0})
				comb(&f, p, true)
			}
		}
		films = append(films, f)
	}
	return films
}

// blackFilm is a bar under all patches over black.
func (c *Chart) blackFilm() Film {
	f := Film{Name: "black bar"}
	for _, p := range c.Patches {
		if p.OverBlack {
			f.Tints = append(f.Tints, Tint{p.X - 1.5, p.Y - 1.5, p.W + 3, p.H + 3, 100})
		}
	}
	f.Words = []Word{{margin + 2*targetR + 2, 5, 2, 120, fmt.Sprintf("black bar · pull 1 of %d, opaque black, let it dry · chart %s", len(c.Inks)+1, c.Code)}}
	f.crosses(c)
	return f
}

// crosses puts register marks on the center lines, the same on every film: a
// cross in a circle of 5 mm.
func (f *Film) crosses(c *Chart) {
	for _, p := range [...]point{{4.5, c.Height / 2}, {c.Width - 4.5, c.Height / 2}, {c.Width / 2, 4.5}} {
		f.Discs = append(f.Discs, Disc{p.x, p.y, 2.5, 2.35})
		f.Tints = append(f.Tints, Tint{p.x - 3.5, p.y - .075, 7, .15, 100}, Tint{p.x - .075, p.y - 3.5, .15, 7, 100})
	}
}

// marks are what only the ink of the highest contrast prints.
func (c *Chart) marks(f *Film) {
	for n, t := range c.targets() {
		f.Discs = append(f.Discs, Disc{t.x, t.y, targetR, ringR})
		hole := 0.0
		if n == 0 {
			hole = holeR
		}
		f.Discs = append(f.Discs, Disc{t.x, t.y, dotR, hole})
	}
	x, y, on := c.cells()
	for n, v := range on {
		if v {
			f.Tints = append(f.Tints, Tint{x + float64(n)*cellW, y, cellW, cellW, 100})
		}
	}
	word := func(x, y, height, width float64, format string, args ...any) {
		f.Words = append(f.Words, Word{x, y, height, width, fmt.Sprintf(format, args...)})
	}
	word(margin, margin+topH+2.5, 3, c.Width-2*margin, "%s %s on %s: pull in the order of the films, keep the bare paper clean", c.Title, c.Code, c.Paper.Name)
	for _, p := range c.Patches {
		first, second := p.Label, ""
		y := p.Y + p.H + 1.9
		if p.OverBlack {
			y += 1.7 // below the bar
			if p.Label != "black" {
				second = "over black"
			}
		}
		if len(first) > 13 && second == "" {
			first, second = broken(first)
		}
		word(p.X-1, y, 1.5, pitchX-1, "%s", first)
		if second != "" {
			word(p.X-1, y+1.7, 1.5, pitchX-1, "%s", second)
		}
	}
	if c.Rows[0] > 0 && c.BlackCard {
		for _, p := range c.Patches {
			if p.OverBlack {
				frame(f, p.X-1.5, p.Y-1.5, p.W+3, p.H+3)
			}
		}
	}
	for _, p := range c.Pairs {
		f.Discs = append(f.Discs, Disc{p.X, p.Y, discR, 0})
		comb(f, p, false)
		word(p.X-3, p.Y-5.8, 1.8, vernierW-2, "%s: lines that meet = 0.1 mm each", c.Inks[p.Ink].Name)
	}
	if c.Rows[3] > 0 {
		c.writing(f, word)
	}
}

// broken parts a label at the plus or space nearest its middle.
func broken(s string) (a, b string) {
	best := -1
	for i, r := range s {
		if r == ' ' && !strings.HasPrefix(s[i+1:], "%") && (best < 0 || math.Abs(float64(i-len(s)/2)) < math.Abs(float64(best-len(s)/2))) {
			best = i
		}
	}
	if best < 0 {
		return s, ""
	}
	return s[:best], s[best+1:]
}

func frame(f *Film, x, y, w, h float64) {
	const line = .3
	f.Tints = append(f.Tints, Tint{x, y, w, line, 100}, Tint{x, y + h - line, w, line, 100}, Tint{x, y, line, h, 100}, Tint{x + w - line, y, line, h, 100})
}

// writing is a ruled table to fill in by hand.
func (c *Chart) writing(f *Film, word func(x, y, height, width float64, format string, args ...any)) {
	x := margin + 2*targetR + 3
	w := c.Width - 2*x
	y := c.Rows[3]
	share := [...]float64{.3, .12, .18, .2, .2}
	heads := [...]string{"ink", "base %", "mesh", "squeegee", "date"}
	for n := range len(c.Inks) + 1 {
		at := x
		base := y + float64(n+1)*lineH
		f.Tints = append(f.Tints, Tint{x, base, w, .3, 100})
		for k, s := range share {
			switch {
			case n == 0:
				word(at+1, base-1.5, 2.2, s*w-2, "%s", heads[k])
			case k == 0:
				word(at+1, base-1.5, 2.4, s*w-2, "%d %s", n, c.Inks[n-1].Name)
			}
			at += s * w
		}
	}
}

// wedgeWidths are lines and gaps, mm.
var wedgeWidths = [...]float64{.1, .15, .2, .25, .3, .4, .5, .7, 1}

// wedge prints lines on paper, and gaps of the same widths in a solid.
func (c *Chart) wedge(f *Film, i int) {
	perRow := max(1, int((c.Width-2*margin)/wedgeW))
	x := margin + float64(i%perRow)*wedgeW
	y := c.Rows[1] + float64(i/perRow)*wedgeH
	f.Words = append(f.Words, Word{x, y + 2, 1.8, wedgeW - 3, "lines and gaps 0.1 0.15 0.2 0.25 0.3 0.4 0.5 0.7 1 mm"})
	const h = 6.5
	at := x
	for _, w := range wedgeWidths {
		f.Tints = append(f.Tints, Tint{at, y + 3, w, h, 100})
		at += w + 2
	}
	at = x + 27
	for _, w := range wedgeWidths {
		f.Tints = append(f.Tints, Tint{at, y + 3, 2, h, 100})
		at += w + 2
	}
	f.Tints = append(f.Tints, Tint{at, y + 3, 2, h, 100})
}

// comb is a half of a vernier in each direction: lines 2 mm apart of the ink
// that all are held against, and 1.9 mm of the other. The middle lines meet when
// the inks are in register, the n-th when they are n tenths off.
func comb(f *Film, p Pair, other bool) {
	pitch, shift := 2.0, 0.0
	if other {
		pitch, shift = 1.9, 3
	}
	cx, cy := p.X+30, p.Y-2.5 // across
	vx, vy := p.X+11, p.Y+5.5 // upright
	for n := -5; n <= 5; n++ {
		long := 2.8
		if n == 0 {
			long = 3
		}
		d := float64(n) * pitch
		if other {
			f.Tints = append(f.Tints, Tint{cx + d - .1, cy + shift, .2, long, 100}, Tint{vx + shift, vy + d - .1, long, .2, 100})
		} else {
			f.Tints = append(f.Tints, Tint{cx + d - .1, cy + 3 - long, .2, long, 100}, Tint{vx + 3 - long, vy + d - .1, long, .2, 100})
		}
	}
}
