// Package chartfilm draws the films of a test print: solids, lines and words with
// hard edges, tints through a screen. New makes a film at any resolution; what it
// returns is asked for row by row, as every one-bit picture of this program is.
package chartfilm

import (
	"image"
	"image/color"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"

	"platewright/composite/chart"
	"platewright/halftone"
)

// Bits is a film as bits. It implements halftone.Bits and is safe for concurrent
// use.
type Bits struct {
	w, h   int
	scale  float64 // pixels to the millimetre
	pieces []piece
	discs  []chart.Disc
}

// piece is a rectangle of bits; nil bits are solid.
type piece struct {
	x, y, w, h int
	bits       halftone.Bits
}

// New makes the bits of a film of widthMM by heightMM at dpi. Tints go through
// the screen, which may be nil where there are none.
func New(f *chart.Film, widthMM, heightMM, dpi float64, screen *halftone.Screen) (*Bits, error) {
	b := &Bits{scale: dpi / 25.4, discs: f.Discs}
	b.w, b.h = b.px(widthMM), b.px(heightMM)
	for _, t := range f.Tints {
		x, y := b.px(t.X), b.px(t.Y)
		p := piece{x: x, y: y, w: max(1, b.px(t.X+t.W)-x), h: max(1, b.px(t.Y+t.H)-y)}
		if t.W < 2 { // lines keep their width wherever they start
			p.w = max(1, b.px(t.W))
		}
		if t.H < 2 {
			p.h = max(1, b.px(t.H))
		}
		if t.Percent < 100 && screen != nil {
			tint := halftone.Plate{Width: 1, Height: 1, Cov: []uint16{uint16(math.Round(t.Percent / 100 * halftone.Full))}}
			r, err := halftone.NewRaster(&tint, p.w, p.h, screen, halftone.Options{})
			if err != nil {
				return nil, err
			}
			p.bits = r
		}
		b.pieces = append(b.pieces, p)
	}
	ttf, err := opentype.Parse(goregular.TTF)
	if err != nil {
		return nil, err
	}
	for _, w := range f.Words {
		p, err := b.word(ttf, w)
		if err != nil {
			return nil, err
		}
		b.pieces = append(b.pieces, p)
	}
	return b, nil
}

func (b *Bits) px(mm float64) int { return int(math.Floor(float64(mm*b.scale) + .5)) }

// capShare is the height of a capital letter in the Go font, in ems.
const capShare = .72

// word sets a line of text, smaller where it would be too wide.
func (b *Bits) word(ttf *opentype.Font, w chart.Word) (piece, error) {
	size := w.Height * b.scale / capShare
	var face font.Face
	var width int
	for range 2 {
		var err error
		if face, err = opentype.NewFace(ttf, &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingNone}); err != nil {
			return piece{}, err
		}
		width = font.MeasureString(face, w.Text).Ceil()
		if most := w.Width * b.scale; float64(width) > most && width > 0 {
			size *= most / float64(width)
			continue
		}
		break
	}
	up, down := int(size)+1, int(size/3)+1
	m := image.NewAlpha(image.Rect(0, 0, max(width, 1), up+down))
	d := font.Drawer{Dst: m, Src: image.NewUniform(color.Opaque), Face: face, Dot: fixed.P(0, up)}
	d.DrawString(w.Text)
	return piece{b.px(w.X), b.px(w.Y) - up, m.Rect.Dx(), m.Rect.Dy(), mask{m}}, nil
}

// Size implements halftone.Bits.
func (b *Bits) Size() (w, h int) { return b.w, b.h }

// Rows implements halftone.Bits.
func (b *Bits) Rows(dst []byte, stride, y0, y1 int) {
	clear(dst[:(y1-y0-1)*stride+(b.w+7)/8])
	var rows []byte
	for _, p := range b.pieces {
		from, to := max(y0, p.y), min(y1, p.y+p.h)
		if from >= to {
			continue
		}
		if p.bits == nil {
			for y := from; y < to; y++ {
				fill(dst[(y-y0)*stride:], max(0, p.x), min(b.w, p.x+p.w))
			}
			continue
		}
		n := (p.w + 7) / 8
		if need := n * (to - from); cap(rows) < need {
			rows = make([]byte, need)
		}
		rows = rows[:n*(to-from)]
		p.bits.Rows(rows, n, from-p.y, to-p.y)
		for y := from; y < to; y++ {
			src, out := rows[(y-from)*n:], dst[(y-y0)*stride:]
			for x := range p.w {
				if at := p.x + x; src[x>>3]>>(7-x&7)&1 == 1 && at >= 0 && at < b.w {
					out[at>>3] |= 0x80 >> (at & 7)
				}
			}
		}
	}
	for _, d := range b.discs {
		b.disc(d, dst, stride, y0, y1)
	}
}

// disc sets the pixels whose centers lie in a disc or ring.
func (b *Bits) disc(d chart.Disc, dst []byte, stride, y0, y1 int) {
	cx, cy, r, inner := d.X*b.scale, d.Y*b.scale, d.R*b.scale, d.Inner*b.scale
	for y := max(y0, int(cy-r)); y < min(y1, int(cy+r)+2); y++ {
		dy := float64(y) + .5 - cy
		if dy*dy > r*r {
			continue
		}
		half := math.Sqrt(r*r - float64(dy*dy))
		out := dst[(y-y0)*stride:]
		from, to := int(math.Ceil(cx-half-.5)), int(math.Floor(cx+half-.5))+1
		if dy*dy >= inner*inner {
			fill(out, max(0, from), min(b.w, to))
			continue
		}
		gap := math.Sqrt(inner*inner - float64(dy*dy))
		fill(out, max(0, from), min(b.w, int(math.Floor(cx-gap-.5))+1))
		fill(out, max(0, int(math.Ceil(cx+gap-.5))), min(b.w, to))
	}
}

func fill(row []byte, x0, x1 int) {
	for x := x0; x < x1; x++ {
		if x&7 == 0 && x+8 <= x1 {
			row[x>>3] = 0xff
			x += 7
			continue
		}
		row[x>>3] |= 0x80 >> (x & 7)
	}
}

// mask is a small picture as bits, ink where it covers half a pixel.
type mask struct{ m *image.Alpha }

func (k mask) Size() (w, h int) { return k.m.Rect.Dx(), k.m.Rect.Dy() }

func (k mask) Rows(dst []byte, stride, y0, y1 int) {
	w := k.m.Rect.Dx()
	for y := y0; y < y1; y++ {
		out := dst[(y-y0)*stride:]
		clear(out[:(w+7)/8])
		for x := range w {
			if k.m.Pix[y*k.m.Stride+x] >= 0x80 {
				out[x>>3] |= 0x80 >> (x & 7)
			}
		}
	}
}
