package separate

import "math"

// vec is an encoded color or a difference of two.
type vec [3]int32

func vecOf(c [3]uint8) vec    { return vec{int32(c[0]), int32(c[1]), int32(c[2])} }
func (a vec) sub(b vec) vec   { return vec{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func (a vec) dot(b vec) int64 { return int64(a[0]*b[0] + a[1]*b[1] + a[2]*b[2]) }

// An end is a color that an edge pixel may be mixed from.
type end struct {
	code  [3]uint8
	rgb   vec // the same
	label uint16
	x, y  int // the nearest core of that color
	// placed is not set for colors of the picture without a core nearby.
	placed bool
}

// A blend is a color as a mixture of up to three ends: their indices, the
// shares in 1/255, and the squared distance left over.
type blend struct {
	n     int
	end   [3]int
	share [3]uint8
	rest  int64
}

// A tolerance says how far from its explanation, in encoded values, a pixel may
// be: for rounding and compression, and for blending in other than encoded
// values.
type tolerance struct {
	near   int64   // squared distance at which a pixel counts as one of its ends
	base   float64 // distance from a mixture of two ends
	slope  float64 // the same, per distance of the ends
	plane  int64   // squared distance from a mixture of three ends
	same   int32   // difference in any channel up to which two cores are one end
	snap   int32   // the same, up to which a core takes the label of a uniform color
	faint  int64   // squared distance from all around below which an odd pixel is noise
	speck  int64   // the same, where the pixel is no part of a line either
	strict bool    // small details count
}

// exactly suits drawings as a program saves them.
func exactly() *tolerance {
	return &tolerance{near: 12 * 12, base: 8, slope: .1, plane: 12 * 12, same: 12, snap: 6, speck: 32 * 32, strict: true}
}

// lossy suits drawings compressed as JPEG of quality 50 and more: the noise
// beside an edge is a fifth of its height at most, and color is smeared over
// two pixels. TestLabelsJPEG holds it.
func lossy() *tolerance {
	return &tolerance{near: 30 * 30, base: 22, slope: .16, plane: 24 * 24, same: 24, snap: 14, faint: 70 * 70, speck: 90 * 90}
}

func (t *tolerance) mix(d2 int64) int64 {
	v := t.base + float64(math.Sqrt(float64(d2))*t.slope)
	return int64(v * v)
}

// A mixer explains pixels by the colors around them. It is the scratch of one
// goroutine.
type mixer struct {
	tol  *tolerance
	ends []end
}

// maxEnds limits the colors around a pixel that are tried.
const maxEnds = 5

// collect adds to ends the colors of the cores at a distance of ring pixels
// from x, y.
func (b *labeler) collect(m *mixer, x, y, ring int) {
	var last [3]uint8
	for dy := -ring; dy <= ring; dy++ {
		yy := y + dy
		if yy < 0 || yy >= b.h {
			continue
		}
		step := 1
		if dy != -ring && dy != ring {
			step = 2 * ring
		}
		for dx := -ring; dx <= ring; dx += step {
			xx := x + dx
			if xx < 0 || xx >= b.w {
				continue
			}
			i := yy*b.w + xx
			if b.core[i] == 0 {
				continue
			}
			if c := [3]uint8(b.pix[3*i:]); c != last || len(m.ends) == 0 {
				b.addEnd(m, c, b.label[i], xx, yy)
				last = c
			}
		}
	}
}

func (b *labeler) addEnd(m *mixer, rgb [3]uint8, label uint16, x, y int) {
	for j := range m.ends {
		if maxDistance(m.ends[j].code, rgb) <= m.tol.same {
			return
		}
	}
	if len(m.ends) < maxEnds {
		m.ends = append(m.ends, end{rgb, vecOf(rgb), label, x, y, true})
	}
}

// single finds the end nearest to p.
func (m *mixer) single(p vec) (int, int64) {
	best, rest := -1, int64(math.MaxInt64)
	for i := range m.ends {
		d := p.sub(m.ends[i].rgb)
		if r := d.dot(d); r < rest {
			best, rest = i, r
		}
	}
	return best, rest
}

// pair explains p as a mixture of two ends, if that can be done within the
// tolerance.
func (m *mixer) pair(p vec) (blend, bool) {
	best := blend{rest: math.MaxInt64}
	for i := range m.ends {
		for j := i + 1; j < len(m.ends); j++ {
			t, rest, d2 := onSegment(p, m.ends[i].rgb, m.ends[j].rgb)
			if rest <= m.tol.mix(d2) && rest < best.rest {
				best = blend{n: 2, end: [3]int{i, j}, share: [3]uint8{255 - t, t}, rest: rest}
			}
		}
	}
	return best, best.n == 2
}

// nearest explains p as the mixture of two ends, or the end, that comes nearest.
func (m *mixer) nearest(p vec) blend {
	i, rest := m.single(p)
	best := blend{n: 1, end: [3]int{i}, share: [3]uint8{255}, rest: rest}
	for i := range m.ends {
		for j := i + 1; j < len(m.ends); j++ {
			if t, rest, _ := onSegment(p, m.ends[i].rgb, m.ends[j].rgb); rest < best.rest {
				best = blend{n: 2, end: [3]int{i, j}, share: [3]uint8{255 - t, t}, rest: rest}
			}
		}
	}
	return best
}

// onSegment returns the place of the point of the segment from a to b that is
// nearest to p, 0 … 255, its squared distance from p, and that of b from a.
func onSegment(p, a, b vec) (t uint8, rest, d2 int64) {
	d, q := b.sub(a), p.sub(a)
	d2 = d.dot(d)
	dq := d.dot(q)
	switch {
	case dq <= 0 || d2 == 0:
		return 0, q.dot(q), d2
	case dq >= d2:
		r := p.sub(b)
		return 255, r.dot(r), d2
	}
	return uint8((255*dq + d2/2) / d2), q.dot(q) - dq*dq/d2, d2
}

// inTriangle returns the shares of a, b and c in the point of their plane
// nearest to p and its squared distance from p; ok is false where the point is
// outside of the triangle.
func inTriangle(p, a, b, c vec) (share [3]uint8, rest int64, ok bool) {
	e, f, q := b.sub(a), c.sub(a), p.sub(a)
	ee, ff, ef := e.dot(e), f.dot(f), e.dot(f)
	qe, qf := q.dot(e), q.dot(f)
	det := ee*ff - ef*ef
	if det <= ee*ff/64 { // nearly on one line
		return share, 0, false
	}
	u, v := qe*ff-qf*ef, qf*ee-qe*ef
	if u < 0 || v < 0 || u+v > det {
		return share, 0, false
	}
	fu, fv := float64(u)/float64(det), float64(v)/float64(det)
	share[1] = uint8(math.RoundToEven(float64(fu * 255)))
	share[2] = uint8(min(math.RoundToEven(float64(fv*255)), float64(255-share[1])))
	share[0] = 255 - share[1] - share[2]
	rest = q.dot(q) - int64(float64(fu*float64(qe))) - int64(float64(fv*float64(qf)))
	return share, max(rest, 0), true
}

// triple explains p as a mixture of three ends.
func (m *mixer) triple(p vec) (blend, bool) {
	best := blend{rest: math.MaxInt64}
	for i := range m.ends {
		for j := i + 1; j < len(m.ends); j++ {
			for k := j + 1; k < len(m.ends); k++ {
				share, rest, ok := inTriangle(p, m.ends[i].rgb, m.ends[j].rgb, m.ends[k].rgb)
				if ok && rest <= m.tol.plane && rest < best.rest {
					best = blend{n: 3, end: [3]int{i, j, k}, share: share, rest: rest}
				}
			}
		}
	}
	return best, best.n == 3
}

// mixRow explains the pixels of row y that are no cores by the cores around
// them; what cannot be explained is odd.
func (b *labeler) mixRow(m *mixer, y int) {
	for x := range b.w {
		i := y*b.w + x
		if b.core[i] != 0 {
			continue
		}
		if b.hard {
			g := plain(b.asked.label([3]uint8(b.pix[3*i:])))
			g.x = int32(x)
			b.mix[y] = append(b.mix[y], g)
			continue
		}
		p := vecOf([3]uint8(b.pix[3*i:]))
		f, ok := b.explain(m, p, x, y)
		if !ok {
			b.odd[y] = append(b.odd[y], int32(x))
			continue
		}
		if g := m.mixed(x, f); g.n == 1 {
			b.label[i] = g.label[0]
		} else {
			b.mix[y] = append(b.mix[y], g)
		}
	}
}

// explain finds p as a mixture of cores near x, y: of those at one pixel's
// distance if they will do, else of farther ones.
func (b *labeler) explain(m *mixer, p vec, x, y int) (blend, bool) {
	m.ends = m.ends[:0]
	for ring := 1; ring <= 3; ring++ {
		had := len(m.ends)
		b.collect(m, x, y, ring)
		if len(m.ends) == had {
			continue
		}
		if len(m.ends) >= 2 {
			if f, ok := m.pair(p); ok && b.reaches(m, &f, x, y) {
				return f, true
			}
			if f, ok := m.triple(p); ok && b.reaches(m, &f, x, y) {
				return f, true
			}
		}
		if ring == 1 {
			if e, rest := m.single(p); rest <= m.tol.near && len(m.ends) == 1 {
				return blend{n: 1, end: [3]int{e}, share: [3]uint8{255}, rest: rest}, true
			}
		}
	}
	if e, rest := m.single(p); rest <= m.tol.near {
		return blend{n: 1, end: [3]int{e}, share: [3]uint8{255}, rest: rest}, true
	}
	return blend{}, false
}

// reaches tells whether the pixels between x, y and the ends of a blend are of
// colors between those ends, so that no thin line lies between.
func (b *labeler) reaches(m *mixer, f *blend, x, y int) bool {
	for _, i := range f.end[:f.n] {
		e := &m.ends[i]
		dx, dy := e.x-x, e.y-y
		ring := max(dx, -dx, dy, -dy)
		for k := 1; k < ring; k++ {
			q := vecOf([3]uint8(b.pix[3*((y+dy*k/ring)*b.w+x+dx*k/ring):]))
			near := false
			for g, j := range f.end[:f.n] {
				for _, k := range f.end[g+1 : f.n] {
					_, rest, d2 := onSegment(q, m.ends[j].rgb, m.ends[k].rgb)
					near = near || rest <= 2*m.tol.mix(d2)
				}
			}
			if !near {
				return false
			}
		}
	}
	return true
}

// mixed turns a blend of ends into shares of labels, the largest first.
func (m *mixer) mixed(x int, f blend) mixed {
	g := mixed{x: int32(x)}
	for i := range f.n {
		if f.share[i] == 0 {
			continue
		}
		label := m.ends[f.end[i]].label
		k := 0
		for k < int(g.n) && g.label[k] != label {
			k++
		}
		if k == int(g.n) {
			g.n++
			g.label[k] = label
		}
		g.share[k] += f.share[i]
	}
	for i := 1; i < int(g.n); i++ {
		for j := i; j > 0 && g.share[j] > g.share[j-1]; j-- {
			g.share[j], g.share[j-1] = g.share[j-1], g.share[j]
			g.label[j], g.label[j-1] = g.label[j-1], g.label[j]
		}
	}
	return g
}
