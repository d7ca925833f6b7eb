package spread

import (
	"fmt"
	"math"

	"platewright/halftone"
)

// shape is what a plate inks: per pixel the share 0 … 255 of it that ink
// covers, whatever the ink's own coverage. Only open pixels and those beside
// them are covered in part: by their coverage over the most among their
// neighbors.
type shape struct {
	w, h  int
	share []uint8
}

// bare is the coverage below which nothing prints: half a percent.
const bare = halftone.Full / 200

// newShape makes the shape of a plate. Open pixels are bare ones, and with
// gaps also the bottom of a gap so thin that no pixel of it is bare.
func newShape(p *halftone.Plate, gaps bool) (*shape, error) {
	if p.Width <= 0 || p.Height <= 0 || len(p.Cov) != p.Width*p.Height {
		return nil, fmt.Errorf("spread: plate of %d × %d pixels has %d coverages: give width × height of them", p.Width, p.Height, len(p.Cov))
	}
	if max(p.Width, p.Height) > maxSide {
		return nil, fmt.Errorf("spread: plate of %d × %d pixels: sides may have up to %d", p.Width, p.Height, maxSide)
	}
	s := &shape{p.Width, p.Height, make([]uint8, len(p.Cov))}
	parallel(s.h, func(y0, y1 int) {
		var rows [3]edgeRow // of the plate's rows y − 1, y and y + 1
		for i := range rows {
			rows[i] = newEdgeRow(s.w)
		}
		for y := y0 - 1; y <= y1; y++ {
			rows[0], rows[1], rows[2] = rows[1], rows[2], rows[0]
			rows[2].load(p, min(max(y, 0), s.h-1), gaps)
			if y > y0 {
				shares(s.share[(y-1)*s.w:y*s.w], p.Cov[(y-1)*s.w:y*s.w], &rows)
			}
		}
	})
	return s, nil
}

// edgeRow holds for each column of a row the most coverage among three
// columns, and whether one of them is open.
type edgeRow struct {
	most []uint16
	open []bool
}

func newEdgeRow(w int) edgeRow { return edgeRow{make([]uint16, w), make([]bool, w)} }

func (r *edgeRow) load(p *halftone.Plate, y int, gaps bool) {
	row := p.Cov[y*p.Width : (y+1)*p.Width]
	clear(r.open)
	last := len(row) - 1
	for x, c := range row {
		left, right := max(x-1, 0), min(x+1, last)
		r.most[x] = max(row[left], c, row[right])
		if c < bare || gaps && valley(p, x, y) {
			r.open[left], r.open[x], r.open[right] = true, true, true
		}
	}
}

// valley reports whether pixel x, y has less than half the coverage of pixels
// on two opposite sides.
func valley(p *halftone.Plate, x, y int) bool {
	c := 2 * uint32(p.Cov[y*p.Width+x])
	if c > halftone.Full || x < 2 || y < 2 || x >= p.Width-2 || y >= p.Height-2 {
		return false
	}
	at := func(dx, dy int) bool {
		i := (y+dy)*p.Width + x + dx
		return max(uint32(p.Cov[i]), uint32(p.Cov[i+dy*p.Width+dx])) > c
	}
	return at(-1, 0) && at(1, 0) || at(0, -1) && at(0, 1) || at(-1, -1) && at(1, 1) || at(-1, 1) && at(1, -1)
}

// shares sets the shares of the middle row.
func shares(out []uint8, cov []uint16, rows *[3]edgeRow) {
	for x, c := range cov {
		if c < bare {
			continue
		}
		out[x] = 255
		if rows[0].open[x] || rows[1].open[x] || rows[2].open[x] {
			if m := max(rows[0].most[x], rows[1].most[x], rows[2].most[x]); c < m {
				out[x] = uint8(uint32(c) * 255 / uint32(m))
			}
		}
	}
}

// half is the share from which a pixel counts as inked.
const half = 128

// maxSide bounds a side: offsets are kept in 16 bits.
const maxSide = 1<<15 - 2

// none says that a column has no inked pixel near.
const none = math.MinInt16

// Map holds the distance to the edge of the ink for every pixel of a plate. It
// is immutable and takes 3 bytes a pixel.
type Map struct {
	shape   *shape
	inverse bool    // to the edge of what is bare
	limit   float64 // distances beyond it are not wanted
	dy      []int16 // per pixel, down to the nearest one of its column that is inked in part, or none
}

// NewMap measures distances to the ink of a plate: of bare pixels to the
// nearest ink, or with inverse of inked pixels to the nearest bare place.
func NewMap(p *halftone.Plate, inverse bool) (*Map, error) {
	s, err := newShape(p, false)
	if err != nil {
		return nil, err
	}
	return s.distances(inverse, math.Inf(1)), nil
}

// Row writes the distances of row y in pixels into dst[:width]: from the
// pixel's center to the nearest edge, negative (down to −½) for pixels that
// the edge runs through beyond their center or that are inked; +Inf where the
// plate has no ink. Rows may be called from several goroutines at once.
func (m *Map) Row(dst []float32, y int) {
	b := newRowBuffer(m.shape.w)
	m.nearest(b, y)
	for x := range m.shape.w {
		dst[x] = float32(math.Inf(1))
		if b.y[x] >= 0 {
			dst[x] = float32(m.toEdge(x, y, b))
		}
	}
}

func (s *shape) distances(inverse bool, limit float64) *Map {
	flip := uint8(0) // the share of pixels without any of what distances go to
	if inverse {
		flip = 255
	}
	m := &Map{s, inverse, limit, make([]int16, s.w*s.h)}
	reach := int16(min(limit+1, maxSide))
	parallel(s.w, func(x0, x1 int) {
		before := make([]int16, x1-x0) // rows since the last one that has
		for i := range before {
			before[i] = maxSide
		}
		for y := range s.h {
			share, dy := s.share[y*s.w+x0:y*s.w+x1], m.dy[y*s.w+x0:y*s.w+x1]
			for i, a := range share {
				d := min(before[i]+1, maxSide)
				if a != flip {
					d = 0
				}
				before[i], dy[i] = d, -d
			}
		}
		for i := range before {
			before[i] = maxSide
		}
		for y := s.h - 1; y >= 0; y-- {
			dy := m.dy[y*s.w+x0 : y*s.w+x1]
			for i, up := range dy {
				d := min(before[i]+1, maxSide)
				if up == 0 {
					d = 0
				}
				before[i] = d
				if d < -up {
					up = d
				}
				if up > reach || up < -reach || up == -maxSide {
					up = none
				}
				dy[i] = up
			}
		}
	})
	return m
}

// rowBuffer holds the nearest inked pixel of each pixel of a row, y < 0 for
// none.
type rowBuffer struct {
	x, y        []int32
	site, start []int32
}

func newRowBuffer(w int) *rowBuffer {
	return &rowBuffer{make([]int32, w), make([]int32, w), make([]int32, w), make([]int32, w)}
}

// nearest finds the nearest inked pixels of row y: the lower envelope of the
// parabolas (x − i)² + dy²(i).
func (m *Map) nearest(b *rowBuffer, y int) {
	w := m.shape.w
	dy := m.dy[y*w : (y+1)*w]
	site, start := b.site[:w], b.start[:w]
	at := func(x, i int) int {
		g := int(dy[i])
		return (x-i)*(x-i) + g*g
	}
	q := -1
	for u, g := range dy {
		if g == none {
			continue
		}
		for q >= 0 && at(int(start[q]), int(site[q])) > at(int(start[q]), u) {
			q--
		}
		if q < 0 {
			q = 0
			site[0], start[0] = int32(u), 0
			continue
		}
		i := int(site[q])
		gu, gi := int(g), int(dy[i])
		from := 1 + (u*u-i*i+gu*gu-gi*gi)/(2*(u-i))
		if from < w {
			q++
			site[q], start[q] = int32(u), int32(from)
		}
	}
	if q < 0 {
		for x := range b.y[:w] {
			b.y[x] = -1
		}
		return
	}
	far := math.MaxInt
	if l := m.limit + 1; l < maxSide {
		far = int(l * l)
	}
	for x := w - 1; x >= 0; x-- {
		i := int(site[q])
		b.x[x], b.y[x] = int32(i), int32(y+int(dy[i]))
		if at(x, i) > far {
			b.y[x] = -1
		}
		if x == int(start[q]) {
			q--
		}
	}
}

// toEdge returns the distance of pixel x of the row to the edge: the least of
// those given by the nearest inked pixel and its neighbors.
func (m *Map) toEdge(x, y int, b *rowBuffer) float64 {
	s := m.shape
	nx, ny := int(b.x[x]), int(b.y[x])
	best := math.Inf(1)
	for j := max(ny-1, 0); j <= min(ny+1, s.h-1); j++ {
		for i := max(nx-1, 0); i <= min(nx+1, s.w-1); i++ {
			a := s.share[j*s.w+i]
			if m.inverse {
				a = 255 - a
			}
			if a == 0 {
				continue
			}
			best = min(best, edgeBeyond(float64(i-x), float64(j-y), float64(a)/255))
		}
	}
	return best
}

// edgeBeyond returns the distance to the edge through a pixel dx, dy away of
// which the share a lies behind the edge, if the edge is straight and square to
// the way there (S. Gustavson and R. Strand, "Anti-aliased Euclidean distance
// transform", Pattern Recognition Letters 32, 2011).
func edgeBeyond(dx, dy, a float64) float64 {
	d := math.Sqrt(dx*dx + dy*dy) // whole numbers: exact
	if d == 0 {
		return 0.5 - a
	}
	long, short := math.Abs(dx)/d, math.Abs(dy)/d
	if long < short {
		long, short = short, long
	}
	switch corner := 0.5 * short / long; { // the share of a corner the edge cuts off
	case a < corner:
		return d + float64(0.5*(long+short)) - math.Sqrt(2*long*short*a)
	case a > 1-corner:
		return d - float64(0.5*(long+short)) + math.Sqrt(2*long*short*(1-a))
	}
	return d + float64((0.5-a)*long)
}
