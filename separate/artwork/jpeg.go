package artwork

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/jpeg"
)

// jpegInfo is what the decoder keeps of a JPEG's markers.
type jpegInfo struct {
	components int
	adobe      bool // it says whether process colors are inverted
}

// jpegHeader walks the markers up to the first scan (ITU-T T.81 annex B; JFIF
// 1.02; EXIF 2.3; ICC.1:2010 annex B.4 for a profile in several pieces).
func jpegHeader(h *header) error {
	be := binary.BigEndian
	info := &jpegInfo{}
	h.detail = info
	var pieces [256][]byte
	count, broken := 0, false
	progressive := false
	b := h.data[2:]
	for {
		for len(b) > 1 && b[0] != 0xff { // stray bytes between markers
			b = b[1:]
		}
		for len(b) > 1 && b[1] == 0xff {
			b = b[1:]
		}
		if len(b) < 4 {
			return errShort
		}
		marker := b[1]
		if marker == 0 || marker == 1 || marker >= 0xd0 && marker <= 0xd8 {
			b = b[2:]
			continue
		}
		if marker == 0xd9 {
			return malformed("the file holds no picture")
		}
		n := int(be.Uint16(b[2:]))
		if n < 2 {
			return malformed("the file is damaged (a marker's length)")
		}
		if 2+n > len(b) {
			return errShort
		}
		body := b[4 : 2+n]
		b = b[2+n:]
		switch {
		case marker == 0xda:
			if h.width == 0 {
				return malformed("the file is damaged (no frame header)")
			}
			if count > 0 || broken {
				h.icc = []byte{}
				if !broken {
					for _, p := range pieces[1 : count+1] {
						if p == nil {
							h.icc = []byte{}
							break
						}
						h.icc = append(h.icc, p...)
					}
				}
			}
			h.jpegNeeds(info, progressive)
			return nil
		case marker == 0xc0 || marker == 0xc1 || marker == 0xc2:
			if len(body) < 6 {
				return errShort
			}
			progressive = marker == 0xc2
			if body[0] != 8 {
				return unsupported(fmt.Sprintf("a JPEG with %d bits a channel is not read", body[0]))
			}
			h.height, h.width = int(be.Uint16(body[1:])), int(be.Uint16(body[3:]))
			info.components = int(body[5])
			if h.height == 0 || h.width == 0 {
				return malformed(fmt.Sprintf("the file states a size of %d × %d pixels", h.width, h.height))
			}
		case marker >= 0xc3 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc:
			return unsupported("this kind of JPEG (lossless or arithmetic) is not read")
		case marker == 0xe0 && len(body) >= 12 && string(body[:5]) == "JFIF\x00":
			x, y := float64(be.Uint16(body[8:])), float64(be.Uint16(body[10:]))
			switch body[7] {
			case 1:
			case 2:
				if x == 28 || x == 37 || x == 38 { // 72 or 96 per inch, in whole numbers
					x, y = 0, 0
				}
				x, y = x*2.54, y*2.54
			default:
				x, y = 0, 0
			}
			if x > 0 && !(unstated(x) && h.ppiX > 0) {
				h.ppiX, h.ppiY = x, y
			}
		case marker == 0xe1 && len(body) >= 6 && string(body[:6]) == "Exif\x00\x00":
			h.exif(body[6:])
		case marker == 0xe2 && len(body) >= 14 && string(body[:12]) == "ICC_PROFILE\x00":
			at, of := int(body[12]), int(body[13])
			if at == 0 || at > of || count != 0 && of != count || pieces[at] != nil {
				broken = true
				continue
			}
			count = of
			pieces[at] = body[14:]
		case marker == 0xee && len(body) >= 12 && string(body[:5]) == "Adobe":
			info.adobe = true
		}
	}
}

func (h *header) jpegNeeds(info *jpegInfo, progressive bool) {
	switch info.components {
	case 1:
		h.colors = colorGray
	case 4:
		h.colors = colorCMYK
	}
	h.heldPerPixel = 3
	h.bytesPerPixel = info.components + 3
	if info.components == 4 {
		h.bytesPerPixel += 4
	}
	if progressive {
		h.bytesPerPixel += 4 * info.components // the coefficients
	}
	// A block of 64 needs a bit at the least, and colors may be stored at half
	// the size or less.
	h.minData = int64(h.width) * int64(h.height) / (64 * 8)
}

func decodeJPEG(h *header, p *Picture) error {
	info := h.detail.(*jpegInfo)
	data := h.data
	invert := false
	if info.components == 4 && !info.adobe {
		// Without the marker that says so, process colors are not inverted.
		// The decoder asks for the marker: it gets one, and its inversion is
		// undone.
		marker := []byte("\xff\xd8\xff\xee\x00\x0eAdobe\x00\x64\x00\x00\x00\x00\x00")
		data = append(marker, data[2:]...)
		invert = true
	}
	img, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		return err
	}
	if c, ok := img.(*image.CMYK); ok && invert {
		for i, v := range c.Pix {
			c.Pix[i] = 255 - v
		}
	}
	return p.take(img)
}
