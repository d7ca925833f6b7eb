package sheet

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"strconv"
	"strings"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/f64"
	"golang.org/x/image/math/fixed"

	xdraw "golang.org/x/image/draw"

	"platewright/composite/spectrum"
)

// Swatch is one ink of a shelf as Swatches shows it: its solid on the paper
// and over the black bar, and in words how it is known.
type Swatch struct {
	Name      string
	Solid     spectrum.XYZ
	OverBlack spectrum.XYZ
	KnownBy   string
}

const (
	swatchRow    = 132 // pixels from one ink to the next
	swatchWidth  = 260
	swatchMargin = 36
	swatchPage   = 1000
	swatchText   = swatchMargin + swatchWidth + 32 // where the words begin
	swatchLine   = 24                              // from one line of words to the next
)

// Swatches draws the inks of a shelf below each other: each solid on the
// paper and over a black bar, which shows its opacity, with its name, its
// color and how it is known. black is the color of the bar.
func Swatches(paper Paper, black spectrum.XYZ, inks []Swatch) (*image.RGBA, error) {
	t, err := newTypes()
	if err != nil {
		return nil, err
	}
	h := 2*swatchMargin + 44
	known := make([][]string, len(inks))
	for i, k := range inks {
		known[i] = t.wrap(t.small, k.KnownBy, swatchPage-swatchMargin-swatchText)
		h += rowOf(known[i])
	}
	if len(inks) == 0 {
		h += swatchRow
	}
	m := image.NewRGBA(image.Rect(0, 0, swatchPage, h))
	fill(m, m.Rect, paper.Color)
	text := inkOn(paper.Color)
	t.write(m, t.large, text, swatchMargin, swatchMargin+22, paper.Name)
	if paper.Finish != "" {
		t.write(m, t.small, text, swatchMargin+t.width(t.large, paper.Name)+14, swatchMargin+22, paper.Finish)
	}
	y := swatchMargin + 44
	for i, k := range inks {
		box := image.Rect(swatchMargin, y, swatchMargin+swatchWidth, y+swatchRow-26)
		bar := image.Rect(box.Min.X+swatchWidth*5/8, box.Min.Y-8, box.Min.X+swatchWidth*5/8+50, box.Max.Y+8)
		fill(m, bar, black)
		fill(m, box, k.Solid)
		fill(m, bar.Intersect(box), k.OverBlack)
		t.write(m, t.large, text, swatchText, y+26, t.fit(t.large, k.Name, swatchPage-swatchMargin-swatchText))
		t.write(m, t.small, text, swatchText, y+54, hex(k.Solid)+"  "+labWords(k.Solid))
		for n, line := range known[i] {
			t.write(m, t.small, text, swatchText, y+80+n*swatchLine, line)
		}
		y += rowOf(known[i])
	}
	return m, nil
}

// rowOf is the height of an ink with these lines on how it is known.
func rowOf(known []string) int { return swatchRow + swatchLine*max(0, len(known)-2) }

// OverprintGrid draws the overprints of 1 … 8 inks as the page does: a bar
// for each ink in print order, and at each crossing the color of its solids
// over each other. over has 2^len(names) entries, paper first.
func OverprintGrid(names []string, over []Overprint) (*image.RGBA, error) {
	k := len(names)
	if k < 1 || k > 8 || len(over) != 1<<k {
		return nil, fmt.Errorf("sheet: %d overprints for %d inks; give 1 to 8 inks and all their overprints, paper first", len(over), k)
	}
	t, err := newTypes()
	if err != nil {
		return nil, err
	}
	const s = 2 // pixels per unit of the layout
	g := newGrid(names, over)
	m := image.NewRGBA(image.Rect(0, 0, s*g.W, s*g.H))
	fill(m, m.Rect, over[0].Color)
	for _, c := range g.Cells {
		fill(m, image.Rect(s*c.X, s*c.Y, s*(c.X+c.W), s*(c.Y+c.H)), c.Color)
		for _, l := range c.Lines {
			t.centered(m, c.Text, s*l.X, s*l.Y, t.fit(t.small, l.S, s*c.W-12))
		}
	}
	for _, b := range g.Bars {
		box := image.Rect(s*b.X, s*b.Y, s*(b.X+b.W), s*(b.Y+b.H))
		draw.Draw(m, box, image.NewUniform(parseHex(b.Fill)), image.Point{}, draw.Src)
		if !b.Upright {
			t.centered(m, b.Text, s*b.Label.X, s*b.Label.Y, t.fit(t.small, b.Label.S, box.Dx()-12))
			continue
		}
		// Written level on a strip of its own, then turned by a quarter.
		strip := image.NewRGBA(image.Rect(0, 0, box.Dy(), box.Dx()))
		draw.Draw(strip, strip.Rect, image.NewUniform(parseHex(b.Fill)), image.Point{}, draw.Src)
		t.centered(strip, b.Text, box.Dy()/2, box.Dx()/2, t.fit(t.small, b.Label.S, box.Dy()-12))
		turn := f64.Aff3{0, 1, float64(box.Min.X), -1, 0, float64(box.Max.Y)}
		xdraw.NearestNeighbor.Transform(m, turn, strip, strip.Rect, draw.Src, nil)
	}
	return m, nil
}

func fill(m *image.RGBA, r image.Rectangle, c spectrum.XYZ) {
	v := code(c)
	draw.Draw(m, r, image.NewUniform(color.RGBA{v[0], v[1], v[2], 255}), image.Point{}, draw.Src)
}

// parseHex reads a code that hex wrote.
func parseHex(s string) color.RGBA {
	v, _ := strconv.ParseUint(s[1:], 16, 32)
	return color.RGBA{uint8(v >> 16), uint8(v >> 8), uint8(v), 255}
}

// types are the faces of the pictures.
type types struct{ large, small font.Face }

func newTypes() (*types, error) {
	face := func(ttf []byte, size float64) (font.Face, error) {
		f, err := opentype.Parse(ttf)
		if err != nil {
			return nil, fmt.Errorf("sheet: %w", err)
		}
		return opentype.NewFace(f, &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingNone})
	}
	large, err := face(gobold.TTF, 27)
	if err != nil {
		return nil, err
	}
	small, err := face(goregular.TTF, 20)
	if err != nil {
		return nil, err
	}
	return &types{large, small}, nil
}

// write sets s with its baseline at y.
func (t *types) write(m draw.Image, f font.Face, shade string, x, y int, s string) {
	d := font.Drawer{Dst: m, Src: image.NewUniform(parseHex(shade)), Face: f, Dot: fixed.P(x, y)}
	d.DrawString(s)
}

// centered sets s in the small face around (x, y).
func (t *types) centered(m draw.Image, shade string, x, y int, s string) {
	t.write(m, t.small, shade, x-t.width(t.small, s)/2, y+7, s)
}

func (t *types) width(f font.Face, s string) int { return font.MeasureString(f, s).Ceil() }

// wrap breaks s at its spaces into lines of a width in pixels; a word that is wider
// is cut.
func (t *types) wrap(f font.Face, s string, room int) (lines []string) {
	for _, word := range strings.Fields(s) {
		if n := len(lines) - 1; n >= 0 && t.width(f, lines[n]+" "+word) <= room {
			lines[n] += " " + word
			continue
		}
		lines = append(lines, t.fit(f, word, room))
	}
	return lines
}

// fit cuts s to a width in pixels.
func (t *types) fit(f font.Face, s string, room int) string {
	for n := len([]rune(s)); n > 1 && t.width(f, s) > room; n-- {
		s = shorten(s, n-1)
	}
	return s
}
