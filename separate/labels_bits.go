package separate

// FilmRow sets dst[0:w] to the labels of row y of a film of w × h pixels.
func (l *Labels) FilmRow(dst []uint16, y, w, h int) {
	p := l.planFor(w, h)
	r := l.rower()
	defer l.scratch.Put(r)
	r.spread(p, y, nil)
	x := int32(0)
	for _, s := range r.runs {
		fill := dst[x:s.end]
		for i := range fill {
			fill[i] = s.label
		}
		x = s.end
	}
	r.overlay(p, y, func(x0, x1 int32, label uint16) {
		for x := x0; x < x1; x++ {
			dst[x] = label
		}
	})
}

// LabelBits is one ink's plate as a one-bit picture, where every label has
// all or nothing of the ink. It is safe for concurrent use.
type LabelBits struct {
	l    *Labels
	plan *filmPlan
	on   []uint8
}

// Bits returns the plate of an ink at w × h pixels. A label counts as inked
// when it has half of full coverage or more.
func (l *Labels) Bits(ink, w, h int) *LabelBits {
	b := &LabelBits{l: l, plan: l.planFor(w, h), on: make([]uint8, len(l.Cov))}
	for i, c := range l.Cov {
		if c[ink] >= 0x8000 {
			b.on[i] = 1
		}
	}
	return b
}

// Size returns the picture's size in pixels.
func (b *LabelBits) Size() (w, h int) { return b.plan.w, b.plan.h }

// Rows sets rows y0 … y1−1, the first at dst[0], each stride bytes after the
// one before. A pixel is a bit, the first of a byte the highest; 1 is ink.
// Bits behind the last pixel of a row are 0.
func (b *LabelBits) Rows(dst []byte, stride, y0, y1 int) {
	r := b.l.rower()
	defer b.l.scratch.Put(r)
	for y := y0; y < y1; y++ {
		row := dst[(y-y0)*stride:][:stride]
		clear(row)
		r.spread(b.plan, y, b.on)
		x := int32(0)
		for _, s := range r.runs {
			if b.on[s.label] != 0 {
				setBits(row, int(x), int(s.end))
			}
			x = s.end
		}
		r.overlay(b.plan, y, func(x0, x1 int32, label uint16) {
			if b.on[label] != 0 {
				setBits(row, int(x0), int(x1))
			} else {
				clearBits(row, int(x0), int(x1))
			}
		})
	}
}

// setBits sets bits x0 … x1−1 of a row.
func setBits(row []byte, x0, x1 int) {
	if x0 >= x1 {
		return
	}
	i, j := x0>>3, x1>>3
	first, last := byte(0xff)>>(x0&7), ^(byte(0xff) >> (x1 & 7))
	if i == j {
		row[i] |= first & last
		return
	}
	row[i] |= first
	full := row[i+1 : j]
	for k := range full {
		full[k] = 0xff
	}
	if last != 0 {
		row[j] |= last
	}
}

// clearBits clears bits x0 … x1−1 of a row.
func clearBits(row []byte, x0, x1 int) {
	for x := x0; x < x1; x++ {
		row[x>>3] &^= 0x80 >> (x & 7)
	}
}

// LabelTone is one ink's plate as coverage at film resolution. It is safe for
// concurrent use.
type LabelTone struct {
	l    *Labels
	plan *filmPlan
	ink  int
}

// Tone returns the plate of an ink at w × h pixels.
func (l *Labels) Tone(ink, w, h int) *LabelTone {
	return &LabelTone{l: l, plan: l.planFor(w, h), ink: ink}
}

// Size returns the picture's size in pixels.
func (t *LabelTone) Size() (w, h int) { return t.plan.w, t.plan.h }

// Row sets dst to the coverage 0 … 65535 of row y.
func (t *LabelTone) Row(dst []uint16, y int) {
	r := t.l.rower()
	defer t.l.scratch.Put(r)
	r.spread(t.plan, y, nil)
	set := func(x0, x1 int32, label uint16) {
		c := t.l.Cov[label][t.ink]
		fill := dst[x0:x1]
		for i := range fill {
			fill[i] = c
		}
	}
	x := int32(0)
	for _, s := range r.runs {
		set(x, s.end, s.label)
		x = s.end
	}
	r.overlay(t.plan, y, set)
}
