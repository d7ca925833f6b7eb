package halftone

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"platewright/halftone/internal/voidcluster"
)

// supercell is N × N cells over a², b² whole pixels; see the package comment.
// Its side along the angle is (a, −b) in pixels with y downward.
type supercell struct {
	a, b, n int64
}

// Limits of the search. The errors are a fifth of what a film may be off
// (ruling 0.5 %, angle 0.05°), so that a measurement has room. At least 2¹⁴
// pixels make a step of tone at most 0.006 %; at most 2¹⁹ keep the thresholds
// within 1 MB.
const (
	minArea   = 1 << 14
	maxArea   = 1 << 19
	maxCells  = 64 // a side
	aimRuling = 0.001
	aimAngle  = 0.01
	offRuling = 0.005
	offAngle  = 0.05
)

func (s supercell) area() int64 { return s.a*s.a + s.b*s.b }

// ruling in lines per pixel.
func (s supercell) ruling() float64 { return float64(s.n) / math.Hypot(float64(s.a), float64(s.b)) }

// angle in degrees, −180 … 180, counterclockwise.
func (s supercell) angle() float64 {
	return math.Atan2(float64(s.b), float64(s.a)) * 180 / math.Pi
}

// findSupercell searches the smallest supercell whose ruling (lines per pixel)
// and angle (degrees) are close enough.
func findSupercell(ruling, angle float64) (supercell, error) {
	var best supercell
	bestErr := math.Inf(1)
	sin, cos := math.Sincos(angle * math.Pi / 180)
	for n := 1; n <= maxCells; n++ {
		side := float64(n) / ruling
		fa, fb := math.Floor(side*cos), math.Floor(side*sin)
		for _, c := range []supercell{
			{int64(fa), int64(fb), int64(n)}, {int64(fa) + 1, int64(fb), int64(n)},
			{int64(fa), int64(fb) + 1, int64(n)}, {int64(fa) + 1, int64(fb) + 1, int64(n)},
		} {
			if m := c.area(); m < minArea || m > maxArea {
				continue
			}
			dr := math.Abs(c.ruling()/ruling - 1)
			da := math.Abs(math.Remainder(c.angle()-angle, 180))
			if e := max(dr/aimRuling, da/aimAngle); e < bestErr {
				best, bestErr = c, e
			}
		}
		if bestErr <= 1 {
			break
		}
	}
	dr := math.Abs(best.ruling()/ruling - 1)
	da := math.Abs(math.Remainder(best.angle()-angle, 180))
	if best.n == 0 || dr > offRuling || da > offAngle {
		return best, fmt.Errorf("no supercell of at most %d pixels has it", maxArea)
	}
	return best, nil
}

// brick is how the supercell is stored: h rows of w pixels that repeat along
// x, each next brick below shifted right by shift.
type brick struct{ w, h, shift int }

func (s supercell) brick() brick {
	g, p, q := gcd(-s.b, s.a) // p·(−b) + q·a = g
	w := s.area() / g
	shift := (p*s.a + q*s.b) % w
	if shift < 0 {
		shift += w
	}
	return brick{int(w), int(g), int(shift)}
}

// gcd returns g = gcd(x, y) > 0 and p, q with p·x + q·y = g.
func gcd(x, y int64) (g, p, q int64) {
	p0, q0, p1, q1 := int64(1), int64(0), int64(0), int64(1)
	for y != 0 {
		d := x / y
		x, y = y, x-d*y
		p0, p1 = p1, p0-d*p1
		q0, q1 = q1, q0-d*q1
	}
	if x < 0 {
		return -x, -p0, -q0
	}
	return x, p0, q0
}

// smallest says how many pixels, or how much of a line's half width, the
// smallest dot and hole take.
type smallest struct {
	dot, hole float64 // diameter or line width in pixels; 0: no minimum
}

// thresholds returns for each pixel of the brick, row by row, the threshold
// that coverage must exceed, 0 … Full−1, and the share of coverage that the
// smallest dots and the smallest holes take.
func (s supercell) thresholds(d Dot, small smallest) (thr []uint16, dots, holes float64, err error) {
	type pixel struct {
		at      int32 // in the brick
		phase   int8
		cell    int32 // of the dot, or the hole in phase 2
		key     int64
		growth  float64 // 0 … 1 within its cell
		tie     int32
		extreme bool // part of a smallest dot or hole
	}
	b, m, f := s.brick(), s.area(), d.field()
	pixels := make([]pixel, 0, m)
	for y := int64(0); y < int64(b.h); y++ {
		for x := int64(0); x < int64(b.w); x++ {
			u, v := s.n*(x*s.a-y*s.b), s.n*(x*s.b+y*s.a)
			i, j := floorDiv(2*u+m, 2*m), floorDiv(2*v+m, 2*m)
			phase, key := f(2*(u-i*m), 2*(v-j*m), m)
			if phase == 2 {
				i, j = floorDiv(u, m), floorDiv(v, m)
			}
			cell := mod(j, s.n)*s.n + mod(i, s.n)
			pixels = append(pixels, pixel{at: int32(len(pixels)), phase: int8(phase), cell: int32(cell), key: key})
		}
	}

	// The cells take turns in growing by a pixel, in an order that is spread
	// over the supercell, so that no two dots differ by more than a pixel in
	// area and no slow pattern shows.
	turn := voidcluster.Ranks(int(s.n), int(s.n), voidcluster.Sigma)
	for i := range pixels {
		pixels[i].tie = int32(turn[pixels[i].cell])
	}
	slices.SortStableFunc(pixels, func(p, q pixel) int {
		if c := cmp.Compare(p.phase, q.phase); c != 0 {
			return c
		}
		if p.phase != 1 {
			if c := cmp.Compare(p.cell, q.cell); c != 0 {
				return c
			}
			return cmp.Compare(p.key, q.key)
		}
		if c := cmp.Compare(p.key, q.key); c != 0 {
			return c
		}
		return cmp.Compare(p.tie, q.tie)
	})

	cellPixels := float64(m) / float64(s.n*s.n)
	if d == Line {
		period := math.Sqrt(cellPixels)
		for i := range pixels {
			k := float64(pixels[i].key) / float64(m) // 0 … 1 from the line's middle to the gap's
			pixels[i].extreme = small.dot > 0 && k*period <= small.dot || small.hole > 0 && (1-k)*period < small.hole
			pixels[i].growth = float64(i) / float64(len(pixels))
		}
		if small.dot+small.hole >= period {
			return nil, 0, 0, fmt.Errorf("the thinnest line and gap together are wider than the ruling's period of %.3g pixels", period)
		}
	} else {
		nd, nh := minPixels(d, small.dot), minPixels(d, small.hole)
		for lo := 0; lo < len(pixels); {
			hi := lo + 1
			for hi < len(pixels) && pixels[hi].phase == pixels[lo].phase && (pixels[lo].phase == 1 || pixels[hi].cell == pixels[lo].cell) {
				hi++
			}
			run := pixels[lo:hi]
			for k := range run {
				p := &run[k]
				p.growth = (float64(k) + float64(p.tie)/float64(len(turn))) / float64(len(run))
				p.extreme = p.phase == 0 && k < nd || p.phase == 2 && len(run)-1-k < nh
			}
			if ph := run[0].phase; ph == 0 && len(run) < nd || ph == 2 && len(run) < nh {
				return nil, 0, 0, fmt.Errorf("the smallest dot or hole of %d pixels does not fit a cell of %.3g", max(nd, nh), cellPixels)
			}
			lo = hi
		}
		slices.SortStableFunc(pixels, func(p, q pixel) int {
			if c := cmp.Compare(p.phase, q.phase); c != 0 {
				return c
			}
			return cmp.Compare(p.growth, q.growth)
		})
	}

	// Smallest dots come first, all at once where half of their tone is
	// wanted; smallest holes last.
	var low, high int64
	for _, p := range pixels {
		if p.extreme && p.growth < 0.5 && p.phase < 2 {
			low++
		} else if p.extreme {
			high++
		}
	}
	thr = make([]uint16, m)
	rank := low
	for _, p := range pixels {
		switch {
		case p.extreme && p.growth < 0.5 && p.phase < 2:
			thr[p.at] = threshold(low, m)
		case p.extreme:
			thr[p.at] = threshold(2*m-high, m)
		default:
			thr[p.at] = threshold(2*rank+1, m)
			rank++
		}
	}
	return thr, float64(low) / float64(m), float64(high) / float64(m), nil
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

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}

func mod(a, b int64) int64 {
	if a %= b; a < 0 {
		a += b
	}
	return a
}
