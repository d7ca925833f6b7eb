package artwork

import (
	"math"

	"platewright/composite/spectrum"
)

// Flatten lays the picture over the paper's color, blending in the picture's
// own encoding as drawing programs do:
//
//	v = round(a·v + (1 − a)·paper)
//
// with the paper's color rounded to a value of the picture and cut to its
// range, so that a transparent pixel is exactly that value. Afterwards Alpha
// is 0 for the fully transparent pixels and 255 for all others, and nil when
// there is none; Alpha16 is nil. A picture without transparency stays as it is.
func (p *Picture) Flatten(paper spectrum.XYZ) {
	e := p.Space.Encode(paper)
	switch {
	case p.Alpha != nil:
		bare := code[uint8](e, 255)
		flatten(p.Pix, p.Alpha, p.Alpha, p.Width, p.Height, bare, 255)
	case p.Alpha16 != nil:
		bare := code[uint16](e, 65535)
		p.Alpha = make([]uint8, len(p.Alpha16))
		flatten(p.Pix16, p.Alpha16, p.Alpha, p.Width, p.Height, bare, 65535)
		p.Alpha16 = nil
	default:
		return
	}
	for _, a := range p.Alpha {
		if a == 0 {
			return
		}
	}
	p.Alpha = nil
}

func flatten[T uint8 | uint16](pix, alpha []T, mark []uint8, w, h int, bare [3]T, full uint64) {
	eachBand(h, func(y0, y1 int) {
		for i := y0 * w; i < y1*w; i++ {
			a := uint64(alpha[i])
			mark[i] = 255
			switch a {
			case full:
			case 0:
				copy(pix[3*i:3*i+3], bare[:])
				mark[i] = 0
			default:
				for c, v := range pix[3*i : 3*i+3] {
					pix[3*i+c] = T((a*uint64(v) + (full-a)*uint64(bare[c]) + full/2) / full)
				}
			}
		}
	})
}

// code rounds encoded values to the range of a channel.
func code[T uint8 | uint16](e [3]float64, full float64) (c [3]T) {
	for i, v := range e {
		c[i] = T(math.Round(math.Max(0, math.Min(1, v)) * full))
	}
	return c
}
