package halftone

// strip holds the source rows around the one being enlarged. A ring of ringRows
// suffices: an edge is judged by edgeReach rows on either side, a tint beside it
// by tintReach, and two rows and their neighbors are judged at a time.
type strip struct {
	r     *Raster
	ring  [ringRows]sourceRow
	kinds []kind
	above int // the source row whose pair kinds holds, or −1

	nowhere mask // squares outside the picture
}

const (
	edgeReach  = 3
	edgeMargin = 2
	tintReach  = 3  // see settle
	ringRows   = 18 // ≥ 2·(edgeReach+tintReach+edgeMargin) + 2
)

// kind says what 64 film pixels between two source rows need.
type kind uint8

const (
	allNone  kind = iota // nothing to print
	allSolid             // ink everywhere
	allSame              // one tint
	screened             // the screen alone
	someCut              // the screen, and edges cut
	allCut               // edges cut, no tone
)

// sourceRow is a row of the picture and what is known about its pixels.
type sourceRow struct {
	y                 int      // the row that is held, or −1
	judged, squared   int      // y once falls and thin lines are found, and squares,
	settled, spread   int      // and what is edge, and widened; or −1
	found             bool     // has falls or thin lines
	raw               []uint16 // coverage
	tone              []uint16 // compensated coverage
	none, solid, same mask     // after compensation: nothing to print; full ink; as the pixel to the right
	empty, full       mask     // coverage near 0, near Full
	low, high         mask     // half a line, half a gap: see judge
	fall, line, hole  mask     // partly covered pixels between full and empty, of a thin line, a thin gap
	square            mask     // with the next column and row, pixels of one tint
	edge              mask     // the falls without tints
	cut, thin, gap    mask     // the same with the pixels around; gap ⊂ thin
}

func newStrip(r *Raster) *strip {
	s := &strip{r: r, kinds: make([]kind, len(r.words)), above: -1, nowhere: newMask(r.sw)}
	for i := range s.ring {
		row := &s.ring[i]
		row.hold(-1)
		row.raw = make([]uint16, r.sw)
		row.tone = row.raw
		if r.table != nil {
			row.tone = make([]uint16, r.sw)
		}
		for _, m := range []*mask{&row.none, &row.solid, &row.same, &row.empty, &row.full, &row.low, &row.high,
			&row.fall, &row.line, &row.hole, &row.square, &row.edge, &row.cut, &row.thin, &row.gap} {
			*m = newMask(r.sw)
		}
	}
	return s
}

func (s *strip) clamp(y int) int { return min(max(y, 0), s.r.sh-1) }

// at returns row y, the nearest one if it is outside.
func (s *strip) at(y int) *sourceRow {
	y = s.clamp(y)
	row := &s.ring[y%ringRows]
	if row.y != y {
		row.load(s.r, y)
	}
	return row
}

// Coverage within a fiftieth of nothing or of full ink counts as such where an
// edge is looked for. A line that reaches nearly half is a line of solid ink
// rather than a tint: see Raster.
const (
	nearly   = Full / 50
	lineHalf = Full * 48 / 100
)

// hold makes the row y, of which nothing is known.
func (row *sourceRow) hold(y int) {
	row.y, row.judged, row.squared, row.settled, row.spread = y, -1, -1, -1, -1
}

func (row *sourceRow) load(r *Raster, y int) {
	row.hold(y)
	r.src.Row(row.raw, y)
	if r.table != nil {
		for i, c := range row.raw {
			row.tone[i] = r.table[c]
		}
	}
	for x := 0; x < r.sw; x += 64 {
		raw, tone := row.raw[x:min(x+64, r.sw)], row.tone[x:min(x+64, r.sw)]
		right := tone[len(tone)-1]
		if x+64 < r.sw {
			right = row.tone[x+64]
		}
		n := len(raw)
		differ, ends := survey(raw)
		var none, solid, same, empty, full, low, high uint64
		if !ends && r.table == nil && differ {
			// Tones and nothing else, as most of a photograph.
			for i, v := range raw {
				c := uint32(v)
				low |= uint64((lineHalf-c)>>31) << i
				high |= uint64((c-(Full-lineHalf))>>31) << i
			}
			for i, v := range raw[1:] {
				same |= uint64((uint32(v^raw[i])-1)>>31) << i
			}
			if raw[len(raw)-1] == right {
				same |= 1 << (len(raw) - 1)
			}
			i := x>>6 + 1
			row.none[i], row.solid[i], row.same[i] = 0, 0, same
			row.empty[i], row.full[i], row.low[i], row.high[i] = 0, 0, low, high
			continue
		}
		if !differ {
			n = 1
		}
		for i, v := range raw[:n] {
			c, t := uint32(v), uint32(tone[i])
			none |= uint64((t-1)>>31) << i
			solid |= uint64((Full-1-t)>>31) << i
			empty |= uint64((c-nearly)>>31) << i
			full |= uint64((Full-nearly-c)>>31) << i
			low |= uint64((lineHalf-c)>>31) << i
			high |= uint64((c-(Full-lineHalf))>>31) << i
			if i+1 < len(tone) && tone[i] == tone[i+1] {
				same |= 1 << i
			}
		}
		if n < len(raw) { // what holds for the first pixel holds for all
			none, solid, empty, full, low, high, same = -none, -solid, -empty, -full, -low, -high, ^uint64(0)
			same &^= 1 << (len(tone) - 1)
		}
		if tone[len(tone)-1] == right {
			same |= 1 << (len(tone) - 1)
		}
		i := x>>6 + 1
		row.none[i], row.solid[i], row.same[i] = none, solid, same
		row.empty[i], row.full[i], row.low[i], row.high[i] = empty, full, low, high
	}
	for _, m := range []mask{row.none, row.solid, row.empty, row.full, row.low, row.high} {
		m.spread(r.sw)
	}
}

// survey reports whether values differ, and whether any is near an end.
func survey(v []uint16) (differ, ends bool) {
	var d uint16
	var e uint32
	first := v[0]
	for _, c := range v {
		d |= c ^ first
		e |= (uint32(c) - nearly) | (Full - nearly - uint32(c))
	}
	return d != 0, e>>31 != 0
}

// judge finds the partly covered pixels of row y that belong to a thin line, or to
// an edge unless they are a tint: see settle. Along one of four directions, and
// nothing but partly covered pixels between, there is an empty pixel on one side
// and a full one on the other at most edgeReach+1 apart (a fall); or both sides are
// empty and a pixel between reaches half (a line), or both are full and one falls
// to half (a gap).
func (s *strip) judge(y int) *sourceRow {
	y = s.clamp(y)
	row := s.at(y)
	if row.judged == y {
		return row
	}
	row.judged = y
	var rows [2*edgeReach + 1]*sourceRow
	for i := range rows {
		rows[i] = s.at(y - edgeReach + i)
	}
	var found uint64
	for i := 1; i < len(row.fall)-1; i++ {
		row.fall[i], row.line[i], row.hole[i] = judgeWord(&rows, i)
		found |= row.fall[i] | row.line[i] | row.hole[i]
	}
	row.found = found != 0
	for _, m := range []mask{row.fall, row.line, row.hole} {
		m.spread(s.r.sw)
	}
	return row
}

func judgeWord(rows *[2*edgeReach + 1]*sourceRow, i int) (fall, line, hole uint64) {
	center := rows[edgeReach]
	partial := ^(center.empty[i] | center.full[i])
	if partial == 0 {
		return
	}
	var some uint64
	for _, r := range rows {
		some |= r.empty[i] | r.full[i] | r.empty[i-1] | r.full[i-1] | r.empty[i+1] | r.full[i+1]
	}
	if some == 0 {
		return
	}
	for _, d := range [4][2]int{{1, 0}, {0, 1}, {1, 1}, {1, -1}} {
		var e, f [2][edgeReach + 1]uint64 // [side][distance]: reached first
		lows, highs := [2][edgeReach + 1]uint64{}, [2][edgeReach + 1]uint64{}
		for side, sign := range [2]int{-1, 1} {
			open := partial
			low, high := center.low[i], center.high[i]
			for k := 1; k <= edgeReach; k++ {
				r := rows[edgeReach+sign*k*d[1]]
				re, rf := r.empty.shifted(i, sign*k*d[0]), r.full.shifted(i, sign*k*d[0])
				e[side][k], f[side][k] = open&re, open&rf
				lows[side][k], highs[side][k] = low, high
				open &^= re | rf
				low |= r.low.shifted(i, sign*k*d[0])
				high |= r.high.shifted(i, sign*k*d[0])
			}
		}
		for a := 1; a <= edgeReach; a++ {
			for b := 1; a+b <= edgeReach+1; b++ {
				fall |= e[0][a]&f[1][b] | f[0][a]&e[1][b]
				line |= e[0][a] & e[1][b] & (lows[0][a] | lows[1][b])
				hole |= f[0][a] & f[1][b] & (highs[0][a] | highs[1][b])
			}
		}
	}
	return fall, line, hole
}

// widen adds to the edges of row y the empty and full pixels up to edgeMargin
// away, whose coverage need not be exactly none or full, and those that touch
// one another.
func (s *strip) widen(y int) *sourceRow {
	y = s.clamp(y)
	row := s.at(y)
	if row.spread == y {
		return row
	}
	row.spread = y
	var rows [2*edgeMargin + 1]*sourceRow
	found := false
	for i := range rows {
		rows[i] = s.settle(y - edgeMargin + i)
		found = found || rows[i].found
	}
	for i := 1; i < len(row.cut)-1; i++ {
		var edge, line, hole, empty, full uint64
		if found {
			for _, r := range rows {
				if !r.found {
					continue
				}
				for dx := -edgeMargin; dx <= edgeMargin; dx++ {
					edge |= r.edge.shifted(i, dx)
					line |= r.line.shifted(i, dx)
					hole |= r.hole.shifted(i, dx)
				}
			}
		}
		for _, r := range rows[edgeMargin-1 : edgeMargin+2] {
			for dx := -1; dx <= 1; dx++ {
				empty |= r.empty.shifted(i, dx)
				full |= r.full.shifted(i, dx)
			}
		}
		flat, thin := row.empty[i]|row.full[i], line|hole
		row.thin[i] = flat&thin | row.line[i] | row.hole[i]
		row.gap[i] = flat&hole&^line | row.hole[i]&^row.line[i]
		row.cut[i] = (flat&(edge|row.empty[i]&full|row.full[i]&empty) | row.edge[i]) &^ row.thin[i]
	}
	return row
}

// allSharp reports whether columns lo … hi are only edges, nothing and solid.
func (row *sourceRow) allSharp(lo, hi int) bool {
	for x := lo; x <= hi; x += 64 {
		sharp := row.none.from(x) | row.solid.from(x) | row.cut.from(x) | row.thin.from(x)
		if left := hi - x; left < 63 {
			sharp |= ^uint64(0) << (left + 1)
		}
		if ^sharp != 0 {
			return false
		}
	}
	return true
}

// pair returns what each film word between source rows y and y+1 needs.
func (s *strip) pair(y int) []kind {
	if s.above == y {
		return s.kinds
	}
	s.above = y
	up, down := s.widen(y), s.widen(y+1)
	for k, w := range s.r.words {
		lo, hi := int(w.lo), int(w.hi)
		var c kind
		switch {
		case s.r.lineFilm:
			c = allCut
			if up.empty.all(lo, hi) && down.empty.all(lo, hi) {
				c = allNone
			} else if up.full.all(lo, hi) && down.full.all(lo, hi) {
				c = allSolid
			}
		case up.cut.any(lo, hi) || down.cut.any(lo, hi) || up.thin.any(lo, hi) || down.thin.any(lo, hi):
			c = someCut
			if up.allSharp(lo, hi) && down.allSharp(lo, hi) {
				c = allCut
			}
		case up.none.all(lo, hi) && down.none.all(lo, hi):
			c = allNone
		case up.solid.all(lo, hi) && down.solid.all(lo, hi):
			c = allSolid
		case up.tone[lo] == down.tone[lo] && (lo == hi || up.same.all(lo, hi-1) && down.same.all(lo, hi-1)):
			c = allSame
		default:
			c = screened
		}
		s.kinds[k] = c
	}
	return s.kinds
}
