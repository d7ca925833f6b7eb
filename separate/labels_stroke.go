package separate

import "slices"

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

// strokeReach is the number of artwork rows below its first that a stroke can
// reach: two nodes that touch, each thinLong pixels across at most.
const strokeReach = 2 * thinLong

// top returns the artwork row in which a stroke begins.
func (s *stroke) top() int {
	if s.down {
		return int(s.at)
	}
	return int(min(s.mid[0]-s.half[0], s.mid[1]-s.half[1]) >> 8)
}

// overlay calls set for the spans of film row y that strokes cover.
func (r *filmRower) overlay(p *filmPlan, y int, set func(x0, x1 int32, label uint16)) {
	l := r.l
	if len(l.strokes) == 0 {
		return
	}
	v := p.y.place(y)
	row := int(v >> 8)
	// A stroke is a film pixel wide at least.
	more := int(p.y.half>>8) + 1
	lo, hi := max(row-strokeReach-more, 0), min(max(row+more, 0), l.Height-1)
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
		if widest := max(s.half[0], s.half[1], p.y.half); v < min(s.mid[0], s.mid[1])-widest || v > max(s.mid[0], s.mid[1])+widest {
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

// Limits of what is a thin line, in 1/255 pixels of share summed across it
// along a column or row.
const (
	thinMost  = 255 * 22 / 10 // 1.55 pixels across at 45°
	thinLeast = 255 / 6       // fainter is taken for noise
	lossLeast = 255 * 4 / 10  // the same after lossy compression
	thinLong  = 6             // pixels that the line's ramp may touch
	faintest  = 16            // share that counts

	// bleed is the share of a third color that a drawing program lets through
	// where two shapes meet: a·(1−a) of what is beneath, a quarter at most.
	bleed = 255 * 28 / 100
)

// A strokeFinder sees the mixed pixels of some rows.
type strokeFinder struct {
	l      *Labels
	y0, y1 int
	index  []int32 // position in l.mix + 1, 0 for plain pixels
	drawn  []lifted
	least  int32 // thinLeast or lossLeast
}

// A lifted share is that of a line drawn as a stroke: it is taken off the
// pixel and what is on both sides of the line takes its place.
type lifted struct {
	pixel int32 // position in l.mix
	label uint16
	side  [2]uint16
}

// lift takes shares off.
func (l *Labels) lift(drawn []lifted) {
	for _, d := range drawn {
		m := &l.mix[d.pixel]
		j := 0
		for j < int(m.n) && m.label[j] != d.label {
			j++
		}
		if j == int(m.n) {
			continue // lifted already, where the line crosses a row as well
		}
		if m.n == 1 {
			m.label = [3]uint16{d.side[0]}
			if d.side[0] != d.side[1] {
				m.n, m.label[1] = 2, d.side[1]
				m.share = [3]uint8{128, 127}
			}
			continue
		}
		off := m.share[j]
		m.n--
		m.share[j], m.label[j] = m.share[m.n], m.label[m.n]
		m.share[m.n], m.label[m.n] = 0, 0
		if m.n == 1 {
			m.share[0] = 255
			continue
		}
		all := uint32(255 - off)
		m.share[0] = uint8((uint32(m.share[0])*255 + all/2) / all)
		m.share[1] = 255 - m.share[0]
	}
}

// share returns the share of a label at x, y, in 1/255; fat is set where the
// pixel is plain and has the label, so that the line is no thin one.
func (s *strokeFinder) share(x, y int, label uint16) (share int32, fat bool) {
	if x < 0 || x >= s.l.Width || y < s.y0 || y >= s.y1 {
		return 0, false
	}
	i := s.index[(y-s.y0)*s.l.Width+x]
	if i == 0 {
		return 0, s.l.Map[y*s.l.Width+x] == label
	}
	m := &s.l.mix[i-1]
	for j := range int(m.n) {
		if m.label[j] == label {
			return int32(m.share[j]), false
		}
	}
	return 0, false
}

// side returns the label that is strongest beside a node, at a across the line.
func (s *strokeFinder) side(a, c int, down bool) uint16 {
	x, y := c, a
	if down {
		x, y = a, c
	}
	x, y = min(max(x, 0), s.l.Width-1), min(max(y, s.y0), s.y1-1)
	if i := s.index[(y-s.y0)*s.l.Width+x]; i != 0 {
		return s.l.mix[i-1].label[0]
	}
	return s.l.Map[y*s.l.Width+x]
}

// A node is where a line crosses a column (or a row, if down is set).
type node struct {
	from, to int // first and last pixel across
	mass     int32
	mid      int32 // 1/256 pixels
	fat      bool  // no thin line
}

// across returns the node through the pixel whose share of the label counts,
// c along the line and a across it.
func (s *strokeFinder) across(c, a int, label uint16, down bool) node {
	at := func(i int) (int32, bool) {
		if down {
			return s.share(i, c, label)
		}
		return s.share(c, i, label)
	}
	size := s.l.Height
	if down {
		size = s.l.Width
	}
	n := node{from: a, to: a}
	for step := -1; step <= 1; step += 2 {
		for i := a; ; i += step {
			v, fat := at(i)
			if fat || i < 0 || i >= size {
				n.fat = true
				return n
			}
			if v < faintest {
				break
			}
			n.from, n.to = min(n.from, i), max(n.to, i)
			if n.to-n.from >= thinLong {
				n.fat = true
				return n
			}
		}
	}
	sum := int64(0)
	for i := n.from; i <= n.to; i++ {
		v, _ := at(i)
		n.mass += v
		sum += int64(v) * int64(i)
	}
	n.mid = int32((sum*256 + int64(n.mass)/2) / int64(n.mass))
	n.fat = n.mass > thinMost
	return n
}

// neighbor returns the node of the same line in the next column at c, found is
// false where there is none or more than one; fat where the line meets a body.
func (s *strokeFinder) neighbor(n node, c int, label uint16, down bool) (m node, found, fat bool) {
	for i := n.from - 1; i <= n.to+1; i++ {
		x, y := c, i
		if down {
			x, y = i, c
		}
		v, solid := s.share(x, y, label)
		if solid {
			return m, false, true
		}
		if v < faintest {
			continue
		}
		k := s.across(c, i, label, down)
		if k.fat {
			return m, false, true
		}
		if !found || k.mass > m.mass {
			m, found = k, true
		}
		i = k.to
	}
	return m, found, false
}

// findStrokes makes strokes of the lines thinner than about a pixel and a
// half.
func (l *Labels) findStrokes(workers int, strict bool) {
	// A node's neighbor's neighbor's node across is the farthest looked at.
	const margin = straightReach + 4*thinLong
	least := int32(lossLeast)
	if strict {
		least = thinLeast
	}
	parts := make([][]stroke, (l.Height+bandRows-1)/bandRows)
	drawn := make([][]lifted, len(parts))
	bands(l.Height, bandRows, workers, func(band, y0, y1 int) {
		s := strokeFinder{l: l, least: least, y0: max(0, y0-margin), y1: min(l.Height, y1+margin)}
		s.index = make([]int32, (s.y1-s.y0)*l.Width)
		for y := s.y0; y < s.y1; y++ {
			for i := l.mixStart[y]; i < l.mixStart[y+1]; i++ {
				s.index[(y-s.y0)*l.Width+int(l.mix[i].x)] = int32(i) + 1
			}
		}
		var out []stroke
		for y := y0; y < y1; y++ {
			for _, m := range l.mixedRow(y) {
				for j := range int(m.n) {
					if m.share[j] >= faintest {
						out = s.begin(out, int(m.x), y, m.label[j])
					}
				}
			}
		}
		parts[band], drawn[band] = out, s.drawn
	})
	for _, d := range drawn {
		l.lift(d)
	}
	// By the row in which they begin.
	l.strokeStart = make([]int, l.Height+1)
	all := slices.Concat(parts...)
	row := func(s *stroke) int { return min(max(s.top(), 0), l.Height-1) }
	for i := range all {
		l.strokeStart[row(&all[i])+1]++
	}
	for y := range l.Height {
		l.strokeStart[y+1] += l.strokeStart[y]
	}
	l.strokes = make([]stroke, len(all))
	next := slices.Clone(l.strokeStart)
	for i := range all {
		r := row(&all[i])
		l.strokes[next[r]] = all[i]
		next[r]++
	}
}

// begin appends the pieces of stroke that begin at the node whose first pixel
// is x, y.
func (s *strokeFinder) begin(out []stroke, x, y int, label uint16) []stroke {
	if v, fat := s.share(x, y-1, label); v < faintest && !fat {
		if n := s.across(x, y, label, false); !n.fat {
			out = s.draw(out, n, x, label, false)
		}
	}
	if v, fat := s.share(x-1, y, label); v < faintest && !fat {
		if n := s.across(y, x, label, true); !n.fat {
			out = s.draw(out, n, y, label, true)
		}
	}
	return out
}

// straightReach is the number of nodes on each side that straighten a hairline.
const straightReach = 8

// straight returns the middle of a hairline at node n in column (row) c. Where
// the line lies within one pixel its place there is not known; the mean over
// its neighbors, as many on both sides, is the best guess.
func (s *strokeFinder) straight(n node, c int, label uint16, down bool) int32 {
	free := 128 - n.mass*128/255
	if n.from != n.to || free <= 8 {
		return n.mid
	}
	sum, weight := n.mid*straightReach, int32(straightReach)
	left, right := n, n
	for i := 1; i < straightReach; i++ {
		l, okl, _ := s.neighbor(left, c-i, label, down)
		r, okr, _ := s.neighbor(right, c+i, label, down)
		if !okl || !okr || l.mass > 255 || r.mass > 255 {
			break
		}
		k := int32(straightReach - i)
		sum += (l.mid + r.mid) * k
		weight += 2 * k
		left, right = l, r
	}
	return min(max(sum/weight, n.mid-free), n.mid+free)
}

// A slant says how a line runs at a node: seen across a column (row), upright if
// it is thinner there than along the row (column), slanted if it is clearly
// thicker, level in between.
type slant int

const (
	upright slant = iota
	level
	slanted
)

func (s *strokeFinder) thinner(n node, c int, label uint16, down bool) slant {
	mid := int(n.mid+128) >> 8
	x, y := c, mid
	if down {
		x, y = mid, c
	}
	if v, fat := s.share(x, y, label); fat || v < faintest {
		return slanted
	}
	other := s.across(mid, c, label, !down)
	switch {
	case other.fat || n.mass < other.mass:
		return upright
	case 4*n.mass <= 5*other.mass:
		return level
	}
	return slanted
}

// draw appends the pieces of the line from the node n in column (row) c on.
func (s *strokeFinder) draw(out []stroke, n node, c int, label uint16, down bool) []stroke {
	if n.mass < s.least {
		return out
	}
	sides := [2]uint16{s.side(n.from-1, c, down), s.side(n.to+1, c, down)}
	if n.mass < bleed && sides[0] != sides[1] {
		return out
	}
	before, hasBefore, fatBefore := s.neighbor(n, c-1, label, down)
	after, hasAfter, fatAfter := s.neighbor(n, c+1, label, down)
	// The line is crossed the way in which it is thinner; near 45° in both. A
	// node between two ways goes with its neighbors.
	own := s.thinner(n, c, label, down)
	if own == slanted && !(hasBefore && s.thinner(before, c-1, label, down) != slanted) &&
		!(hasAfter && s.thinner(after, c+1, label, down) != slanted) {
		return out
	}
	if !hasBefore && !hasAfter {
		// A dot is drawn once; a tip of a body is none.
		if fatBefore || fatAfter || own != upright && (down || own == slanted) {
			return out
		}
	}
	for i := n.from; i <= n.to; i++ {
		x, y := c, i
		if down {
			x, y = i, c
		}
		k := s.index[(y-s.y0)*s.l.Width+x]
		s.drawn = append(s.drawn, lifted{k - 1, label, sides})
	}
	// Each node draws its own column, half of the way to either neighbor and a
	// little more, in case that is drawn by its shares.
	p := stroke{at: int32(c - 1), from: 128, to: 256, label: label, down: down}
	mid, half := s.straight(n, c, label, down), n.mass*256/510
	p.mid, p.half = [2]int32{mid, mid}, [2]int32{half, half}
	q := p
	q.at, q.from, q.to = int32(c), 0, 128
	if hasBefore {
		p.from = 64
		p.mid[0], p.half[0] = s.straight(before, c-1, label, down), before.mass*256/510
	}
	if hasAfter {
		q.to = 192
		q.mid[1], q.half[1] = s.straight(after, c+1, label, down), after.mass*256/510
	}
	out = append(out, p, q)
	return out
}
