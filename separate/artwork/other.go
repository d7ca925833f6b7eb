package artwork

import (
	"bytes"
	"encoding/binary"
	"image/gif"

	"golang.org/x/image/bmp"
	"golang.org/x/image/webp"
)

func gifHeader(h *header) error {
	c, err := gif.DecodeConfig(bytes.NewReader(h.data))
	if err != nil {
		return err
	}
	h.width, h.height = c.Width, c.Height
	h.bytesPerPixel = 1 + 4
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

func decodeGIF(h *header, p *Picture) error {
	img, err := gif.Decode(bytes.NewReader(h.data))
	if err != nil {
		return err
	}
	return p.takeAt(img)
}

func webpHeader(h *header) error {
	le := binary.LittleEndian
	b := h.data
	if len(b) < 12 {
		return errShort
	}
	if n := int64(le.Uint32(b[4:])) + 8; n > int64(len(b)) {
		return errShort
	}
	b = b[12:]
	for len(b) >= 8 {
		n := int64(le.Uint32(b[4:]))
		if n > int64(len(b)-8) {
			break
		}
		body := b[8 : 8+n]
		switch string(b[:4]) {
		case "ICCP":
			h.icc = body
		case "EXIF":
			h.exif(bytes.TrimPrefix(body, []byte("Exif\x00\x00")))
		case "ANIM":
			return &Error{"", "this WebP is an animation", "export the frame you want as PNG", ErrUnsupported}
		}
		b = b[min(8+n+n&1, int64(len(b))):]
	}
	c, err := webp.DecodeConfig(bytes.NewReader(h.data))
	if err != nil {
		return err
	}
	h.width, h.height = c.Width, c.Height
	h.bytesPerPixel = 4 + 4
	return nil
}

func decodeWebP(h *header, p *Picture) error {
	img, err := webp.Decode(bytes.NewReader(h.data))
	if err != nil {
		return err
	}
	return p.take(img)
}

func bmpHeader(h *header) error {
	c, err := bmp.DecodeConfig(bytes.NewReader(h.data))
	if err != nil {
		return err
	}
	h.width, h.height = c.Width, c.Height
	h.bytesPerPixel = 4 + 4
	return nil
}

func decodeBMP(h *header, p *Picture) error {
	img, err := bmp.Decode(bytes.NewReader(h.data))
	if err != nil {
		return err
	}
	return p.take(img)
}
