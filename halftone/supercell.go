package halftone

import (
	"fmt"
	"math"
)

// supercell is N × N cells over a², b² whole pixels; see the package comment.
// Its side along the angle is (a, −b) in pixels with y downward.
type supercell struct {
	a, b, n int64
}

// Limits of the search. It takes the smallest supercell whose errors are below
// 0.4 of what a film may be off (ruling 0.5 %, angle 0.05°), so that a
// measurement has room. From 2¹⁴ pixels on, steps of tone are at most 0.006 %;
// at 2²¹, a side of 1448, rounding to whole pixels turns it by 0.03° at most.
const (
	minArea   = 1 << 14
	maxArea   = 1 << 21
	aimRuling = 0.002
	aimAngle  = 0.02
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
	for n := 1; bestErr > 1; n++ {
		side := float64(n) / ruling
		if side*side > 2*maxArea {
			break
		}
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
