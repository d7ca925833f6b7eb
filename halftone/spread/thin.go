package spread

import (
	"cmp"
	"math"
	"slices"
	"sync"

	"platewright/halftone"
)

// Kind says what is too small.
type Kind int

// The kinds.
const (
	Line Kind = iota // ink narrower than a line holds
	Gap              // a bare gap in ink that fills in
	Dot              // a lone spot of ink
	Hole             // a lone bare spot in ink
)

// String returns the kind in a word.
func (k Kind) String() string { return [...]string{"line", "gap", "dot", "hole"}[k] }

// Limits are the least widths in millimetres that print; 0 looks for none.
type Limits struct {
	Line, Gap, Dot, Hole float64
}

// Thin is a place too small to print. All lengths are in millimetres, from the
// plate's upper left corner.
type Thin struct {
	Kind         Kind
	Width        float64 // across: of a neck the least, of a spot by its area, else the median
	X, Y, Wd, Ht float64 // the box around it
}

// Find returns what is narrower than the limits on a plate of resolution ppi,
// the narrowest first.
//
// A place is narrow where the largest disk within the ink, centered between
// two opposite edges, is smaller than the limit: there an opening by a disk of
// that size, or for gaps a closing, would change the plate. Corners and tips,
// which both would round, are left out: their width changes by more than a
// pixel in four along them.
func Find(p *halftone.Plate, ppi float64, limits Limits) ([]Thin, error) {
	if _, err := pixels(0, ppi); err != nil {
		return nil, err
	}
	s, err := newShape(p, true)
	if err != nil {
		return nil, err
	}
	var found []Thin
	for _, k := range []struct {
		line, dot           Kind
		lineLimit, dotLimit float64
		inverse             bool
	}{
		{Line, Dot, limits.Line, limits.Dot, true}, // ink is as wide as the way to what is bare
		{Gap, Hole, limits.Gap, limits.Hole, false},
	} {
		widest := max(k.lineLimit, k.dotLimit) * ppi / mmPerInch
		if !(widest > 0) {
			continue
		}
		for _, place := range s.narrow(k.inverse, widest) {
			t := place.thin(mmPerInch / ppi)
			t.Kind = k.line
			limit := k.lineLimit
			if d, ok := s.lone(place, k.inverse); ok {
				t.Kind, t.Width, limit = k.dot, d*mmPerInch/ppi, k.dotLimit
			} else if place.corner(widest) {
				continue
			}
			if t.Width < limit {
				found = append(found, t)
			}
		}
	}
	slices.SortFunc(found, func(a, b Thin) int {
		return cmp.Or(cmp.Compare(a.Width, b.Width), cmp.Compare(a.Y, b.Y), cmp.Compare(a.X, b.X), cmp.Compare(a.Kind, b.Kind))
	})
	return found, nil
}

// middle is a pixel midway between two opposite edges. Lengths are in pixels.
type middle struct {
	x, y   int
	cx, cy float64 // the middle itself
	d      float64 // to the nearest edge
	width  float64
	neck   bool // wider on either side along the middle
}

// narrow returns the places narrower than widest pixels.
func (s *shape) narrow(inverse bool, widest float64) []place {
	m := s.distances(inverse, widest/2+4)
	const margin = 2 // rows on either side that a pixel is compared with
	var mu sync.Mutex
	var all []middle
	parallel(s.h, func(y0, y1 int) {
		var mine []middle
		window := &window{m: m, near: widest/2 + 2, rows: map[int]*distanceRow{}}
		for y := y0; y < y1; y++ {
			for j := y - margin; j <= y+margin; j++ {
				window.load(j)
			}
			delete(window.rows, y-margin-1)
			row := window.rows[y]
			for x, d := range row.d {
				if d > hairline && float64(d) <= widest/2+0.5 {
					if c, ok := window.middle(x, y, widest); ok {
						mine = append(mine, c)
					}
				}
			}
		}
		mu.Lock()
		all = append(all, mine...)
		mu.Unlock()
	})
	slices.SortFunc(all, func(a, b middle) int { return cmp.Or(cmp.Compare(a.y, b.y), cmp.Compare(a.x, b.x)) })
	return gather(all)
}

// window keeps the distances of a few rows, exact up to near.
type window struct {
	m    *Map
	near float64
	rows map[int]*distanceRow
}

// distanceRow is a row's distances to the edge, 0 outside, and the nearest
// pixels beyond it.
type distanceRow struct {
	d    []float32
	x, y []int32
}

func (w *window) load(y int) {
	s := w.m.shape
	if y < 0 || y >= s.h || w.rows[y] != nil {
		return
	}
	b := newRowBuffer(s.w)
	w.m.nearest(b, y)
	r := &distanceRow{make([]float32, s.w), b.x, b.y}
	for x := range r.d {
		if b.y[x] < 0 {
			r.d[x] = float32(math.Inf(1))
			continue
		}
		dx, dy := float64(int(b.x[x])-x), float64(int(b.y[x])-y)
		if d := dx*dx + dy*dy; d > w.near*w.near {
			r.d[x] = float32(math.Sqrt(d)) // to half a pixel: enough to see a slope
		} else if d := w.m.toEdge(x, y, b); d > 0 {
			r.d[x] = float32(d)
		}
	}
	w.rows[y] = r
}

// at returns the distance at the pixel nearest to a place.
func (w *window) at(x, y float64) float64 {
	i, j := int(math.Round(x)), int(math.Round(y))
	if r := w.rows[j]; r != nil && i >= 0 && i < len(r.d) {
		return float64(r.d[i])
	}
	return math.Inf(1)
}

// taper is the change of distance a pixel along the middle above which a place
// is a corner or a tip: an angle of 29° between its edges.
const taper = 0.25

// hairline is the distance to the edge in pixels below which a pixel is on the
// edge rather than inside.
const hairline = 0.25

// middle measures the width at a pixel, and reports whether it lies midway
// between two edges less than widest apart.
func (w *window) middle(x, y int, widest float64) (middle, bool) {
	d := float64(w.rows[y].d[x])
	if w.slope(x, y) > 1.2 {
		return middle{}, false
	}
	c := w.m.chord(x, y, widest)
	if c.width >= widest || c.width > 2.3*d+1.2 {
		return middle{}, false // wide, or not the middle of a disk that touches both edges
	}
	const far = 2
	fx, fy := float64(x), float64(y)
	a, b := w.at(fx-far*c.ny, fy+far*c.nx)-d, w.at(fx+far*c.ny, fy-far*c.nx)-d
	if a > far*taper && b < 0 || b > far*taper && a < 0 {
		return middle{}, false
	}
	return middle{
		x: x, y: y, cx: fx + 0.5 + c.off*c.nx, cy: fy + 0.5 + c.off*c.ny,
		d: d, width: c.width, neck: min(a, b) > 0 && c.width > 1.5,
	}, true
}

// slope returns by how much the distance grows from x, y over two pixels away
// from the nearest edge: 2 beside an edge, 0 midway between two.
func (w *window) slope(x, y int) float64 {
	row := w.rows[y]
	dx, dy := float64(int(row.x[x])-x), float64(int(row.y[x])-y)
	if dx == 0 && dy == 0 { // the edge runs through the pixel
		least := math.Inf(1)
		for j := -1; j <= 1; j++ {
			for i := -1; i <= 1; i++ {
				if d := w.at(float64(x+i), float64(y+j)); d < least && (i != 0 || j != 0) {
					least, dx, dy = d, float64(i), float64(j)
				}
			}
		}
	}
	n := 2 / math.Hypot(dx, dy)
	return w.at(float64(x)-n*dx, float64(y)-n*dy) - float64(row.d[x])
}

// chord is a way through a pixel from edge to edge.
type chord struct {
	width, nx, ny float64
	off           float64 // of its middle from the pixel's, along nx, ny
}

// chord returns the shortest way through pixel x, y whose middle is within half
// a pixel of it. It gives up at widest.
func (m *Map) chord(x, y int, widest float64) chord {
	const directions = 16
	best := chord{width: math.Inf(1)}
	for k := range directions {
		dy, dx := math.Sincos(math.Pi * float64(k) / directions)
		a := m.march(float64(x), float64(y), dx, dy, widest)
		if a >= best.width {
			continue
		}
		b := m.march(float64(x), float64(y), -dx, -dy, widest-a)
		if a+b < best.width && math.Abs(a-b) <= 1.01 {
			best = chord{a + b, dx, dy, (a - b) / 2}
		}
	}
	return best
}

// march returns how far from x, y the edge lies in a direction, at most limit.
func (m *Map) march(x, y, dx, dy, limit float64) float64 {
	const step = 0.25
	before := m.inner(x, y)
	for t := step; t < limit+step; t += step {
		v := m.inner(x+t*dx, y+t*dy)
		if v < 0.5 {
			return t - step*(0.5-v)/(before-v)
		}
		before = v
	}
	return math.Inf(1)
}

// inner returns the share, 0 … 1, of what distances are measured in, between
// pixel centers linearly; beyond the plate as at its border.
func (m *Map) inner(x, y float64) float64 {
	s := m.shape
	x, y = min(max(x, 0), float64(s.w-1)), min(max(y, 0), float64(s.h-1))
	i, j := min(int(x), max(s.w-2, 0)), min(int(y), max(s.h-2, 0))
	fx, fy := x-float64(i), y-float64(j)
	i1, j1 := min(i+1, s.w-1), min(j+1, s.h-1)
	top := float64(s.share[j*s.w+i])*(1-fx) + float64(s.share[j*s.w+i1])*fx
	bottom := float64(s.share[j1*s.w+i])*(1-fx) + float64(s.share[j1*s.w+i1])*fx
	v := (top*(1-fy) + bottom*fy) / 255
	if m.inverse {
		return v
	}
	return 1 - v
}

// place is a group of middles that hang together.
type place []middle

// gather groups middles, sorted by row and column, that lie within four pixels
// of each other.
func gather(all []middle) []place {
	parent := make([]int, len(all))
	root := func(i int) int {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	const reach = 4
	rows := make([]int, reach+1) // per row above, where to look next
	for i, c := range all {
		parent[i] = i
		for k := range rows {
			j := rows[k]
			for j < i && (all[j].y < c.y-k || all[j].y == c.y-k && all[j].x < c.x-reach) {
				j++
			}
			rows[k] = j
			for ; j < i && all[j].y == c.y-k && all[j].x <= c.x+reach; j++ {
				parent[root(i)] = root(j)
			}
		}
	}
	groups := map[int]int{}
	var places []place
	for i, c := range all {
		r := root(i)
		g, ok := groups[r]
		if !ok {
			g = len(places)
			groups[r] = g
			places = append(places, nil)
		}
		places[g] = append(places[g], c)
	}
	return places
}

func (p place) box() (x0, y0, x1, y1 float64) {
	x0, y0, x1, y1 = math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, c := range p {
		r := c.width / 2
		x0, x1 = min(x0, c.cx-r), max(x1, c.cx+r)
		y0, y1 = min(y0, c.cy-r), max(y1, c.cy+r)
	}
	return
}

// width returns the least width of a neck; otherwise the median where the
// place is widest, since middles off the true one have short chords too.
func (p place) width() float64 {
	least, deepest := math.Inf(1), 0.0
	for _, c := range p {
		if c.neck {
			least = min(least, c.width)
		}
		deepest = max(deepest, c.d)
	}
	if !math.IsInf(least, 1) {
		return least
	}
	var w []float64
	for _, c := range p {
		if c.d >= 0.8*deepest {
			w = append(w, c.width)
		}
	}
	slices.Sort(w)
	return w[len(w)/2]
}

// length returns the longer side of the box around the middles.
func (p place) length() float64 {
	x0, y0, x1, y1 := math.MaxInt, math.MaxInt, 0, 0
	for _, c := range p {
		x0, x1, y0, y1 = min(x0, c.x), max(x1, c.x), min(y0, c.y), max(y1, c.y)
	}
	return float64(max(x1-x0, y1-y0) + 1)
}

// lone reports whether the place is a spot, not twice as long as wide and with
// nothing of its kind around it, and returns the diameter of a disk of its area
// in pixels.
func (s *shape) lone(p place, inverse bool) (diameter float64, ok bool) {
	x0, y0, x1, y1 := p.box()
	if max(x1-x0, y1-y0) > 2*p.width()+1 {
		return 0, false
	}
	const clear = 2 // pixels around the box
	left, top := max(int(x0)-clear, 0), max(int(y0)-clear, 0)
	right, bottom := min(int(x1)+clear, s.w-1), min(int(y1)+clear, s.h-1)
	area := 0
	for y := top; y <= bottom; y++ {
		for x := left; x <= right; x++ {
			a := s.share[y*s.w+x]
			if !inverse {
				a = 255 - a
			}
			if a >= half && (x == left || x == right || y == top || y == bottom) {
				return 0, false
			}
			area += int(a)
		}
	}
	return 2 * math.Sqrt(float64(area)/255/math.Pi), true
}

// corner reports whether a place that is no spot is too short to be a line and
// no neck either: the end of a corner.
func (p place) corner(widest float64) bool {
	return p.length() < widest/2 && !slices.ContainsFunc(p, func(c middle) bool { return c.neck })
}

func (p place) thin(mm float64) Thin {
	x0, y0, x1, y1 := p.box()
	x0, y0 = max(x0, 0), max(y0, 0)
	return Thin{Width: p.width() * mm, X: x0 * mm, Y: y0 * mm, Wd: (x1 - x0) * mm, Ht: (y1 - y0) * mm}
}
