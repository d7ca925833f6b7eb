package artwork

import (
	"bytes"
	"image"
	"image/color"
	"image/gif"
)

func gifHeader(h *header) error {
	c, err := gif.DecodeConfig(bytes.NewReader(h.data))
	if err != nil {
		return err
	}
	h.width, h.height = c.Width, c.Height
	h.heldPerPixel = 4
	h.bytesPerPixel = 1 + 4
	// A code of 12 bits stands for 4096 pixels at most; a frame may be smaller
	// than the picture, but that is no artwork.
	h.minData = int64(c.Width) * int64(c.Height) / 4096
	if gifFrames(h.data) > 1 {
		h.find("animation", "the file is an animation; its first frame is taken", "export the frame you want as a PNG")
	}
	return nil
}

// gifFrames counts the frames, at most 2, by walking the blocks (GIF89a).
func gifFrames(b []byte) (n int) {
	if len(b) < 13 {
		return 0
	}
	skip := func(k int) { b = b[min(k, len(b)):] }
	table := func(flags byte) int {
		if flags&0x80 == 0 {
			return 0
		}
		return 3 << (flags&7 + 1)
	}
	blocks := func() {
		for len(b) > 0 && b[0] != 0 {
			skip(1 + int(b[0]))
		}
		skip(1)
	}
	skip(13 + table(b[10]))
	for len(b) > 0 && n < 2 {
		switch b[0] {
		case 0x21:
			skip(2)
			blocks()
		case 0x2c:
			if len(b) < 10 {
				return n
			}
			n++
			skip(10 + table(b[9]) + 1)
			blocks()
		default:
			return n
		}
	}
	return n
}

// decodeGIF takes the first frame at its place; what it does not cover is
// transparent.
func decodeGIF(h *header, p *Picture) error {
	img, err := gif.Decode(bytes.NewReader(h.data))
	if err != nil {
		return err
	}
	m, ok := img.(*image.Paletted)
	if !ok || !m.Rect.In(image.Rect(0, 0, p.Width, p.Height)) {
		return malformed("the file is damaged (a frame outside the picture)")
	}
	w := &rowWriter{p: p}
	for _, c := range m.Palette {
		w.palette = append(w.palette, color.NRGBAModel.Convert(c).(color.NRGBA))
	}
	p.allocate(8, w.transparent() || m.Rect.Dx() != p.Width || m.Rect.Dy() != p.Height)
	for y := m.Rect.Min.Y; y < m.Rect.Max.Y; y++ {
		row := m.Pix[(y-m.Rect.Min.Y)*m.Stride:][:m.Rect.Dx()]
		if err := w.putIndexes(row, y*p.Width+m.Rect.Min.X, 1); err != nil {
			return err
		}
	}
	return nil
}
