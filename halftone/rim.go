package halftone

import "math/bits"

// A rim of tint a few pixels wide beside a solid, such as a trap under a tint,
// falls from full to empty like a soft edge. But a straight edge never covers four
// pixels in a square in part, and on one softened to three pixels they differ by a
// fourth or more. Four that differ by less than even are a tint, where it is one
// that shows; TestRimKeepsTint and TestTypeIsNoTint hold the number.
const (
	even     = Full * 16 / 100
	tintLow  = Full * 10 / 100
	tintHigh = Full * 90 / 100
)

// squares finds the squares of one tint in row y and the next, where at least half
// of the square falls from full to empty.
func (s *strip) squares(y int) mask {
	if y < 0 || y+1 >= s.r.sh {
		return s.nowhere
	}
	row := s.judge(y)
	if row.squared == y {
		return row.square
	}
	row.squared = y
	next := s.judge(y + 1)
	for i := 1; i < len(row.square)-1; i++ {
		row.square[i] = 0
		a, b, c, d := row.soft(i, 0), row.soft(i, 1), next.soft(i, 0), next.soft(i, 1)
		for left := (a|b)&(c|d) | a&b | c&d; left != 0; left &= left - 1 {
			bit := bits.TrailingZeros64(left)
			x := (i-1)<<6 + bit
			if x+1 >= s.r.sw {
				break
			}
			least := min(row.raw[x], row.raw[x+1], next.raw[x], next.raw[x+1])
			most := max(row.raw[x], row.raw[x+1], next.raw[x], next.raw[x+1])
			if least > tintLow && most < tintHigh && most-least < even {
				row.square[i] |= 1 << bit
			}
		}
	}
	return row.square
}

// soft returns the pixels of word i, moved by dx, that fall and are not of a thin
// line.
func (row *sourceRow) soft(i, dx int) uint64 {
	return row.fall.shifted(i, dx) &^ (row.line.shifted(i, dx) | row.hole.shifted(i, dx))
}

// settle takes from the falls of row y what is a tint: squares that overlap, and
// the pixels around them. One square alone may be where strokes of small type meet.
func (s *strip) settle(y int) *sourceRow {
	y = s.clamp(y)
	row := s.judge(y)
	if row.settled == y {
		return row
	}
	row.settled = y
	copy(row.edge, row.fall)
	if !row.found {
		return row
	}
	var near [2 * tintReach]mask // squares that begin in rows y − 3 … y + 2
	for j := range near {
		near[j] = s.squares(y - tintReach + j)
	}
	for j := 1; j < len(near)-1; j++ {
		above, here, below := near[j-1], near[j], near[j+1]
		for i := 1; i < len(here)-1; i++ {
			if here[i-1]|here[i]|here[i+1] == 0 {
				continue
			}
			for dx := -2; dx < 2; dx++ {
				var other uint64
				for k := dx - 1; k <= dx+1; k++ {
					other |= above.shifted(i, k) | below.shifted(i, k)
				}
				other |= here.shifted(i, dx-1) | here.shifted(i, dx+1)
				row.edge[i] &^= here.shifted(i, dx) & other
			}
		}
	}
	row.edge.spread(s.r.sw)
	return row
}
