package halftone

import "sync"

// reduced is a Tone averaged over the area of fewer pixels: each of its pixels
// is the mean of what it covers of the source. One of the two sizes may stay.
type reduced struct {
	src  Tone
	w, h int
	cols []span // per column of the result
	pool sync.Pool
}

// span is the part of a row or column that one pixel of the result covers:
// from the first to the last source pixel, which count by a weight of 0 … one;
// those between count in full.
type span struct {
	first, last   int
	wFirst, wLast uint64
	whole         uint64 // sum of the weights
}

// one is the weight of a whole pixel.
const one = 1 << 12

type reduceBuffer struct {
	row []uint16
	sum []uint64
}

func reduce(src Tone, w, h int) *reduced {
	sw, _ := src.Size()
	r := &reduced{src: src, w: w, h: h, cols: make([]span, w)}
	for x := range r.cols {
		r.cols[x] = cover(x, w, sw)
	}
	r.pool.New = func() any { return &reduceBuffer{make([]uint16, sw), make([]uint64, sw)} }
	return r
}

// cover returns what pixel x of n covers of m ≥ n source pixels.
func cover(x, n, m int) span {
	lo, hi := x*m, (x+1)*m // in 1/n of a source pixel
	s := span{first: lo / n, last: (hi - 1) / n}
	s.wFirst = uint64(((s.first+1)*n - lo) * one / n)
	s.wLast = uint64((hi - s.last*n) * one / n)
	if s.first == s.last {
		s.wFirst, s.wLast = one, 0
		s.whole = one
		return s
	}
	s.whole = s.wFirst + s.wLast + uint64(s.last-s.first-1)*one
	return s
}

func (r *reduced) Size() (w, h int) { return r.w, r.h }

func (r *reduced) Row(dst []uint16, y int) {
	b := r.pool.Get().(*reduceBuffer)
	defer r.pool.Put(b)
	_, sh := r.src.Size()
	rows := cover(y, r.h, sh)
	clear(b.sum)
	for sy := rows.first; sy <= rows.last; sy++ {
		weight := uint64(one)
		switch sy {
		case rows.first:
			weight = rows.wFirst
		case rows.last:
			weight = rows.wLast
		}
		r.src.Row(b.row, sy)
		for x, c := range b.row {
			b.sum[x] += uint64(c) * weight
		}
	}
	for x := range dst[:r.w] {
		c := &r.cols[x]
		sum := b.sum[c.first] * c.wFirst
		for sx := c.first + 1; sx < c.last; sx++ {
			sum += b.sum[sx] * one
		}
		sum += b.sum[c.last] * c.wLast
		whole := rows.whole * c.whole
		dst[x] = uint16((sum + whole/2) / whole)
	}
}
