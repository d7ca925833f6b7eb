package film

import (
	"math"

	"platewright/halftone"
)

// resized is a plate enlarged or reduced to w × h pixels, a [halftone.Tone].
type resized struct {
	src  halftone.Tone
	w, h int
	cols []window
}

// window is the source pixels, from one on, that make a pixel, and their weights,
// which sum to 1.
type window struct {
	from    int
	weights []float64
}

func newResized(src halftone.Tone, w, h int) *resized {
	r := &resized{src, w, h, make([]window, w)}
	n, _ := src.Size()
	for x := range r.cols {
		r.cols[x] = newWindow(x, n, w)
	}
	return r
}

// Size implements [halftone.Tone].
func (r *resized) Size() (w, h int) { return r.w, r.h }

// Row implements [halftone.Tone]: enlarged, coverage goes straight from one pixel's
// center to the next; reduced, it is the mean under a pixel.
func (r *resized) Row(dst []uint16, y int) {
	sw, sh := r.src.Size()
	row, sum := make([]uint16, sw), make([]float64, sw)
	rows := newWindow(y, sh, r.h)
	for k, weight := range rows.weights {
		r.src.Row(row, rows.from+k)
		for x, c := range row {
			sum[x] += float64(weight * float64(c))
		}
	}
	for x, col := range r.cols {
		v := 0.0
		for k, weight := range col.weights {
			v += float64(weight * sum[col.from+k])
		}
		dst[x] = uint16(math.Floor(v + .5))
	}
}

// newWindow is pixel i of m over n source pixels.
func newWindow(i, n, m int) window {
	scale := float64(n) / float64(m)
	if scale <= 1 {
		at := math.Max(0, math.Min(float64(n-1), float64((float64(i)+.5)*scale)-.5))
		from := int(at)
		if f := at - float64(from); f > 0 {
			return window{from, []float64{1 - f, f}}
		}
		return window{from, []float64{1}}
	}
	a, b := float64(float64(i)*scale), math.Min(float64(n), float64(float64(i+1)*scale))
	c := window{from: int(a)}
	for k := math.Floor(a); k < b; k++ {
		c.weights = append(c.weights, (math.Min(b, k+1)-math.Max(a, k))/(b-a))
	}
	return c
}
