package artwork

import (
	"bytes"
	"encoding/binary"
	"image/color"
	"io"

	"github.com/klauspost/compress/zlib"
)

// decodePNG unpacks the pixels row by row into the picture: besides the
// picture there are only two rows in memory.
func decodePNG(h *header, p *Picture) error {
	info := h.detail.(*pngInfo)
	l, err := info.layout()
	if err != nil {
		return err
	}
	p.allocate(l.depth(), l.transparent())
	readers := make([]io.Reader, len(info.idat))
	for i, b := range info.idat {
		readers[i] = bytes.NewReader(b)
	}
	z, err := zlib.NewReader(io.MultiReader(readers...))
	if err != nil {
		return err
	}
	w := &rowWriter{layout: l, p: p}
	passes := []pngPass{{0, 0, 1, 1}}
	if info.interlace == 1 {
		passes = adam7()
	}
	for _, pass := range passes {
		if err := pass.read(z, w); err != nil {
			return err
		}
	}
	// The checksum is compared where the stream ends. What may follow the last
	// row is nobody's.
	var rest [1]byte
	if _, err := io.ReadFull(z, rest[:]); err != nil && err != io.EOF {
		return err
	}
	return nil
}

// layout turns the header, the palette and the transparency into a layout.
func (i *pngInfo) layout() (layout, error) {
	l := layout{bits: int(i.depth), samples: i.samples(), colors: colorRGB}
	be := binary.BigEndian
	switch i.kind {
	case pngGray, pngGrayAlpha:
		l.colors = colorGray
		l.alpha = i.samples() - 1
	case pngRGBA:
		l.alpha = 3
	case pngPalette:
		l.palette = make([]color.NRGBA, len(i.palette)/3)
		for k := range l.palette {
			l.palette[k] = color.NRGBA{i.palette[3*k], i.palette[3*k+1], i.palette[3*k+2], 255}
		}
		if len(i.trns) > len(l.palette) {
			return l, malformed("the file is damaged (the transparency of the palette)")
		}
		for k, a := range i.trns {
			l.palette[k].A = a
		}
		return l, nil
	}
	if i.trns == nil || l.alpha > 0 {
		return l, nil
	}
	if len(i.trns) != 2*l.samples {
		return l, malformed("the file is damaged (the transparent color)")
	}
	l.keyed = true
	for c := range 3 {
		v := be.Uint16(i.trns[2*(c%l.samples):])
		if l.bits < 8 {
			v = v & (1<<l.bits - 1) * (255 / (1<<l.bits - 1))
		} else if l.bits == 8 {
			v &= 255
		}
		l.key[c] = v
	}
	return l, nil
}

// pngPass is a part of the picture: the pixels at x0 + i·dx, y0 + j·dy.
type pngPass struct{ x0, y0, dx, dy int }

// adam7 returns the passes of an interlaced picture (PNG third edition, 8.2).
func adam7() []pngPass {
	return []pngPass{{0, 0, 8, 8}, {4, 0, 8, 8}, {0, 4, 4, 8}, {2, 0, 4, 4}, {0, 2, 2, 4}, {1, 0, 2, 2}, {0, 1, 1, 2}}
}

func (s pngPass) read(r io.Reader, w *rowWriter) error {
	n := (w.p.Width - s.x0 + s.dx - 1) / s.dx
	if n <= 0 || s.y0 >= w.p.Height {
		return nil
	}
	step := max(1, w.samples*w.bits/8)
	row, above := make([]byte, 1+w.rowBytes(n)), make([]byte, 1+w.rowBytes(n))
	for y := s.y0; y < w.p.Height; y += s.dy {
		if _, err := io.ReadFull(r, row); err != nil {
			return err
		}
		if !unfilter(row[0], row[1:], above[1:], step) {
			return malformed("the file is damaged (a row's filter)")
		}
		if err := w.put(row[1:], n, y, s.x0, s.dx); err != nil {
			return err
		}
		row, above = above, row
	}
	return nil
}

// unfilter restores a row from its filtered values and the row above (PNG
// third edition, 9.2); step is the bytes from a value to the one left of it.
func unfilter(filter byte, row, above []byte, step int) bool {
	above = above[:len(row)]
	switch filter {
	case 0:
	case 1:
		for i := step; i < len(row); i++ {
			row[i] += row[i-step]
		}
	case 2:
		for i, v := range above {
			row[i] += v
		}
	case 3:
		for i := range min(step, len(row)) {
			row[i] += above[i] / 2
		}
		for i := step; i < len(row); i++ {
			row[i] += uint8((int(row[i-step]) + int(above[i])) / 2)
		}
	case 4:
		for c := range min(step, len(row)) {
			left, corner := 0, 0
			for i := c; i < len(row); i += step {
				up := int(above[i])
				// The nearest of left, up and corner to left + up − corner.
				dl, du := up-corner, left-corner
				dc := max(dl+du, -dl-du)
				dl, du = max(dl, -dl), max(du, -du)
				guess := corner
				if dl <= du && dl <= dc {
					guess = left
				} else if du <= dc {
					guess = up
				}
				corner = up
				left = (guess + int(row[i])) & 255
				row[i] = uint8(left)
			}
		}
	default:
		return false
	}
	return true
}
