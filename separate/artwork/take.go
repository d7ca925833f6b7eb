package artwork

import (
	"fmt"
	"image"
	"image/color"
)

// take copies a decoded image of the picture's own size into the picture,
// without a change to any number that the image holds straight.
func (p *Picture) take(img image.Image) error {
	b := img.Bounds()
	if b.Dx() != p.Width || b.Dy() != p.Height {
		return malformed(fmt.Sprintf("the file is damaged: it states %d × %d pixels and holds %d × %d", p.Width, p.Height, b.Dx(), b.Dy()))
	}
	w, h := p.Width, p.Height
	switch m := img.(type) {
	case *image.Gray:
		p.allocate(8, false)
		eachBand(h, func(y0, y1 int) {
			for y := y0; y < y1; y++ {
				src, dst := m.Pix[y*m.Stride:][:w], p.Pix[3*y*w:][:3*w]
				for x, v := range src {
					dst[3*x], dst[3*x+1], dst[3*x+2] = v, v, v
				}
			}
		})
	case *image.RGBA: // premultiplied
		p.allocate(8, true)
		eachBand(h, func(y0, y1 int) {
			for y := y0; y < y1; y++ {
				src, dst, alpha := m.Pix[y*m.Stride:][:4*w], p.Pix[3*y*w:][:3*w], p.Alpha[y*w:][:w]
				for x := range alpha {
					s, d := src[4*x:][:4], dst[3*x:][:3]
					a := s[3]
					alpha[x] = a
					switch a {
					case 255:
						d[0], d[1], d[2] = s[0], s[1], s[2]
					default:
						d[0], d[1], d[2] = straight8(s[0], a), straight8(s[1], a), straight8(s[2], a)
					}
				}
			}
		})
	case *image.NRGBA:
		p.allocate(8, true)
		eachBand(h, func(y0, y1 int) {
			for y := y0; y < y1; y++ {
				src, dst, alpha := m.Pix[y*m.Stride:][:4*w], p.Pix[3*y*w:][:3*w], p.Alpha[y*w:][:w]
				for x := range alpha {
					s, d := src[4*x:][:4], dst[3*x:][:3]
					d[0], d[1], d[2], alpha[x] = s[0], s[1], s[2], s[3]
				}
			}
		})
	case *image.YCbCr:
		p.allocate(8, false)
		eachBand(h, func(y0, y1 int) {
			for y := y0; y < y1; y++ {
				dst := p.Pix[3*y*w:][:3*w]
				for x := range w {
					i, j := m.YOffset(b.Min.X+x, b.Min.Y+y), m.COffset(b.Min.X+x, b.Min.Y+y)
					dst[3*x], dst[3*x+1], dst[3*x+2] = color.YCbCrToRGB(m.Y[i], m.Cb[j], m.Cr[j])
				}
			}
		})
	case *image.CMYK:
		p.allocate(8, false)
		eachBand(h, func(y0, y1 int) {
			for y := y0; y < y1; y++ {
				src, dst := m.Pix[y*m.Stride:][:4*w], p.Pix[3*y*w:][:3*w]
				for x := range w {
					s := src[4*x:][:4]
					dst[3*x], dst[3*x+1], dst[3*x+2] = color.CMYKToRGB(s[0], s[1], s[2], s[3])
				}
			}
		})
	case *image.Paletted:
		p.allocate(8, true)
		return p.takePaletted(m, 0, 0)
	default:
		return unsupported(fmt.Sprintf("this kind of picture is not read (%T)", img))
	}
	return nil
}

// takePaletted copies a palette image to x0, y0 of the allocated picture.
func (p *Picture) takePaletted(m *image.Paletted, x0, y0 int) error {
	var table [256]color.NRGBA
	known := len(m.Palette)
	for i, c := range m.Palette {
		table[i] = color.NRGBAModel.Convert(c).(color.NRGBA)
	}
	w, h := m.Rect.Dx(), m.Rect.Dy()
	for y := range h {
		i := (y0+y)*p.Width + x0
		dst, alpha := p.Pix[3*i:][:3*w], p.Alpha[i:][:w]
		for x, v := range m.Pix[y*m.Stride:][:w] {
			if int(v) >= known {
				return malformed("the file is damaged (a pixel outside the palette)")
			}
			c := &table[v]
			dst[3*x], dst[3*x+1], dst[3*x+2], alpha[x] = c.R, c.G, c.B, c.A
		}
	}
	return nil
}

// takeAt copies a palette image that may be a part of the picture, at its own
// place; the rest stays transparent.
func (p *Picture) takeAt(img image.Image) error {
	m, ok := img.(*image.Paletted)
	if !ok || !m.Rect.In(image.Rect(0, 0, p.Width, p.Height)) {
		return malformed("the file is damaged (a frame outside the picture)")
	}
	p.allocate(8, true)
	return p.takePaletted(m, m.Rect.Min.X, m.Rect.Min.Y)
}

// allocate makes room for the pixels.
func (p *Picture) allocate(bits int, alpha bool) {
	n := p.Width * p.Height
	if bits == 16 {
		p.Pix16 = make([]uint16, 3*n)
		if alpha {
			p.Alpha16 = make([]uint16, n)
		}
		return
	}
	p.Pix = make([]uint8, 3*n)
	if alpha {
		p.Alpha = make([]uint8, n)
	}
}

// straight8 undoes the multiplication of v by a/255; a transparent pixel has
// no color and becomes black.
func straight8(v, a uint8) uint8 {
	if a == 0 {
		return 0
	}
	return uint8(min((uint32(v)*255+uint32(a)/2)/uint32(a), 255))
}

func straight16(v, a uint16) uint16 {
	if a == 0 {
		return 0
	}
	return uint16(min((uint64(v)*65535+uint64(a)/2)/uint64(a), 65535))
}
