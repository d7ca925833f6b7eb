package film

import (
	"bytes"
	"errors"
	"fmt"
	"io"
)

// WritePDF writes films as one PDF, black, a page a plate at true size: plate and
// wedge as image masks, marks and text as outlines. A pixel of the film is
// 72/dpi points and the page is whole pixels, so it is within half a pixel of the
// sheet's millimetres.
func WritePDF(w io.Writer, pages []*Page, info Info) error {
	return writeFilms(w, pages, info, func(*pdfFile, int) paint {
		return paint{ink: "0 g", marks: "0 g", none: "1 g"}
	})
}

// paint says how a page's colors are set in its content.
type paint struct {
	ink, marks, none string
	resources        string // for its page
}

func writeFilms(w io.Writer, pages []*Page, info Info, colors func(f *pdfFile, i int) paint) error {
	if len(pages) == 0 {
		return errors.New("film: no pages: give at least one film")
	}
	for _, p := range pages {
		if info.DPI != 0 && info.DPI != p.layout.sheet.DPI {
			return fmt.Errorf("film: %v dpi for a page laid out at %v: leave it 0", info.DPI, p.layout.sheet.DPI)
		}
	}
	f := newPDF(w)
	tree := f.promise()
	forms := map[*Layout]int{}
	var kids []int
	for i, p := range pages {
		if _, ok := forms[p.layout]; !ok {
			forms[p.layout] = f.marks(p.layout)
		}
		kids = append(kids, f.page(p, tree, forms[p.layout], colors(f, i), info.Compression))
		if f.err != nil {
			return f.err
		}
	}
	return f.close(kids, tree, info)
}

// marks writes what all plates of a layout share, once, in the color around it.
func (f *pdfFile) marks(l *Layout) int {
	var c bytes.Buffer
	paths(&c, l.marks)
	return f.stream(fmt.Sprintf("/Type /XObject /Subtype /Form /BBox [0 0 %d %d] /Resources << >>", l.w, l.h), c.Bytes())
}

// page writes one plate's page.
func (f *pdfFile) page(p *Page, tree, marks int, c paint, pack Compression) int {
	l := p.layout
	objects := fmt.Sprintf("/Marks %d 0 R", marks)
	pt := 72 / l.sheet.DPI
	w, h := (float64(l.w)-hair)*pt, (float64(l.h)-hair)*pt
	var b bytes.Buffer
	on, all := c.ink, c.marks
	if l.sheet.Negative {
		fmt.Fprintf(&b, "%s 0 0 %s %s re f\n", c.ink, decimal(w, 5), decimal(h, 5))
		on, all = c.none, c.none
	}
	// From here on a unit is a pixel and y points down.
	if l.sheet.Mirror {
		fmt.Fprintf(&b, "%s 0 0 %s %s %s cm\n", decimal(-pt, 9), decimal(-pt, 9), decimal(float64(l.w)*pt, 5), decimal(h, 5))
	} else {
		fmt.Fprintf(&b, "%s 0 0 %s 0 %s cm\n", decimal(pt, 9), decimal(-pt, 9), decimal(h, 5))
	}
	b.WriteString(on + "\n")
	if p.plate != nil {
		objects += fmt.Sprintf(" /Plate %d 0 R", f.mask(p.plate, pack))
		b.WriteString(draw("Plate", l.ox, l.oy, l.aw, l.ah))
	}
	for i, t := range p.tints {
		name := fmt.Sprintf("Tints%d", i)
		tw, th := t.Size()
		objects += fmt.Sprintf(" /%s %d 0 R", name, f.mask(t, pack))
		b.WriteString(draw(name, t.x, t.y, tw, th))
	}
	paths(&b, p.own)
	fmt.Fprintf(&b, "%s\n/Marks Do\n", all)
	content := f.stream("", b.Bytes())
	x, y := l.Origin()
	area := func(inset float64) string {
		return fmt.Sprintf("[%s %s %s %s]", decimal((float64(x)+inset)*pt, 5), decimal((float64(l.h-y-l.ah)+inset)*pt, 5),
			decimal((float64(x+l.aw)-inset)*pt, 5), decimal((float64(l.h-y)-inset)*pt, 5))
	}
	return f.add("<< /Type /Page /Parent %d 0 R /MediaBox [0 0 %s %s] /BleedBox %s /TrimBox %s /Contents %d 0 R /Resources << /XObject << %s >> %s >> >>",
		tree, decimal(w, 5), decimal(h, 5), area(0), area(l.scale(l.sheet.BleedMM)), content, objects, c.resources)
}

// draw paints an image on w × h pixels at (x, y), a hair inside.
func draw(name string, x, y, w, h int) string {
	n := func(v float64) string { return decimal(v, 6) }
	return fmt.Sprintf("q %s 0 0 %s %s %s cm /%s Do Q\n", n(float64(w)-2*hair), n(2*hair-float64(h)), n(float64(x)+hair), n(float64(y+h)-hair), name)
}

// paths writes outlines as filled paths; filling closes them.
func paths(b *bytes.Buffer, set []outline) {
	for i := range set {
		for _, s := range set[i].steps {
			n := 1
			if s.op == 'c' {
				n = 3
			}
			for _, p := range s.p[:n] {
				b.WriteString(decimal(p.x, 3))
				b.WriteByte(' ')
				b.WriteString(decimal(p.y, 3))
				b.WriteByte(' ')
			}
			b.WriteByte(s.op)
			b.WriteByte('\n')
		}
		b.WriteString("f\n")
	}
}
