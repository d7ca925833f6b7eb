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

// A ray goes from the ground through a pixel's color.
type ray struct {
	ground, q    vec // q from the ground to the pixel
	qq           int64
	tight, loose int64 // squared distances that pass
}

// newRay sets the tolerances mostly as angles: faint pixels say little about
// what they are a part of.
func newRay(p, ground vec) ray {
	r := ray{ground: ground, q: p.sub(ground)}
	r.qq = r.q.dot(r.q)
	d := math.Sqrt(float64(r.qq))
	t, l := 3+d/32, 5+d/8
	r.tight, r.loose = int64(t*t), int64(l*l)
	return r
}

// A fit says how well a pixel lies between its ground and a line's color.
type fit int

const (
	misses fit = iota
	loosely
	tightly
)

// towards tells whether the pixel lies between the ground and line, and the
// squared distance of line from the ground. Lines that would show by less than
// a twelfth do not count.
func (r *ray) towards(line vec) (d2 int64, f fit) {
	d := line.sub(r.ground)
	dq := d.dot(r.q)
	if dq <= 0 {
		return 0, misses
	}
	d2 = d.dot(d)
	if 12*dq < d2 {
		return 0, misses
	}
	if dq > d2 {
		e := d.sub(r.q)
		switch rest := e.dot(e); {
		case rest <= r.tight:
			return d2, tightly
		case rest <= r.loose:
			return d2, loosely
		}
		return d2, misses
	}
	// The squared distance from the ray is qq − dq²/d2.
	switch part := dq * dq; {
	case (r.qq-r.tight)*d2 <= part:
		return d2, tightly
	case (r.qq-r.loose)*d2 <= part:
		return d2, loosely
	}
	return d2, misses
}

// lineColor finds the color of which p shows a part: the farthest of the
// picture's uniform colors and line colors that p may be a step towards from
// one of the ends, or one that p is mixed from with two of them.
func (b *labeler) lineColor(m *mixer, p vec) (line *flatColor) {
	var best [2]*flatColor // loosely, tightly
	var far [2]int64
	for i := range m.ends {
		r := newRay(p, m.ends[i].rgb)
		for _, set := range [2][]flatColor{b.flats, b.lines} {
			for j := range set {
				if !set[j].uniform {
					continue
				}
				if d2, f := r.towards(vecOf(set[j].rgb)); f != misses && d2 > far[f-1] {
					far[f-1], best[f-1] = d2, &set[j]
				}
			}
		}
	}
	if best[1] != nil || len(m.ends) < 2 {
		if best[1] != nil {
			return best[1]
		}
		return best[0]
	}
	const good, least = 8 * 8, 12 * 12
	rest := int64(least + 1)
	var mixed *flatColor
	for _, set := range [2][]flatColor{b.flats, b.lines} {
		for n := range set {
			if !set[n].uniform {
				continue
			}
			k := vecOf(set[n].rgb)
			for i := range m.ends {
				for j := i + 1; j < len(m.ends); j++ {
					share, r, ok := inTriangle(p, m.ends[i].rgb, m.ends[j].rgb, k)
					if ok && share[2] >= 20 && r < rest {
						rest, mixed = r, &set[n]
					}
				}
			}
		}
	}
	if mixed != nil && (rest <= good || best[0] == nil) {
		return mixed
	}
	return best[0]
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
			m.ends = append(m.ends, end{code: f.rgb, rgb: vecOf(f.rgb), label: b.asked.label(f.rgb)})
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
	b.toward = make([][]*flatColor, b.h)
	parts := make([]map[key]flatBin, (b.h+bandRows-1)/bandRows)
	bands(b.h, bandRows, b.workers, func(band, y0, y1 int) {
		m := mixer{tol: b.tol}
		bins := map[key]flatBin{}
		for y := y0; y < y1; y++ {
			found := make([]*flatColor, len(b.odd[y]))
			b.toward[y] = found
			for i, x := range b.odd[y] {
				rgb := [3]uint8(b.pix[3*(y*b.w+int(x)):])
				p := vecOf(rgb)
				if f := b.nearestFlat(p); f >= 0 && maxDistance(b.flats[f].rgb, rgb) <= b.tol.snap {
					continue
				}
				b.groundOf(&m, int(x), y)
				if len(m.ends) == 0 {
					continue
				}
				if k := b.lineColor(&m, p); k != nil {
					found[i] = k
					continue
				}
				e, _ := m.single(p)
				g := b.nearestFlat(m.ends[e].rgb)
				k := key{g, binOf(rgb)}
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
			t.merge(&f)
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
		r := newRay(vecOf(f.rgb), vecOf(b.flats[f.ground].rgb))
		for i := range b.lines {
			if _, fits := r.towards(vecOf(b.lines[i].rgb)); fits != misses {
				continue next
			}
		}
		b.lines = append(b.lines, flatColor{rgb: f.rgb, count: int(f.count), uniform: true})
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
	m := mixer{tol: b.tol}
	ya, yb := max(0, y0-reach), min(b.h, y1+reach)
	rows := make([][]oddPixel, yb-ya)
	for y := ya; y < yb; y++ {
		for i, x := range b.odd[y] {
			rows[y-ya] = append(rows[y-ya], b.judge(&m, int(x), y, b.toward[y][i]))
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

// judge finds the line color of an odd pixel from the pixel alone. k is the one
// found before line colors were known, or nil.
func (b *labeler) judge(m *mixer, x, y int, k *flatColor) oddPixel {
	rgb := [3]uint8(b.pix[3*(y*b.w+x):])
	o := oddPixel{x: int32(x), color: vecOf(rgb), line: vecOf(rgb)}
	spare := b.groundOf(m, x, y)
	_, o.strength = m.single(o.color)
	if !spare {
		if f := m.nearest(o.color); f.rest < b.tol.faint {
			o.mix, o.ready = m.mixed(x, f), true
			return o
		}
	}
	if f := b.nearestFlat(o.color); f >= 0 && b.flats[f].uniform && maxDistance(b.flats[f].rgb, rgb) <= b.tol.snap {
		o.line, o.label = vecOf(b.flats[f].rgb), b.asked.label(b.flats[f].rgb)
		if alike := b.alike(rgb, x, y); (alike >= 4 || alike == 1 && b.alone(x, y)) && b.ridge(x, y) {
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
	if k == nil && len(b.lines) > 0 {
		k = b.lineColor(m, o.color)
	}
	if k != nil {
		o.line, o.label = vecOf(k.rgb), b.asked.label(k.rgb)
		return o
	}
	if !spare {
		// Where several colors meet, and next to an edge that is not blended in
		// encoded values, the nearest mixture is better than a speck.
		if f := m.nearest(o.color); len(m.ends) > 2 || f.rest < b.tol.speck {
			o.mix, o.ready = m.mixed(x, f), true
			return o
		}
	}
	o.label = b.asked.label(rgb)
	return o
}

// alike counts the pixels of the color rgb in the 5 × 5 around x, y.
func (b *labeler) alike(rgb [3]uint8, x, y int) int {
	n := 0
	for yy := max(0, y-2); yy <= min(b.h-1, y+2); yy++ {
		for xx := max(0, x-2); xx <= min(b.w-1, x+2); xx++ {
			if maxDistance(rgb, [3]uint8(b.pix[3*(yy*b.w+xx):])) <= b.tol.snap {
				n++
			}
		}
	}
	return n
}

// ridge tells whether the pixels on two opposite sides of x, y differ from it
// in the same sense, as beside a line or dot and unlike on an edge's ramp.
func (b *labeler) ridge(x, y int) bool {
	if x < 1 || y < 1 || x >= b.w-1 || y >= b.h-1 {
		return true
	}
	i := y*b.w + x
	p := vecOf([3]uint8(b.pix[3*i:]))
	for _, d := range [4]int{1, b.w, b.w + 1, b.w - 1} {
		u, v := vecOf([3]uint8(b.pix[3*(i+d):])).sub(p), vecOf([3]uint8(b.pix[3*(i-d):])).sub(p)
		if uu, vv := u.dot(u), v.dot(v); uu > b.tol.near && vv > b.tol.near && u.dot(v) > 0 {
			return true
		}
	}
	return false
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
	found, strength := false, int64(-1)
	consider := func(k *oddPixel) {
		if k.ready || k.strength <= strength || k.strength < o.strength {
			return
		}
		m.ends = append(m.ends[:n], end{rgb: k.line, label: k.label})
		ground := m.ends[0]
		if f, ok := b.towards(m, o.color, int(o.x), y, n); ok {
			o.mix, found, strength = m.mixed(int(o.x), f), true, k.strength
		}
		m.ends[0] = ground
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
	o.ready = found
}

// beyond tells whether the line lies between the pixel x, y of color p and an
// end, which then is the ground on the line's other side.
func (b *labeler) beyond(p vec, x, y int, e *end, line vec) bool {
	dx, dy := e.x-x, e.y-y
	ring := max(dx, -dx, dy, -dy)
	d := line.sub(e.rgb)
	at := p.sub(e.rgb).dot(d)
	slack := d.dot(d) / 8
	for k := 1; k < ring; k++ {
		q := vecOf([3]uint8(b.pix[3*((y+dy*k/ring)*b.w+x+dx*k/ring):]))
		if q.sub(e.rgb).dot(d) > at+slack {
			return true
		}
	}
	return false
}

// towards explains p, the color of x, y, as a mixture of one or two of the first
// n ends and the line's color, the end n. Grounds on the other side of the line
// do not count; with no other the pixel is in a gap between lines.
func (b *labeler) towards(m *mixer, p vec, x, y, n int) (blend, bool) {
	best := blend{rest: math.MaxInt64}
	line := m.ends[n].rgb
	var far [maxEnds]bool
	left := n
	for i := range n {
		if m.ends[i].placed && b.beyond(p, x, y, &m.ends[i], line) {
			far[i] = true
			left--
		}
	}
	if left == 0 {
		return b.gap(m, p, n)
	}
	for i := range n {
		if far[i] {
			continue
		}
		t, rest, d2 := onSegment(p, m.ends[i].rgb, line)
		if rest <= m.tol.mix(d2) && rest < best.rest {
			best = blend{n: 2, end: [3]int{i, n}, share: [3]uint8{255 - t, t}, rest: rest}
		}
	}
	if best.n > 0 {
		return best, true
	}
	for i := range n {
		for j := i + 1; j < n; j++ {
			if far[i] || far[j] {
				continue
			}
			share, rest, ok := inTriangle(p, m.ends[i].rgb, m.ends[j].rgb, line)
			if ok && rest <= m.tol.plane && rest < best.rest {
				best = blend{n: 3, end: [3]int{i, j, n}, share: share, rest: rest}
			}
		}
	}
	return best, best.n > 0
}

// gap explains p as a mixture of the line's color, the end n, and the uniform
// color of the picture that is the shortest step on, which takes the place of
// the end 0.
func (b *labeler) gap(m *mixer, p vec, n int) (blend, bool) {
	r := newRay(p, m.ends[n].rgb)
	near := int64(math.MaxInt64)
	for i := range b.flats {
		f := &b.flats[i]
		if !f.uniform {
			continue
		}
		if d2, fits := r.towards(vecOf(f.rgb)); fits != misses && d2 < near {
			near = d2
			m.ends[0] = end{code: f.rgb, rgb: vecOf(f.rgb), label: b.asked.label(f.rgb)}
		}
	}
	if near == math.MaxInt64 {
		return blend{n: 1, end: [3]int{n}, share: [3]uint8{255}}, true
	}
	t, rest, _ := onSegment(p, m.ends[n].rgb, m.ends[0].rgb)
	return blend{n: 2, end: [3]int{n, 0}, share: [3]uint8{255 - t, t}, rest: rest}, true
}
