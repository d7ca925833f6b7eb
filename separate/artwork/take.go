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
						d[0], d[1], d[2] = straight(s[0], a), straight(s[1], a), straight(s[2], a)
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
	default:
		return unsupported(fmt.Sprintf("this kind of picture is not read (%T)", img))
	}
	return nil
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
