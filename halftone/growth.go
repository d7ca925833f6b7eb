package halftone

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"platewright/halftone/internal/noise"
	"platewright/halftone/internal/voidcluster"
)

// growth is a pixel of the brick and when it turns on.
type growth struct {
	at      int32 // in the brick
	phase   int8  // see field
	extreme int8  // part of a smallest dot (−1) or hole (1)
	cell    int32 // of the dot, or of the hole in phase 2
	key     int64
	share   float64 // 0 … 1: when its cell reaches it
}

// smallest are the diameters in pixels, for lines the widths, of the smallest
// dot and hole; 0 for none.
type smallest struct{ dot, hole float64 }

// thresholds returns for each pixel of the brick, row by row, the threshold
// that coverage must exceed, 0 … Full−1, and the share of the film, 0 … 1,
// that the smallest dots take and that the smallest holes take.
func (s supercell) thresholds(d Dot, small smallest) (thr []uint16, dots, holes float64, err error) {
	pixels := s.byCell(s.pixels(d.field()))
	if d == Line {
		err = s.growLines(pixels, small)
	} else {
		err = s.growDots(pixels, d, small)
	}
	if err != nil {
		return nil, 0, 0, err
	}
	// In the order of phase, share and place, each in its bits of a number.
	order := make([]uint64, len(pixels))
	extreme := make([]int8, len(pixels))
	for i, p := range pixels {
		order[i] = uint64(p.phase)<<61 | uint64(p.share*(1<<40))<<atBits | uint64(p.at)
		extreme[p.at] = p.extreme
	}
	slices.Sort(order)

	// Smallest dots come first, all at once where half of their tone is
	// wanted; smallest holes close last.
	var low, high int64
	for _, p := range pixels {
		switch p.extreme {
		case -1:
			low++
		case 1:
			high++
		}
	}
	m := s.area()
	thr = make([]uint16, m)
	rank := low
	for _, o := range order {
		at := o & (1<<atBits - 1)
		switch extreme[at] {
		case -1:
			thr[at] = threshold(low, m)
		case 1:
			thr[at] = threshold(2*m-high, m)
		default:
			thr[at] = threshold(2*rank+1, m)
			rank++
		}
	}
	return thr, float64(low) / float64(m), float64(high) / float64(m), nil
}

// atBits are the bits of a place in the brick, of at most maxArea pixels.
const atBits = 21

// byCell sorts pixels by phase, cell, key and place.
func (s supercell) byCell(pixels []growth) []growth {
	cells := int(s.n * s.n)
	ends := make([]int, 3*cells) // of each phase and cell
	slot := func(p *growth) *int { return &ends[int(p.phase)*cells+int(p.cell)] }
	for i := range pixels {
		*slot(&pixels[i])++
	}
	sum := 0
	for i, n := range ends {
		ends[i] = sum
		sum += n
	}
	sorted := make([]growth, len(pixels))
	for i := range pixels {
		to := slot(&pixels[i])
		sorted[*to] = pixels[i]
		*to++
	}
	from := 0
	for _, to := range ends {
		slices.SortFunc(sorted[from:to], func(p, q growth) int {
			return cmp.Or(cmp.Compare(p.key, q.key), cmp.Compare(p.at, q.at))
		})
		from = to
	}
	return sorted
}

// pixels returns the brick's pixels, row by row, each in its cell.
func (s supercell) pixels(f field) []growth {
	b, m := s.brick(), s.area()
	pixels := make([]growth, 0, m)
	for y := int64(0); y < int64(b.h); y++ {
		for x := int64(0); x < int64(b.w); x++ {
			u, v := s.n*(x*s.a-y*s.b), s.n*(x*s.b+y*s.a) // in 1/m of a cell
			i, j := floorDiv(2*u+m, 2*m), floorDiv(2*v+m, 2*m)
			phase, key := f(2*(u-i*m), 2*(v-j*m), m)
			switch phase {
			case 1:
				i, j = 0, 0
			case 2:
				i, j = floorDiv(u, m), floorDiv(v, m)
			}
			cell := mod(j, s.n)*s.n + mod(i, s.n)
			pixels = append(pixels, growth{at: int32(len(pixels)), phase: int8(phase), cell: int32(cell), key: key})
		}
	}
	return pixels
}

// growDots sets the share and the extremes of pixels sorted by phase, cell and
// key. The cells take turns in growing by a pixel, in an order spread over the
// supercell: no two dots differ by more than a pixel in area, and no slow
// pattern shows.
func (s supercell) growDots(pixels []growth, d Dot, small smallest) error {
	turn := turns(int(s.n))
	dot, hole := minPixels(d, small.dot), minPixels(d, small.hole)
	for len(pixels) > 0 {
		n := 1
		for n < len(pixels) && pixels[n].phase == pixels[0].phase && pixels[n].cell == pixels[0].cell {
			n++
		}
		cell := pixels[:n]
		pixels = pixels[n:]
		phase, offset := cell[0].phase, float64(turn[cell[0].cell])/float64(len(turn))
		if need := max(dot, hole); phase != 1 && n < need {
			return fmt.Errorf("a smallest dot or hole of %d pixels does not fit a cell of %.4g", need, float64(s.area())/float64(s.n*s.n))
		}
		for k := range cell {
			p := &cell[k]
			p.share = (float64(k) + offset) / float64(n)
			if phase == 0 && k < dot {
				p.extreme = -1
			} else if phase == 2 && n-1-k < hole {
				p.extreme = 1
			}
		}
	}
	return nil
}

// turns returns an order of n × n cells that is spread over them.
func turns(n int) []int {
	if n <= 64 {
		return voidcluster.Ranks(n, n, voidcluster.Gaussian(voidcluster.Sigma))
	}
	// Cells of a few pixels: a ready order, repeated, does.
	ranks := noise.Ranks()
	order := make([]int, n*n)
	for i := range order {
		order[i] = int(ranks[i/n%noise.Side*noise.Side+i%n%noise.Side]) * n * n / len(ranks)
	}
	return order
}

// growLines does the same for lines, whose pixels are sorted by their distance
// from a line's middle, 0 … m.
func (s supercell) growLines(pixels []growth, small smallest) error {
	m := s.area()
	period := math.Sqrt(float64(m)) / float64(s.n)
	if small.dot+small.hole >= period {
		return fmt.Errorf("the thinnest line and gap together are wider than the ruling's %.3g pixels", period)
	}
	thinnest, thickest := int64(small.dot/period*float64(m)), m-int64(small.hole/period*float64(m))
	for i := range pixels {
		p := &pixels[i]
		p.share = float64(i) / float64(m)
		if small.dot > 0 && p.key <= thinnest {
			p.extreme = -1
		} else if small.hole > 0 && p.key >= thickest {
			p.extreme = 1
		}
	}
	return nil
}

// threshold returns what coverage must exceed so that it is at least half/2m.
func threshold(half, m int64) uint16 {
	t := (half*Full+2*m-1)/(2*m) - 1
	return uint16(min(max(t, 0), Full-1))
}

// minPixels returns the pixels of a dot of the given diameter, 0 for none. An
// ellipse's short axis is to be the diameter.
func minPixels(d Dot, diameter float64) int {
	area := math.Pi / 4 * diameter * diameter
	if d == Ellipse {
		area *= 5.0 / 4
	}
	if area <= 1 {
		return 0
	}
	return int(math.Ceil(area))
}
