package halftone

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"platewright/halftone/internal/noise"
)

// tile is a torus of side × side pixels with smallest dots and smallest holes
// on it, which becomes thresholds.
type tile struct {
	side        int
	unit        int // of places, in a pixel
	dots, holes []disk
	seed        []int32 // per pixel: 0; a dot's number from 1 on; or a hole's, negative
}

// disk is a smallest dot or hole.
type disk struct{ x, y int }

// newTile puts disks of the given numbers of pixels on a tile.
func newTile(side int, seeds noise.Seeds, dot, hole int) *tile {
	t := &tile{side: side, unit: seeds.Side, seed: make([]int32, side*side)}
	t.dots, t.holes = t.place(seeds.Dots, dot, 1), t.place(seeds.Holes, hole, -1)
	return t
}

func (t *tile) place(points []int, n int, sign int32) []disk {
	type offset struct{ d, x, y int }
	reach := int(math.Sqrt(float64(n)/math.Pi)) + 2
	var near []offset
	unit := t.unit
	disks := make([]disk, len(points))
	for k, p := range points {
		c := disk{(2*(p%unit) + 1) * t.side / 2, (2*(p/unit) + 1) * t.side / 2}
		disks[k] = c
		near = near[:0]
		for y := c.y/unit - reach; y <= c.y/unit+reach; y++ {
			for x := c.x/unit - reach; x <= c.x/unit+reach; x++ {
				near = append(near, offset{square(x*unit+unit/2-c.x) + square(y*unit+unit/2-c.y), x, y})
			}
		}
		slices.SortFunc(near, func(a, b offset) int {
			return cmp.Or(cmp.Compare(a.d, b.d), cmp.Compare(a.y, b.y), cmp.Compare(a.x, b.x))
		})
		for _, o := range near[:n] {
			t.seed[(o.y+t.side)%t.side*t.side+(o.x+t.side)%t.side] = sign * int32(k+1)
		}
	}
	return disks
}

func square(x int) int { return x * x }

// nearest returns for each pixel the number of the nearest disk and its
// squared distance.
func (t *tile) nearest(disks []disk) (number []int32, d2 []int) {
	number, d2 = make([]int32, t.side*t.side), make([]int, t.side*t.side)
	unit := t.unit
	reach := int(1.5*float64(t.side)/math.Sqrt(float64(len(disks)))) + 1
	for far := true; far; reach *= 2 {
		for i := range d2 {
			d2[i] = square((reach + 1) * unit)
		}
		for k, c := range disks {
			for y := c.y/unit - reach; y <= c.y/unit+reach; y++ {
				row := (y + 2*t.side) % t.side * t.side
				dy2 := square(y*unit + unit/2 - c.y)
				for x := c.x/unit - reach; x <= c.x/unit+reach; x++ {
					i := row + x
					if x < 0 {
						i += t.side
					} else if x >= t.side {
						i -= t.side
					}
					if d := square(x*unit+unit/2-c.x) + dy2; d < d2[i] {
						number[i], d2[i] = int32(k), d
					}
				}
			}
		}
		far = slices.Max(d2) > square(reach*unit)
	}
	return number, d2
}

// order returns the pixels outside the disks in the order in which they turn
// on. Half of the pixels around each dot, those more its own than a hole's,
// come first, from its center outward, in equal shares of all dots at any
// time; then the rest fills the holes from outside, in equal shares of all
// holes. So every place is halfway at once, and no window of film is ahead.
func (t *tile) order() []int32 {
	dot, toDot := t.nearest(t.dots)
	hole, toHole := t.nearest(t.holes)
	var all []growing
	for i, s := range t.seed {
		if s == 0 {
			all = append(all, growing{at: int32(i), disk: dot[i], key: toDot[i] - toHole[i]})
		}
	}
	var early, late []growing
	inTurn(all, len(t.dots))
	for _, p := range all {
		if p.share < wholeShare/2 {
			p.key = toDot[p.at]
			early = append(early, p)
		} else {
			p.disk, p.key = hole[p.at], toHole[p.at]
			late = append(late, p)
		}
	}
	inTurn(early, len(t.dots))
	inTurn(late, len(t.holes))
	order := make([]int32, 0, len(all))
	for _, p := range early {
		order = append(order, p.at)
	}
	for _, p := range slices.Backward(late) {
		order = append(order, p.at)
	}
	order = t.flood(order, 1)
	slices.Reverse(order)
	order = t.flood(order, -1)
	slices.Reverse(order)
	return order
}

// growing is a pixel of a disk that grows.
type growing struct {
	at, disk int32
	key      int   // when, among those of the disk
	share    int64 // when in all, 0 … wholeShare-1: the part of the disk's pixels before it
}

const wholeShare = 1 << 30

// inTurn sets the pixels' shares, each disk a little later than the one before it,
// and sorts by them. The lists of disks are spread evenly from the first on, so
// the turns are too.
func inTurn(all []growing, disks int) {
	slices.SortFunc(all, func(p, q growing) int {
		if p.disk != q.disk {
			return int(p.disk - q.disk)
		}
		if p.key != q.key {
			return p.key - q.key
		}
		return int(p.at - q.at)
	})
	for rest := all; len(rest) > 0; {
		n := 1
		for n < len(rest) && rest[n].disk == rest[0].disk {
			n++
		}
		for k := range rest[:n] {
			rest[k].share = (int64(k*disks) + int64(rest[k].disk)) * wholeShare / int64(n*disks)
		}
		rest = rest[n:]
	}
	slices.SortFunc(all, func(p, q growing) int {
		if p.share != q.share {
			return int(p.share - q.share)
		}
		return int(p.disk - q.disk)
	})
}

// flood returns the pixels in an order close to the given one, but in which
// each has a neighbor before it: it starts from the dots (sign 1) or holes
// (−1) and always takes the earliest pixel within reach (R. Barnes, C. Lehman,
// D. Mulla, "Priority-flood", Computers & Geosciences 62, 2014). Then no dot
// appears anywhere but on a smallest dot.
func (t *tile) flood(order []int32, sign int32) []int32 {
	rank := make([]int32, len(t.seed))
	for r, i := range order {
		rank[i] = int32(r)
	}
	reach := newIntSet(len(order))
	queued := make([]bool, len(t.seed))
	visit := func(i int) {
		x, y, n := i%t.side, i/t.side, t.side
		for _, j := range [4]int{y*n + (x+1)%n, y*n + (x+n-1)%n, (y+1)%n*n + x, (y+n-1)%n*n + x} {
			if t.seed[j] == 0 && !queued[j] {
				queued[j] = true
				reach.add(int(rank[j]))
			}
		}
	}
	for i, s := range t.seed {
		if s*sign > 0 {
			visit(i)
		}
	}
	out := make([]int32, 0, len(order))
	for r := reach.takeLeast(); r >= 0; r = reach.takeLeast() {
		out = append(out, order[r])
		visit(int(order[r]))
	}
	return out
}

// intSet is a set of numbers below a limit. Bit i of level 0 is number i; bit
// i of each further level says that word i of the level below has a bit.
type intSet [][]uint64

func newIntSet(limit int) intSet {
	var s intSet
	for n := max(limit, 1); ; {
		n = (n + 63) / 64
		s = append(s, make([]uint64, n))
		if n == 1 {
			return s
		}
	}
}

func (s intSet) add(i int) {
	for _, level := range s {
		level[i/64] |= 1 << (i % 64)
		i /= 64
	}
}

// takeLeast removes and returns the least number, −1 if there is none.
func (s intSet) takeLeast() int {
	if s[len(s)-1][0] == 0 {
		return -1
	}
	i := 0
	for l := len(s) - 1; l >= 0; l-- {
		i = i*64 + bits.TrailingZeros64(s[l][i])
	}
	for j, l := i, 0; l < len(s); l++ {
		s[l][j/64] &^= 1 << (j % 64)
		if s[l][j/64] != 0 {
			break
		}
		j /= 64
	}
	return i
}

// thresholds ranks the pixels: the dots one by one, each at once; the pixels
// between; then the holes, the last one first.
func (t *tile) thresholds() []uint16 {
	m := int64(len(t.seed))
	thr := make([]uint16, m)
	dot, hole := int64(0), int64(0) // pixels of one
	for _, s := range t.seed {
		switch s {
		case 1:
			dot++
		case -1:
			hole++
		}
	}
	for i, s := range t.seed {
		if k := int64(s); k > 0 {
			thr[i] = threshold((2*k-1)*dot, m)
		} else if k < 0 {
			thr[i] = threshold(2*m-(-2*k-1)*hole, m)
		}
	}
	for r, i := range t.order() {
		thr[i] = threshold(2*(int64(len(t.dots))*dot+int64(r))+1, m)
	}
	return thr
}
