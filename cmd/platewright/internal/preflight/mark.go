package preflight

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"slices"
	"strings"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

const (
	textSize  = 13.0
	lineStep  = 18
	markInset = 10
	leastBox  = 9 // pixels, so that a thin line's mark is seen
	numbered  = 3 // places of a finding that carry its number, the worst ones
)

// Mark draws findings on a picture of a print wMM × hMM: a numbered box at each
// place in the color of its level, and below the list of them. The picture is
// paled so that the boxes stand out.
func Mark(art image.Image, wMM, hMM float64, findings []Finding) (image.Image, error) {
	parsed, err := opentype.Parse(goregular.TTF)
	if err != nil {
		return nil, err
	}
	face, err := opentype.NewFace(parsed, &opentype.FaceOptions{Size: textSize, DPI: 72})
	if err != nil {
		return nil, err
	}
	defer face.Close()
	w, h := art.Bounds().Dx(), art.Bounds().Dy()
	width := max(w, 560)
	var lines []string
	var levels []Level
	for i, f := range findings {
		for k, line := range wrap(face, fmt.Sprintf("%d  %s: %s", i+1, f.Level, f.Message), width-2*markInset) {
			if k > 0 {
				line = "    " + line
			}
			lines, levels = append(lines, line), append(levels, f.Level)
		}
	}
	if len(findings) == 0 {
		lines, levels = []string{"nothing to remark"}, []Level{Note}
	}
	m := image.NewRGBA(image.Rect(0, 0, width, h+lineStep*len(lines)+2*markInset))
	draw.Draw(m, m.Rect, image.White, image.Point{}, draw.Src)
	draw.Draw(m, image.Rect(0, 0, w, h), art, art.Bounds().Min, draw.Over)
	draw.Draw(m, image.Rect(0, 0, w, h), image.NewUniform(color.NRGBA{255, 255, 255, 110}), image.Point{}, draw.Over)
	within := image.Rect(0, 0, w, h)
	boxOf := func(p Place) image.Rectangle {
		box := image.Rect(int(p.X/wMM*float64(w)), int(p.Y/hMM*float64(h)), int((p.X+p.W)/wMM*float64(w))+1, int((p.Y+p.H)/hMM*float64(h))+1)
		return atLeast(box, leastBox)
	}
	for i := len(findings) - 1; i >= 0; i-- { // the gravest on top
		for _, p := range findings[i].Places {
			outline(m, boxOf(p), within, ink(findings[i].Level))
		}
	}
	var taken []image.Rectangle // by numbers, which all stay legible
	for i, f := range findings {
		for _, p := range f.Places[:min(numbered, len(f.Places))] {
			taken = append(taken, label(m, face, boxOf(p), within, taken, fmt.Sprint(i+1), ink(f.Level)))
		}
	}
	for i, line := range lines {
		write(m, face, markInset, h+markInset+lineStep*(i+1)-5, line, ink(levels[i]))
	}
	return m, nil
}

func ink(l Level) color.RGBA {
	switch l {
	case Fault:
		return color.RGBA{200, 0, 30, 255}
	case Warning:
		return color.RGBA{190, 95, 0, 255}
	}
	return color.RGBA{0, 80, 170, 255}
}

func atLeast(r image.Rectangle, n int) image.Rectangle {
	if d := n - r.Dx(); d > 0 {
		r.Min.X, r.Max.X = r.Min.X-d/2, r.Max.X+d-d/2
	}
	if d := n - r.Dy(); d > 0 {
		r.Min.Y, r.Max.Y = r.Min.Y-d/2, r.Max.Y+d-d/2
	}
	return r
}

func outline(m draw.Image, box, within image.Rectangle, c color.Color) {
	const thick = 2
	src := image.NewUniform(c)
	for _, r := range []image.Rectangle{
		{box.Min, image.Pt(box.Max.X, box.Min.Y+thick)}, {image.Pt(box.Min.X, box.Max.Y-thick), box.Max},
		{box.Min, image.Pt(box.Min.X+thick, box.Max.Y)}, {image.Pt(box.Max.X-thick, box.Min.Y), box.Max},
	} {
		draw.Draw(m, r.Intersect(within), src, image.Point{}, draw.Src)
	}
}

// label writes a number at the upper left of a box, or as near on the right of
// that, else on the left, as the numbers that are there leave room, and returns
// its place.
func label(m draw.Image, face font.Face, box, within image.Rectangle, taken []image.Rectangle, text string, c color.Color) image.Rectangle {
	w := font.MeasureString(face, text).Ceil() + 8
	r := image.Rect(box.Min.X, box.Min.Y-lineStep+2, box.Min.X+w, box.Min.Y+2)
	r = r.Add(image.Pt(min(0, within.Max.X-r.Max.X), max(0, within.Min.Y-r.Min.Y)))
	r = beside(r, within, taken)
	draw.Draw(m, r, image.NewUniform(c), image.Point{}, draw.Src)
	write(m, face, r.Min.X+4, r.Max.Y-5, text, color.White)
	return r
}

// beside moves a rectangle sideways off those taken; where nothing is free it
// stays.
func beside(r, within image.Rectangle, taken []image.Rectangle) image.Rectangle {
	for _, right := range []bool{true, false} {
		at := r
		for at.In(within) {
			i := slices.IndexFunc(taken, at.Overlaps)
			if i < 0 {
				return at
			}
			dx := taken[i].Min.X - 1 - at.Max.X
			if right {
				dx = taken[i].Max.X + 1 - at.Min.X
			}
			at = at.Add(image.Pt(dx, 0))
		}
	}
	return r
}

func write(m draw.Image, face font.Face, x, y int, text string, c color.Color) {
	d := font.Drawer{Dst: m, Src: image.NewUniform(c), Face: face, Dot: fixed.P(x, y)}
	d.DrawString(text)
}

// wrap parts a text at spaces into lines of at most so many pixels.
func wrap(face font.Face, text string, width int) []string {
	var lines []string
	line := ""
	for _, word := range strings.SplitAfter(text, " ") {
		if line != "" && font.MeasureString(face, line+word).Ceil() > width {
			lines = append(lines, line)
			line = ""
		}
		line += word
	}
	return append(lines, line)
}
