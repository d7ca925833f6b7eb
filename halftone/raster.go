package halftone

import (
	"fmt"
	"sync"
)

// Options of a raster. The zero value screens coverage as it is.
type Options struct {
	// Compensate turns wanted coverage into film coverage before the screen;
	// nil leaves it. Edges of solids are cut at half of the wanted coverage.
	Compensate *Table
}

// Raster is a picture of coverage enlarged (or reduced) to film pixels and
// screened. It implements [Bits].
//
// Coverage between the centers of the picture's pixels is interpolated
// linearly; a film coarser than the picture gets the mean of the area.
// Pixels on the edge between solid and nothing, up to three wide, and lines
// down to about a pixel of solid are not screened but cut at half, at their
// place within the pixel. A rim of tint beside a solid is screened if it is 2.5
// pixels wide, or two whole ones along rows or columns: a narrower one cannot be
// told from an edge.
//
// The picture must not change while the raster is in use: rows are kept for
// the next call.
type Raster struct {
	src      Tone
	sw, sh   int // size of src
	w, h     int
	screen   *Screen
	table    *Table
	lineFilm bool
	edge     []uint16 // see straighten
	words    []filmWord
	cols     []uint32 // per film column: source column relative to its word << 16 | fraction, 15 bits
	pool     sync.Pool
}

// filmWord is the range of source columns that 64 film pixels look at.
type filmWord struct{ lo, hi int32 }

// fracBits is the precision of a place between two source pixels.
const fracBits = 15

// NewRaster lays src over w × h film pixels and through the screen.
func NewRaster(src Tone, w, h int, screen *Screen, opt Options) (*Raster, error) {
	sw, sh := src.Size()
	if sw <= 0 || sh <= 0 {
		return nil, fmt.Errorf("halftone: plate of %d × %d pixels: give a plate with pixels", sw, sh)
	}
	if p, ok := src.(*Plate); ok && len(p.Cov) != sw*sh {
		return nil, fmt.Errorf("halftone: plate of %d × %d pixels has %d coverages: give width × height of them", sw, sh, len(p.Cov))
	}
	if w <= 0 || h <= 0 {
		return nil, fmt.Errorf("halftone: film of %d × %d pixels: give a positive size", w, h)
	}
	if screen == nil {
		return nil, fmt.Errorf("halftone: no screen: make one with NewScreen")
	}
	if sw > w || sh > h {
		src = reduce(src, min(sw, w), min(sh, h))
		sw, sh = src.Size()
	}
	r := &Raster{src: src, sw: sw, sh: sh, w: w, h: h, screen: screen, table: opt.Compensate,
		lineFilm: screen.spec.Dot == None, edge: straighten()}
	r.words = make([]filmWord, (w+wordPixels-1)/wordPixels)
	r.cols = make([]uint32, len(r.words)*wordPixels)
	for k := range r.words {
		lo, _ := place(k*wordPixels, w, sw)
		for i := range wordPixels {
			at, frac := place(min(k*wordPixels+i, w-1), w, sw)
			r.cols[k*wordPixels+i] = uint32(at-lo)<<16 | uint32(frac)
			r.words[k] = filmWord{int32(lo), int32(min(at+1, sw-1))}
		}
	}
	r.pool.New = func() any { return newStrip(r) }
	return r, nil
}

// place returns the source pixel at or before the center of film pixel x of n,
// and how far the center lies towards the next one, in 1/2¹⁵.
func place(x, n, source int) (at, frac int) {
	num, den := (2*x+1)*source-n, 2*n
	if num <= 0 {
		return 0, 0
	}
	at = num / den
	if at >= source-1 {
		return source - 1, 0
	}
	return at, (num - at*den) << fracBits / den
}

// Size returns the film's width and height in pixels.
func (r *Raster) Size() (w, h int) { return r.w, r.h }

// Rows implements [Bits]. It is fastest for many rows at once, or for row after
// row.
func (r *Raster) Rows(dst []byte, stride, y0, y1 int) {
	s := r.pool.Get().(*strip)
	defer r.pool.Put(s)
	bytes := (r.w + 7) / 8
	for y := y0; y < y1; y++ {
		r.row(s, dst[(y-y0)*stride:][:bytes], y)
	}
}

func (r *Raster) row(s *strip, dst []byte, y int) {
	sy, frac := place(y, r.h, r.sh)
	pair := s.pair(sy)
	up, down := s.at(sy), s.at(sy+1)
	near := up
	if frac >= 1<<(fracBits-1) {
		near = down
	}
	thr, at := r.screen.row(y)
	f := int32(frac)
	var v interpolated
	last := len(r.words) - 1
	for k, kind := range pair {
		var word uint64
		fw := r.words[k]
		lo, n := int(fw.lo), int(fw.hi-fw.lo)+1
		cols := (*[wordPixels]uint32)(r.cols[k*wordPixels:])
		t := (*[wordPixels]uint16)(thr[at:])
		switch kind {
		case allNone:
		case allSolid:
			word = ^uint64(0)
		case allSame:
			word = compareOne(up.tone[lo], t)
		default:
			if kind != allCut {
				v.between(up.tone[lo:lo+n], down.tone[lo:lo+n], f)
				word = v.screen(cols, t)
			}
			if kind >= someCut {
				thin := near.thin.expand(lo, cols)
				cut := ^thin
				if kind == someCut {
					cut = near.cut.expand(lo, cols)
				}
				if cut != 0 {
					v.betweenEdges(up.raw[lo:lo+n], down.raw[lo:lo+n], f, r.edge)
					word = word&^cut | v.cut(cols, half)&cut
				}
				if thin != 0 {
					gap := near.gap.expand(lo, cols)
					line := cutThin(up.raw[lo:lo+n], down.raw[lo:lo+n], f, cols, 0)
					if gap != 0 {
						line = line&^gap | ^cutThin(up.raw[lo:lo+n], down.raw[lo:lo+n], f, cols, Full)&gap
					}
					word = word&^thin | line&thin
				}
			}
		}
		if at += wordPixels; at >= r.screen.w {
			at -= r.screen.w
		}
		if k < last {
			putWord(dst[k*8:], word)
		} else {
			used := r.w - k*wordPixels
			putBytes(dst[k*8:], word&(^uint64(0)<<(wordPixels-used)))
		}
	}
}

// interpolated holds the coverage of a row of up to wordPixels + 2 source
// pixels at one height between two rows: the value and the step to the next.
type interpolated [128]struct{ at, step int32 }

func (v *interpolated) between(up, down []uint16, f int32) {
	down = down[:len(up)]
	before := &v[127]
	for i := range up {
		u := int32(up[i])
		c := u + (int32(down[i])-u)*f>>fracBits
		before.step = c - before.at
		before = &v[i&127]
		before.at = c
	}
	before.step = 0
}

// betweenEdges is between for straightened coverage.
func (v *interpolated) betweenEdges(up, down []uint16, f int32, edge []uint16) {
	down = down[:len(up)]
	e := (*[edgeSteps + 1]uint16)(edge)
	before := &v[127]
	for i := range up {
		u := int32(e[up[i]>>edgeShift])
		c := u + (int32(e[down[i]>>edgeShift])-u)*f>>fracBits
		before.step = c - before.at
		before = &v[i&127]
		before.at = c
	}
	before.step = 0
}

// screen compares the coverage at 64 film columns with 64 thresholds.
func (v *interpolated) screen(cols *[wordPixels]uint32, thr *[wordPixels]uint16) (word uint64) {
	for i := 0; i < wordPixels; i += 8 {
		var b uint32
		c, t := (*[8]uint32)(cols[i:]), (*[8]uint16)(thr[i:])
		for j := range 8 {
			p := &v[c[j]>>16&127]
			b = b<<1 | uint32(int32(t[j])-(p.at+p.step*int32(c[j]&0xffff)>>fracBits))>>31
		}
		word = word<<8 | uint64(b)
	}
	return word
}

// cut compares the coverage at 64 film columns with one level.
func (v *interpolated) cut(cols *[wordPixels]uint32, level int32) (word uint64) {
	for _, c := range cols {
		p := &v[c>>16&127]
		word = word<<1 | uint64(uint32(level-(p.at+p.step*int32(c&0xffff)>>fracBits))>>31)
	}
	return word
}

// half is where edges are cut.
const half = Full / 2

// thinLine is where lines thinner than two pixels are cut, and gaps as far
// above half. A line a pixel wide whose coverage falls evenly on two pixels
// only just reaches half; cut here it keeps its width within a sixth.
const thinLine = Full * 46 / 100

// cutThin cuts a thin line out of the coverage of two source rows, at the
// height f between them. Between four pixels it interpolates over two
// triangles rather than bilinearly, joined along the diagonal of more
// coverage: a slanted line's own. flip = Full cuts gaps as if they were lines.
func cutThin(up, down []uint16, f int32, cols *[wordPixels]uint32, flip int32) (word uint64) {
	for _, c := range cols {
		i, g := int(c>>16), int32(c&0xffff)
		j := min(i+1, len(up)-1)
		tl, tr, bl, br := flip^int32(up[i]), flip^int32(up[j]), flip^int32(down[i]), flip^int32(down[j])
		var v int32
		switch {
		case tl+br >= tr+bl && g >= f:
			v = tl + (tr-tl)*g>>fracBits + (br-tr)*f>>fracBits
		case tl+br >= tr+bl:
			v = tl + (bl-tl)*f>>fracBits + (br-bl)*g>>fracBits
		case f+g <= 1<<fracBits:
			v = tl + (tr-tl)*g>>fracBits + (bl-tl)*f>>fracBits
		default:
			g, f := 1<<fracBits-g, 1<<fracBits-f
			v = br + (bl-br)*g>>fracBits + (tr-br)*f>>fracBits
		}
		word = word<<1 | uint64(uint32(thinLine-v)>>31)
	}
	return word
}

const (
	edgeShift = 4
	edgeSteps = (Full + 1) >> edgeShift
)

// straighten returns what an anti-aliased edge pixel of coverage v has to be
// taken for so that linear interpolation crosses half where the edge runs: at
// the distance v from the pixel's solid side. From the crossing between u and
// the empty (u > ½) or solid neighbor: u = ½ / (3/2 − v), and the same mirrored
// below half.
func straighten() []uint16 {
	e := make([]uint16, edgeSteps+1)
	for i := range e {
		v := float64(i) / edgeSteps
		u := 0.5 / (1.5 - v)
		if v < 0.5 {
			u = 1 - 0.5/(0.5+v)
		}
		e[i] = uint16(u*Full + 0.5)
	}
	return e
}

// expand gives each of 64 film columns the bit of its nearest source column.
func (m mask) expand(lo int, cols *[wordPixels]uint32) (word uint64) {
	here, next := m.from(lo), m[(lo+64)>>6+1]>>(lo&63)&1
	if here|next == 0 {
		return 0
	}
	for _, c := range cols {
		x := c>>16 + c&0xffff>>(fracBits-1) // 0 … 64
		bit := here >> (x & 63)
		if x > 63 {
			bit = next
		}
		word = word<<1 | bit&1
	}
	return word
}
