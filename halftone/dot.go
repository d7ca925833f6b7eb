package halftone

import (
	"fmt"
	"strings"
)

// Dot is the shape of a screen's dots.
type Dot int

// The dots. Round is the zero value.
const (
	Round      Dot = iota // round dots, a checker at 50 %, round holes
	Ellipse               // oval dots that join in chains at 40 % and close at 60 %
	Diamond               // rhombic dots that join at 45 % and close at 55 %
	Line                  // lines along the angle
	Stochastic            // scattered dots of one size, see Spec.MinDot
	None                  // no screen: a threshold at half, for line films
)

var dotNames = [...]string{"round", "ellipse", "diamond", "line", "stochastic", "none"}

// String returns the word that ParseDot reads.
func (d Dot) String() string {
	if d < 0 || int(d) >= len(dotNames) {
		return fmt.Sprintf("dot %d", int(d))
	}
	return dotNames[d]
}

// ParseDot reads a dot's name: round, ellipse, diamond, line, stochastic or none.
func ParseDot(s string) (Dot, error) {
	for i, n := range dotNames {
		if strings.EqualFold(strings.TrimSpace(s), n) {
			return Dot(i), nil
		}
	}
	return 0, fmt.Errorf("halftone: unknown dot %q: use one of %s", s, strings.Join(dotNames[:], ", "))
}

// A field says when a pixel of a cell turns on as the tone rises. x and y are
// the pixel's place relative to the nearest dot's center along the two sides
// of the cell, scaled so that the cell spans −m … m; the holes are centered on
// the cell's corners. All arithmetic is in whole numbers, so that screens are
// the same on every machine.
//
// phase 0 pixels belong to a dot and are ranked within it by key; phase 2
// pixels belong to a hole and are ranked by falling distance to its center;
// phase 1 pixels lie between and are ranked over all cells together.
type field func(x, y, m int64) (phase int, key int64)

func (d Dot) field() field {
	switch d {
	case Ellipse:
		return ellipse
	case Diamond:
		return diamond
	case Line:
		return line
	}
	return round
}

func abs(x int64) int64 {
	if x < 0 {
		return -x
	}
	return x
}

// round dots fill the square |x|+|y| < m that stands on its corner, half the
// cell, from its center; then the holes close the same way. Up to 39 % the
// dots are round, at 50 % they meet as a checker.
func round(x, y, m int64) (int, int64) {
	x, y = abs(x), abs(y)
	if x+y < m {
		return 0, x*x + y*y
	}
	return 2, -((m-x)*(m-x) + (m-y)*(m-y))
}

// ellipse grows ovals of axes 5 : 4 inside the rhombus 4|x|+5|y| < 4m, which
// is 40 % of the cell and touches its neighbors along x. From there to 60 %
// the chain of rhombi widens; at 60 % the chains touch and oval holes remain.
func ellipse(x, y, m int64) (int, int64) {
	x, y = abs(x), abs(y)
	switch w := 4*x + 5*y - 4*m; {
	case w < 0:
		return 0, 16*x*x + 25*y*y
	case w > m:
		return 2, -(16*(m-x)*(m-x) + 25*(m-y)*(m-y))
	default:
		return 1, w
	}
}

// diamond grows rhombi of axes 10 : 9, which touch along x at 45 % and along
// y at 55 %: in two steps, since a jump of tone shows where all four corners
// of a dot join at once.
func diamond(x, y, m int64) (int, int64) {
	x, y = abs(x), abs(y)
	switch w := 9*x + 10*y - 9*m; {
	case w < 0:
		return 0, w
	case w > m:
		return 2, w
	default:
		return 1, w
	}
}

// line grows lines along x.
func line(_, y, _ int64) (int, int64) { return 1, abs(y) }
