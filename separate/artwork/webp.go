package artwork

import (
	"bytes"
	"encoding/binary"
	"image"

	"golang.org/x/image/webp"
)

func webpHeader(h *header) error {
	le := binary.LittleEndian
	b := h.data
	if int64(le.Uint32(b[4:]))+8 > int64(len(b)) {
		return errShort
	}
	b = b[12:]
	for len(b) >= 8 {
		n := int64(le.Uint32(b[4:]))
		if n > int64(len(b)-8) {
			return errShort
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
	h.heldPerPixel = 4
	h.bytesPerPixel = 4 + 4
	// A lossless picture of one color needs no data at all. That is no artwork;
	// beyond a size that a bomb must have, more is asked for.
	if n := int64(h.width) * int64(h.height); n > 50e6 {
		h.minData = n / 10000
	}
	return nil
}

func decodeWebP(h *header, p *Picture) error {
	img, err := webp.Decode(bytes.NewReader(h.data))
	if err != nil {
		return err
	}
	switch m := img.(type) {
	case *image.YCbCr:
		return p.takeVideo(m, nil, 0)
	case *image.NYCbCrA:
		return p.takeVideo(&m.YCbCr, m.A, m.AStride)
	}
	return p.take(img)
}

// takeVideo copies a picture coded as luma 16 … 235 and color differences of
// half the size (RFC 6386, 9.2: ITU-R BT.601), which the decoder's image type
// does not tell from the full range of JPEG. Color differences are enlarged by
// the triangle filter 9 3 3 1 that decoders of the format share, and the
// integers are those of the reference decoder.
func (p *Picture) takeVideo(m *image.YCbCr, alpha []uint8, stride int) error {
	w, h := p.Width, p.Height
	if m.Rect.Dx() != w || m.Rect.Dy() != h || m.SubsampleRatio != image.YCbCrSubsampleRatio420 {
		return malformed("the file is damaged (the size of its parts)")
	}
	p.allocate(8, alpha != nil)
	cw, ch := (w+1)/2, (h+1)/2
	eachBand(h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			near, far := y/2, min(max(y/2+y%2*2-1, 0), ch-1)
			cbn, cbf := m.Cb[near*m.CStride:][:cw], m.Cb[far*m.CStride:][:cw]
			crn, crf := m.Cr[near*m.CStride:][:cw], m.Cr[far*m.CStride:][:cw]
			luma, dst := m.Y[y*m.YStride:][:w], p.Pix[3*y*w:][:3*w]
			for x, v := range luma {
				i, j := x/2, min(max(x/2+x%2*2-1, 0), cw-1)
				u := (9*int(cbn[i]) + 3*int(cbn[j]) + 3*int(cbf[i]) + int(cbf[j]) + 8) >> 4
				t := (9*int(crn[i]) + 3*int(crn[j]) + 3*int(crf[i]) + int(crf[j]) + 8) >> 4
				l := int(v) * 19077 >> 8
				dst[3*x] = clip14(l + t*26149>>8 - 14234)
				dst[3*x+1] = clip14(l - u*6419>>8 - t*13320>>8 + 8708)
				dst[3*x+2] = clip14(l + u*33050>>8 - 17685)
			}
			if alpha != nil {
				copy(p.Alpha[y*w:][:w], alpha[y*stride:])
			}
		}
	})
	return nil
}

// clip14 cuts a value of 8.6 bits to a byte.
func clip14(v int) uint8 { return uint8(max(0, min(v>>6, 255))) }
