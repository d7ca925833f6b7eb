package separate

import (
	"cmp"
	"math"
	"slices"
)

// An oddPixel is one that no mixture of the cores around it explains: part of
// a thin line, small detail, or texture.
type oddPixel struct {
	x        int32
	color    vec
	line     vec // the color that the line here would have at full width
	label    uint16
	ready    bool  // mix is final
	own      bool  // the pixel has a color of its own for certain
	strength int64 // squared distance from the nearest color around
	mix      mixed
}

// onRay tells whether p lies between ground and line, and how far away line
// is. The tolerance is an angle: faint pixels say little about the line.
func onRay(p, ground, line vec) (t uint8, d2 int64, ok bool) {
	t, rest, d2 := onSegment(p, ground, line)
	q := p.sub(ground)
	tol := 5 + math.Sqrt(float64(q.dot(q)))/8
	return t, d2, rest <= int64(tol*tol) && t >= 20
}

// lineColor finds the color of which p shows a part: the farthest of the
// picture's uniform colors and line colors that p may be a step towards from
// one of the ends, or from between two of them.
func (b *labeler) lineColor(m *mixer, p vec) (line vec, label uint16, found bool) {
	far := int64(0)
	try := func(f *flatColor) {
		k := vecOf(f.rgb)
		for i := range m.ends {
			if _, d2, ok := onRay(p, m.ends[i].rgb, k); ok && d2 > far {
				far, line, found = d2, k, true
				label = b.asked.label(f.rgb)
			}
		}
	}
	for i := range b.flats {
		if b.flats[i].uniform {
			try(&b.flats[i])
		}
	}
	for i := range b.lines {
		try(&b.lines[i])
	}
	if found || len(m.ends) < 2 {
		return line, label, found
	}
	least := int64(12*12 + 1)
	for _, set := range [2][]flatColor{b.flats, b.lines} {
		for n := range set {
			if !set[n].uniform {
				continue
			}
			k := vecOf(set[n].rgb)
			for i := range m.ends {
				for j := i + 1; j < len(m.ends); j++ {
					share, rest, ok := inTriangle(p, m.ends[i].rgb, m.ends[j].rgb, k)
					if ok && share[2] >= 20 && rest < least {
						least, line, found = rest, k, true
						label = b.asked.label(set[n].rgb)
					}
				}
			}
		}
	}
	return line, label, found
}

// groundOf collects the colors of the cores around x, y; where there are none,
// the picture's largest uniform colors stand in and spare is set.
func (b *labeler) groundOf(m *mixer, x, y int) (spare bool) {
	m.ends = m.ends[:0]
	for ring := 1; ring <= 3; ring++ {
		b.collect(m, x, y, ring)
	}
	if len(m.ends) > 0 {
		return false
	}
	for i := range b.flats {
		if len(m.ends) == maxEnds {
			break
		}
		if f := &b.flats[i]; f.uniform {
			m.ends = append(m.ends, end{vecOf(f.rgb), b.asked.label(f.rgb), 4})
		}
	}
	return true
}

// findLineColors looks for colors that only thin lines have: among the odd
// pixels that no known color explains, the farthest from their ground first,
// so that what is fainter counts as part of a line of that color.
func (b *labeler) findLineColors() {
	type key struct {
		ground int // index in flats
		bin    int
	}
	parts := make([]map[key]flatBin, (b.h+bandRows-1)/bandRows)
	bands(b.h, bandRows, b.workers, func(band, y0, y1 int) {
		var m mixer
		bins := map[key]flatBin{}
		for y := y0; y < y1; y++ {
			for _, x := range b.odd[y] {
				rgb := [3]uint8(b.pix[3*(y*b.w+int(x)):])
				p := vecOf(rgb)
				b.groundOf(&m, int(x), y)
				if _, _, ok := b.lineColor(&m, p); ok || len(m.ends) == 0 {
					continue
				}
				e, _ := m.single(p)
				g := b.nearestFlat(m.ends[e].rgb)
				k := key{g, int(rgb[0]>>3)<<10 | int(rgb[1]>>3)<<5 | int(rgb[2]>>3)}
				f := bins[k]
				f.add(rgb, 1)
				bins[k] = f
			}
		}
		parts[band] = bins
	})
	all := map[key]flatBin{}
	for _, bins := range parts {
		for k, f := range bins {
			t := all[k]
			t.count += f.count
			for i := range t.sum {
				t.sum[i] += f.sum[i]
			}
			t.cast(f.vote, f.lead)
			all[k] = t
		}
	}
	type faint struct {
		key
		flatBin
		rgb [3]uint8
		far int64
	}
	var list []faint
	for k, f := range all {
		if f.count < 4 || k.ground < 0 {
			continue
		}
		e := faint{key: k, flatBin: f, rgb: f.color()}
		d := vecOf(e.rgb).sub(vecOf(b.flats[k.ground].rgb))
		e.far = d.dot(d)
		list = append(list, e)
	}
	slices.SortFunc(list, func(a, b faint) int {
		return cmp.Or(cmp.Compare(b.far, a.far), cmp.Compare(a.ground, b.ground), cmp.Compare(a.bin, b.bin))
	})
	const maxLines = 64
next:
	for _, f := range list {
		if len(b.lines) == maxLines {
			break
		}
		for i := range b.lines {
			if _, _, ok := onRay(vecOf(f.rgb), vecOf(b.flats[f.ground].rgb), vecOf(b.lines[i].rgb)); ok {
				continue next
			}
		}
		b.lines = append(b.lines, flatColor{rgb: f.rgb, count: f.count, uniform: true})
	}
}

// nearestFlat returns the index of the uniform color nearest to c, −1 if there
// is none.
func (b *labeler) nearestFlat(c vec) int {
	best, least := -1, int64(math.MaxInt64)
	for i := range b.flats {
		d := c.sub(vecOf(b.flats[i].rgb))
		if r := d.dot(d); r < least {
			best, least = i, r
		}
	}
	return best
}

// reach is how far, in pixels, a stronger pixel decides the color of the line
// for a fainter one.
const reach = 2

// mixLines finishes the mixed pixels of rows y0 … y1−1: those that mixRow
// found, and the odd ones.
func (b *labeler) mixLines(y0, y1 int, done [][]mixed) {
	var m mixer
	ya, yb := max(0, y0-reach), min(b.h, y1+reach)
	rows := make([][]oddPixel, yb-ya)
	for y := ya; y < yb; y++ {
		for _, x := range b.odd[y] {
			rows[y-ya] = append(rows[y-ya], b.judge(&m, int(x), y))
		}
	}
	for y := y0; y < y1; y++ {
		out := b.mix[y]
		for i := range rows[y-ya] {
			o := &rows[y-ya][i]
			if !o.ready && !o.own {
				b.follow(&m, rows, ya, y, o)
			}
			if o.ready {
				out = append(out, o.mix)
				continue
			}
			out = append(out, mixed{x: o.x, n: 1, share: [3]uint8{255}, label: [3]uint16{o.label}})
		}
		byX(out)
		done[y] = out
	}
}

// judge finds the line color of an odd pixel from the pixel alone.
func (b *labeler) judge(m *mixer, x, y int) oddPixel {
	rgb := [3]uint8(b.pix[3*(y*b.w+x):])
	o := oddPixel{x: int32(x), color: vecOf(rgb), line: vecOf(rgb)}
	spare := b.groundOf(m, x, y)
	_, o.strength = m.single(o.color)
	if f := b.nearestFlat(o.color); f >= 0 && b.flats[f].uniform && maxDistance(b.flats[f].rgb, rgb) <= snapDistance {
		o.line, o.label = vecOf(b.flats[f].rgb), b.asked.label(b.flats[f].rgb)
		if alike := b.alike(rgb, x, y); alike >= 4 || alike == 1 && b.alone(x, y) {
			o.own = true
			return o
		}
	}
	if spare {
		// Amid lines without ground between them any two of the largest
		// colors may mix; those that do it best are taken.
		if f, ok := m.pair(o.color); ok {
			o.mix, o.ready = m.mixed(x, f), true
			return o
		}
	}
	if k, label, ok := b.lineColor(m, o.color); ok {
		o.line, o.label = k, label
		return o
	}
	o.label = b.asked.label(rgb)
	return o
}

// alike counts the pixels of the color rgb in the 5 × 5 around x, y.
func (b *labeler) alike(rgb [3]uint8, x, y int) int {
	n := 0
	for yy := max(0, y-2); yy <= min(b.h-1, y+2); yy++ {
		for xx := max(0, x-2); xx <= min(b.w-1, x+2); xx++ {
			if maxDistance(rgb, [3]uint8(b.pix[3*(yy*b.w+xx):])) <= snapDistance {
				n++
			}
		}
	}
	return n
}

// alone tells whether the eight pixels around x, y are cores.
func (b *labeler) alone(x, y int) bool {
	for yy := max(0, y-1); yy <= min(b.h-1, y+1); yy++ {
		for xx := max(0, x-1); xx <= min(b.w-1, x+1); xx++ {
			if (xx != x || yy != y) && b.core[yy*b.w+xx] == 0 {
				return false
			}
		}
	}
	return true
}

// follow lets the strongest odd pixel nearby whose line can explain o decide
// on the color of the line, and mixes o from its ground and that line.
func (b *labeler) follow(m *mixer, rows [][]oddPixel, ya, y int, o *oddPixel) {
	b.groundOf(m, int(o.x), y)
	if len(m.ends) == 0 {
		return
	}
	n := len(m.ends)
	var best blend
	found, strength := false, int64(-1)
	consider := func(k *oddPixel) {
		if k.ready || k.strength <= strength || k.strength < o.strength {
			return
		}
		m.ends = append(m.ends[:n], end{rgb: k.line, label: k.label})
		if f, ok := m.towards(o.color, n); ok {
			best, found, strength = f, true, k.strength
			best.rest = 0
			o.line, o.label = k.line, k.label
		}
	}
	for yy := max(y-reach, ya); yy <= min(y+reach, ya+len(rows)-1); yy++ {
		row := rows[yy-ya]
		i, _ := slices.BinarySearchFunc(row, o.x-reach, func(a oddPixel, x int32) int { return cmp.Compare(a.x, x) })
		for ; i < len(row) && row[i].x <= o.x+reach; i++ {
			if yy != y || row[i].x != o.x {
				consider(&row[i])
			}
		}
	}
	if !found {
		strength = -1
		consider(o)
	}
	if found {
		m.ends = append(m.ends[:n], end{rgb: o.line, label: o.label})
		o.mix, o.ready = m.mixed(int(o.x), best), true
	}
}

// towards explains p as a mixture of one or two of the first n ends and the
// end n.
func (m *mixer) towards(p vec, n int) (blend, bool) {
	best := blend{rest: math.MaxInt64}
	line := m.ends[n].rgb
	for i := range n {
		t, rest, d2 := onSegment(p, m.ends[i].rgb, line)
		if rest <= mixTolerance(d2) && rest < best.rest {
			best = blend{n: 2, end: [3]int{i, n}, share: [3]uint8{255 - t, t}, rest: rest}
		}
	}
	if best.n > 0 {
		return best, true
	}
	for i := range n {
		for j := i + 1; j < n; j++ {
			share, rest, ok := inTriangle(p, m.ends[i].rgb, m.ends[j].rgb, line)
			if ok && rest <= 12*12 && rest < best.rest {
				best = blend{n: 3, end: [3]int{i, j, n}, share: share, rest: rest}
			}
		}
	}
	return best, best.n > 0
}
