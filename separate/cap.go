package separate

import "math"

// firm reports whether the cap of a spot is held firmly. Three inks make any color
// that four do, nearly: of fewer some colors cannot be made at all, and the cap is
// a cost alone.
func firm(inks, inksPerSpot int) bool { return inksPerSpot >= 3 && inks > inksPerSpot }

// thin takes the inks beyond the cap of a spot away where weighing costs has left
// more of them. First along the directions in which coverage changes and color
// does not, toward the end that the prices pick, until an ink is gone: from
// color to color that moves without a jump. What a solid ink then holds up is
// taken from the thinnest inks, at the cost of color.
func (s *solver) thin(c []float64, t *target, weight float64) {
	k := s.k
	if !firm(k, s.cap) || s.crowd(c) <= s.cap {
		return
	}
	var still uint // inks that have met a bound
	for round := 0; round < 16 && s.crowd(c) > s.cap; round++ {
		dir, ok := s.idle(c, still)
		if !ok {
			break
		}
		// Small steps: the direction turns.
		step, hit := .12, -1
		for i := 0; i < k; i++ {
			room := math.Inf(1)
			switch {
			case still>>i&1 == 1:
			case dir[i] < 0:
				room = c[i] / -dir[i]
			case dir[i] > 0:
				room = (1 - c[i]) / dir[i]
			}
			if room < step {
				step, hit = room, i
			}
		}
		for i := 0; i < k; i++ {
			if still>>i&1 == 0 {
				c[i] = math.Min(1, math.Max(0, c[i]+float64(step*dir[i])))
			}
		}
		if hit >= 0 {
			still |= 1 << hit
		}
	}
	s.keep(c)
	p := pull{weight: weight}
	copy(p.to[:], c)
	s.descend(c, t, &p, 4)
	s.free()
}

// keep takes the thinnest inks of c, as many as are beyond the cap, away, and
// holds them there until free.
func (s *solver) keep(c []float64) {
	mask, _ := s.beyond(c)
	for i := range c {
		if mask>>i&1 == 1 {
			s.top[i], c[i] = 0, 0
		}
	}
}

// free lifts the limits of keep.
func (s *solver) free() {
	for i := range s.top {
		s.top[i] = 1
	}
}

// crowd is the number of inks in c above a trace that no film holds.
func (s *solver) crowd(c []float64) int {
	n := 0
	for _, v := range c {
		if v > .002 {
			n++
		}
	}
	return n
}

// idle returns the direction, of length 1, in which the inks that are not still
// change and the color does not, toward the lowest price.
func (s *solver) idle(c []float64, still uint) (dir [maxInks]float64, ok bool) {
	rows, price := s.rowsAt(c), s.starts.price()
	free := 0
	for i := 0; i < s.k; i++ {
		if still>>i&1 == 1 {
			for r := range rows {
				rows[r][i] = 0
			}
			continue
		}
		free++
		dir[i] = -price[i]
	}
	if free < 4 {
		return dir, false
	}
	before := math.Sqrt(inner(&dir, &dir, s.k))
	dir = offRows(dir, rows, s.k)
	n := math.Sqrt(inner(&dir, &dir, s.k))
	if n < .02*before {
		return dir, false
	}
	for i := range dir {
		dir[i] /= n
	}
	return dir, true
}
