package separate

// A stroke is a piece of a line thinner than about a pixel and a half, between
// the middles of two neighboring columns of pixels (or rows, if down is set):
// the line's middle and half of its width across, at both ends, in 1/256
// artwork pixels, middles of pixels at whole pixels.
type stroke struct {
	at       int32 // column (row) at whose middle the piece begins
	from, to int16 // part of the way that is drawn, in 1/256
	mid      [2]int32
	half     [2]int32
	label    uint16
	down     bool
}

// strokeReach is the number of artwork rows a stroke can reach below its first.
const strokeReach = 8

// overlay calls set for the spans of film row y that strokes cover.
func (r *filmRower) overlay(p *filmPlan, y int, set func(x0, x1 int32, label uint16)) {
	l := r.l
	if len(l.strokes) == 0 {
		return
	}
	v := p.y.place(y)
	row := int(v >> 8)
	lo, hi := max(row-strokeReach, 0), min(row+1, l.Height-1)
	for i := range l.strokes[l.strokeStart[lo]:l.strokeStart[hi+1]] {
		s := &l.strokes[l.strokeStart[lo]+i]
		if s.down {
			if int(s.at) != row {
				continue
			}
			t := v & 255
			if t < int32(s.from) || t >= int32(s.to) {
				continue
			}
			mid := s.mid[0] + (s.mid[1]-s.mid[0])*t>>8
			half := max(s.half[0]+(s.half[1]-s.half[0])*t>>8, p.x.half)
			x0, x1 := p.x.at(mid-half), p.x.at(mid+half)
			if x0 < x1 {
				set(x0, x1, s.label)
			}
			continue
		}
		x0, x1 := p.x.first[s.at+1], p.x.first[s.at+2]
		for x := x0; x < x1; x++ {
			t := int32(p.x.part[x])
			if t < int32(s.from) || t >= int32(s.to) {
				continue
			}
			mid := s.mid[0] + (s.mid[1]-s.mid[0])*t>>8
			half := max(s.half[0]+(s.half[1]-s.half[0])*t>>8, p.y.half)
			if v >= mid-half && v < mid+half {
				set(x, x+1, s.label)
			}
		}
	}
}
