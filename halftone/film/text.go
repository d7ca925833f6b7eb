package film

import (
	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// typeface is one font as outlines in em units, so that text is as sharp as the
// film and the same in a bitmap and a vector file.
type typeface struct {
	font *sfnt.Font
	em   fixed.Int26_6
	cap  float64 // height of a capital in ems
}

// faces are the Go fonts, which carry the Latin, Greek and Cyrillic alphabets.
type faces struct{ regular, bold typeface }

func newFaces() (faces, error) {
	regular, err := newTypeface(goregular.TTF)
	if err != nil {
		return faces{}, err
	}
	bold, err := newTypeface(gobold.TTF)
	return faces{regular, bold}, err
}

func newTypeface(ttf []byte) (typeface, error) {
	f, err := opentype.Parse(ttf)
	if err != nil {
		return typeface{}, err
	}
	em := fixed.I(int(f.UnitsPerEm()))
	m, err := f.Metrics(nil, em, font.HintingNone)
	if err != nil {
		return typeface{}, err
	}
	return typeface{f, em, float64(m.CapHeight) / float64(em)}, nil
}

// text is one set line.
type text struct {
	s      string
	width  float64 // in the unit of its cap height
	glyphs []outline
}

// set places s with its baseline's left end at (x, y), capHeight pixels high.
// A line wider than maxWidth shrinks to it, at most to half its size, and what
// is still too long ends in an ellipsis.
func (t *typeface) set(s string, x, y, capHeight, maxWidth float64) text {
	scale := capHeight / t.cap
	full := float64(t.advance(s) * scale)
	if full > maxWidth {
		scale *= max(0.5, maxWidth/full)
		for r := []rune(s); float64(t.advance(s)*scale) > maxWidth*1.000001 && len(r) > 1; {
			r = r[:len(r)-1]
			s = string(r) + "…"
		}
	}
	out := text{s: s, width: float64(t.advance(s) * scale)}
	var buf sfnt.Buffer
	pen := 0.0
	for _, r := range s {
		g, err := t.font.GlyphIndex(&buf, r)
		if err != nil {
			continue // no such table entry: nothing to draw
		}
		if segs, err := t.font.LoadGlyph(&buf, g, t.em, nil); err == nil && len(segs) > 0 {
			out.glyphs = append(out.glyphs, t.outline(segs, x+float64(pen*scale), y, scale))
		}
		if a, err := t.font.GlyphAdvance(&buf, g, t.em, font.HintingNone); err == nil {
			pen += float64(a) / float64(t.em)
		}
	}
	return out
}

// advance is the width of s in ems.
func (t *typeface) advance(s string) float64 {
	var buf sfnt.Buffer
	sum := fixed.Int26_6(0)
	for _, r := range s {
		g, err := t.font.GlyphIndex(&buf, r)
		if err != nil {
			continue
		}
		if a, err := t.font.GlyphAdvance(&buf, g, t.em, font.HintingNone); err == nil {
			sum += a
		}
	}
	return float64(sum) / float64(t.em)
}

// outline turns a glyph's segments into a path; quadratics become the cubics
// that trace the same curve.
func (t *typeface) outline(segs sfnt.Segments, x, y, scale float64) outline {
	k := scale / float64(t.em)
	at := func(p fixed.Point26_6) point {
		return point{x + float64(float64(p.X)*k), y + float64(float64(p.Y)*k)}
	}
	third := func(a, b point) point { // a third of the way from b back to a
		return point{b.x + float64((a.x-b.x)/3), b.y + float64((a.y-b.y)/3)}
	}
	var steps []step
	var cur point
	for _, s := range segs {
		var st step
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			st = step{'m', [3]point{at(s.Args[0])}}
			cur = st.p[0]
		case sfnt.SegmentOpLineTo:
			st = step{'l', [3]point{at(s.Args[0])}}
			cur = st.p[0]
		case sfnt.SegmentOpQuadTo:
			c, end := at(s.Args[0]), at(s.Args[1])
			st = step{'c', [3]point{third(cur, c), third(end, c), end}}
			cur = end
		case sfnt.SegmentOpCubeTo:
			st = step{'c', [3]point{at(s.Args[0]), at(s.Args[1]), at(s.Args[2])}}
			cur = st.p[2]
		}
		steps = append(steps, st)
	}
	return newOutline(steps)
}
