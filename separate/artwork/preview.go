package artwork

import (
	"image"
	"math"

	"platewright/composite/spectrum"
)

// Preview returns the picture in sRGB, reduced so that no side is longer than
// longest pixels (0 or less: at its own size). A smaller picture is not
// enlarged. Pixels are averaged in linear light, by area; colors outside of
// sRGB are cut to its range. Transparency is kept.
func (p *Picture) Preview(longest int) *image.NRGBA {
	w, h := p.Width, p.Height
	if m := max(w, h); longest > 0 && m > longest {
		w, h = max(1, (w*longest+m/2)/m), max(1, (h*longest+m/2)/m)
	}
	lin := p.linearTables()
	out := image.NewNRGBA(image.Rect(0, 0, w, h))
	eachBand(h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			for x := range w {
				l, a := p.average(&lin, x*p.Width/w, y*p.Height/h, (x+1)*p.Width/w, (y+1)*p.Height/h)
				q := out.Pix[out.PixOffset(x, y):][:4]
				q[3] = uint8(math.Round(a * 255))
				if a == 0 {
					continue
				}
				if m := p.Space.m; m != nil {
					l = spectrum.XYZ(m.toXYZ.apply(l[0], l[1], l[2])).Linear()
				}
				for c, v := range l {
					q[c] = uint8(math.Round(spectrum.Encode(math.Max(0, math.Min(1, v))) * 255))
				}
			}
		}
	})
	return out
}

// Reduced returns a flattened picture in sRGB with no side longer than longest
// pixels, as Preview makes it. Transparent pixels stay so.
func (p *Picture) Reduced(longest int) *Picture {
	m := p.Preview(longest)
	out := &Picture{Width: m.Rect.Dx(), Height: m.Rect.Dy(), PPI: p.PPI}
	out.Pix = make([]uint8, 3*out.Width*out.Height)
	if p.Alpha != nil {
		out.Alpha = make([]uint8, out.Width*out.Height)
	}
	for i := range out.Width * out.Height {
		copy(out.Pix[3*i:3*i+3], m.Pix[4*i:4*i+3])
		if out.Alpha != nil {
			out.Alpha[i] = 255
			if m.Pix[4*i+3] == 0 {
				out.Alpha[i] = 0
			}
		}
	}
	return out
}

// linearTables returns each channel's linear light for each value it can have.
func (p *Picture) linearTables() (t [3][]float64) {
	n := 256
	if p.Pix16 != nil {
		n = 65536
	}
	for c := range t {
		t[c] = make([]float64, n)
		var k curve = srgbCurve{}
		if p.Space.m != nil {
			k = p.Space.m.curves[c]
		}
		for i := range t[c] {
			t[c][i] = k.decode(float64(i) / float64(n-1))
		}
	}
	return t
}

// average returns the mean linear color, weighted by opacity, and the mean
// opacity of the pixels from x0, y0 up to x1, y1.
func (p *Picture) average(lin *[3][]float64, x0, y0, x1, y1 int) (sum [3]float64, opacity float64) {
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			i := y*p.Width + x
			a := 1.0
			if p.Alpha != nil {
				a = float64(p.Alpha[i]) / 255
			} else if p.Alpha16 != nil {
				a = float64(p.Alpha16[i]) / 65535
			}
			opacity += a
			if p.Pix16 != nil {
				for c, v := range p.Pix16[3*i : 3*i+3] {
					sum[c] += a * lin[c][v]
				}
			} else {
				for c, v := range p.Pix[3*i : 3*i+3] {
					sum[c] += a * lin[c][v]
				}
			}
		}
	}
	if opacity > 0 {
		for c := range sum {
			sum[c] /= opacity
		}
	}
	return sum, opacity / float64((x1-x0)*(y1-y0))
}
