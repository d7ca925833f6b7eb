package artwork

import "image/color"

// layout says how the samples of an uncompressed row lie.
type layout struct {
	bits     int // a sample: 1, 2, 4, 8 or 16
	samples  int // a pixel
	colors   colorKind
	palette  []color.NRGBA // not nil: the only sample is an index
	alpha    int           // which sample is the opacity; 0: none
	multiply bool          // colors are multiplied by the opacity
	invert   bool          // gray, 0 is white
	lowFirst bool          // 16-bit samples have the low byte first
	keyed    bool          // pixels of exactly the color key are transparent
	key      [3]uint16     // in samples of 8 bits for fewer, else as stored
}

func (l *layout) rowBytes(pixels int) int { return (pixels*l.samples*l.bits + 7) / 8 }

func (l *layout) transparent() bool {
	if l.alpha > 0 || l.keyed {
		return true
	}
	for _, c := range l.palette {
		if c.A != 255 {
			return true
		}
	}
	return false
}

// depth is the bits a channel of the picture that holds the samples.
func (l *layout) depth() int { return max(l.bits, 8) }

// rowWriter puts rows into a picture; each goroutine has its own.
type rowWriter struct {
	layout
	p    *Picture
	low  []uint8  // a row unpacked from fewer than 8 bits
	high []uint16 // a row of 16 bits
}

// put stores a row's first n pixels at x0, x0 + dx, … of row y.
func (w *rowWriter) put(row []byte, n, y, x0, dx int) error {
	p, i := w.p, y*w.p.Width+x0
	if w.bits == 16 {
		w.high = w.high[:0]
		for k := 0; k < 2*n*w.samples; k += 2 {
			a, b := row[k], row[k+1]
			if w.lowFirst {
				a, b = b, a
			}
			w.high = append(w.high, uint16(a)<<8|uint16(b))
		}
		spread(&w.layout, w.high, p.Pix16, p.Alpha16, i, dx, n)
		return nil
	}
	if w.bits < 8 {
		row = w.unpack(row, n*w.samples)
	}
	if w.palette != nil {
		return w.putIndexes(row[:n], i, dx)
	}
	if w.samples == 3 && dx == 1 && !w.keyed && w.colors == colorRGB {
		copy(p.Pix[3*i:], row[:3*n])
		return nil
	}
	spread(&w.layout, row, p.Pix, p.Alpha, i, dx, n)
	return nil
}

// unpack spreads n samples of fewer than 8 bits, high bits first: indexes as
// they are, all others scaled to 0 … 255.
func (w *rowWriter) unpack(row []byte, n int) []uint8 {
	w.low = w.low[:0]
	mask := byte(1)<<w.bits - 1
	scale := 255 / mask
	if w.palette != nil {
		scale = 1
	}
	shift := 8
	for len(w.low) < n {
		if shift == 0 {
			row, shift = row[1:], 8
		}
		shift -= w.bits
		w.low = append(w.low, row[0]>>shift&mask*scale)
	}
	return w.low
}

func (w *rowWriter) putIndexes(row []byte, i, dx int) error {
	pix, alpha := w.p.Pix, w.p.Alpha
	for _, v := range row {
		if int(v) >= len(w.palette) {
			return malformed("the file is damaged (a pixel outside the palette)")
		}
		c := &w.palette[v]
		d := pix[3*i:][:3]
		d[0], d[1], d[2] = c.R, c.G, c.B
		if alpha != nil {
			alpha[i] = c.A
		}
		i += dx
	}
	return nil
}

// spread stores n pixels of whole samples.
func spread[T uint8 | uint16](l *layout, s, pix, alpha []T, i, dx, n int) {
	full := ^T(0)
	key := [3]T{T(l.key[0]), T(l.key[1]), T(l.key[2])}
	for k := range n {
		q := s[k*l.samples:][:l.samples]
		d := pix[3*i:][:3]
		switch l.colors {
		case colorGray:
			v := q[0]
			if l.invert {
				v = full - v
			}
			d[0], d[1], d[2] = v, v, v
		case colorRGB:
			d[0], d[1], d[2] = q[0], q[1], q[2]
		case colorCMYK:
			light := uint64(full - q[3])
			for c := range 3 {
				d[c] = T((uint64(full-q[c])*light + uint64(full)/2) / uint64(full))
			}
		}
		switch {
		case l.alpha > 0:
			a := q[l.alpha]
			alpha[i] = a
			if l.multiply && a != full {
				for c, v := range d {
					d[c] = straight(v, a)
				}
			}
		case l.keyed:
			alpha[i] = full
			if d[0] == key[0] && d[1] == key[1] && d[2] == key[2] {
				alpha[i] = 0
			}
		}
		i += dx
	}
}

// straight undoes the multiplication of v by the opacity a; a transparent
// pixel has no color and becomes black.
func straight[T uint8 | uint16](v, a T) T {
	if a == 0 {
		return 0
	}
	full := uint64(^T(0))
	return T(min((uint64(v)*full+uint64(a)/2)/uint64(a), full))
}
