package film

import (
	"math"
	"math/bits"
)

// sub is the number of steps in a pixel for outlines. Crossings are then whole
// numbers, the same on every machine.
const sub = 256

// point is a place in pixels, y down.
type point struct{ x, y float64 }

// step is one piece of a path: 'm' and 'l' use p[0], 'c' is a cubic through
// p[0], p[1] to p[2].
type step struct {
	op byte
	p  [3]point
}

// edge is one straight piece in 1/sub pixel with y0 < y1.
type edge struct {
	x0, y0, x1, y1 int64
	up             bool
}

// outline is a filled shape (nonzero winding): its curves, for a vector file,
// and its edges, for rows of pixels.
type outline struct {
	steps  []step
	edges  []edge
	y0, y1 int // rows that can carry ink: y0 … y1-1
}

// hair keeps edges that lie between two pixels off the farther one: a PDF reader
// paints every pixel a shape touches, and rounds. 1/64 pixel is under a micron.
const hair = 1.0 / 64

// rect is a bar on whole pixels.
func rect(x0, y0, x1, y1 int) outline {
	l, t, r, b := float64(x0)+hair, float64(y0)+hair, float64(x1)-hair, float64(y1)-hair
	return newOutline([]step{{'m', [3]point{{l, t}}}, {'l', [3]point{{r, t}}}, {'l', [3]point{{r, b}}}, {'l', [3]point{{l, b}}}})
}

// polygon joins points to a filled shape.
func polygon(pts ...point) outline {
	var s []step
	for i, p := range pts {
		op := byte('l')
		if i == 0 {
			op = 'm'
		}
		s = append(s, step{op, [3]point{p}})
	}
	return newOutline(s)
}

// ring is the area between two circles about (cx, cy).
func ring(cx, cy, inner, outer float64) outline {
	return newOutline(append(circle(cx, cy, outer, 1), circle(cx, cy, inner, -1)...))
}

// circle is four cubics; the handle length 4/3·tan(π/8) keeps the radius within
// 0.03 % (memory: the usual approximation). dir = ±1 is its sense.
func circle(cx, cy, r, dir float64) []step {
	const kappa = 0.5522847498307936
	k := float64(r * kappa)
	at := func(x, y float64) point { return point{cx + x, cy + float64(y*dir)} }
	return []step{
		{'m', [3]point{at(r, 0)}},
		{'c', [3]point{at(r, k), at(k, r), at(0, r)}},
		{'c', [3]point{at(-k, r), at(-r, k), at(-r, 0)}},
		{'c', [3]point{at(-r, -k), at(-k, -r), at(0, -r)}},
		{'c', [3]point{at(k, -r), at(r, -k), at(r, 0)}},
	}
}

func newOutline(steps []step) outline {
	o := outline{steps: steps, y0: math.MaxInt, y1: math.MinInt}
	var start, cur point
	line := func(to point) {
		o.addEdge(cur, to)
		cur = to
	}
	for _, s := range steps {
		switch s.op {
		case 'm':
			line(start)
			start, cur = s.p[0], s.p[0]
		case 'l':
			line(s.p[0])
		case 'c':
			from := cur
			n := pieces(from, s.p)
			for i := 1; i <= n; i++ {
				line(cubicAt(from, s.p, float64(i)/float64(n)))
			}
		}
	}
	line(start)
	return o
}

// pieces is how many chords keep a cubic within about 1/16 pixel: the error of
// a chord falls with the square of their number and is at most 3/4·d/n² for a
// control polygon that bends by d (second differences).
func pieces(a point, p [3]point) int {
	bend := func(a, b, c point) float64 {
		return math.Max(math.Abs(a.x-2*b.x+c.x), math.Abs(a.y-2*b.y+c.y))
	}
	d := math.Max(bend(a, p[0], p[1]), bend(p[0], p[1], p[2]))
	return int(math.Ceil(math.Sqrt(12*d))) + 1
}

func cubicAt(a point, p [3]point, t float64) point {
	u := 1 - t
	w0, w1, w2, w3 := u*u*u, 3*u*u*t, 3*u*t*t, t*t*t
	return point{
		float64(w0*a.x) + float64(w1*p[0].x) + float64(w2*p[1].x) + float64(w3*p[2].x),
		float64(w0*a.y) + float64(w1*p[0].y) + float64(w2*p[1].y) + float64(w3*p[2].y),
	}
}

func (o *outline) addEdge(a, b point) {
	e := edge{x0: subpixel(a.x), y0: subpixel(a.y), x1: subpixel(b.x), y1: subpixel(b.y)}
	if e.y0 == e.y1 {
		return
	}
	if e.y0 > e.y1 {
		e.x0, e.y0, e.x1, e.y1, e.up = e.x1, e.y1, e.x0, e.y0, true
	}
	o.edges = append(o.edges, e)
	o.y0 = min(o.y0, int(e.y0>>8))
	o.y1 = max(o.y1, int((e.y1+sub-1)>>8))
}

func subpixel(v float64) int64 { return int64(math.Floor(v*sub + 0.5)) }

// crossing is where an edge meets the center line of a row.
type crossing struct {
	x  int64
	up bool
}

// fill sets the bits of row y of the picture whose pixel centers lie inside.
// xs is scratch, returned for the next call.
func (o *outline) fill(row []byte, w, y int, xs []crossing) []crossing {
	if y < o.y0 || y >= o.y1 {
		return xs
	}
	xs = xs[:0]
	yc := int64(y)*sub + sub/2
	for _, e := range o.edges {
		if yc < e.y0 || yc >= e.y1 {
			continue
		}
		c := crossing{e.x0 + (e.x1-e.x0)*(yc-e.y0)/(e.y1-e.y0), e.up}
		i := len(xs)
		xs = append(xs, c)
		for i > 0 && xs[i-1].x > c.x {
			xs[i] = xs[i-1]
			i--
		}
		xs[i] = c
	}
	wind := 0
	for i, c := range xs {
		if wind != 0 {
			setBits(row, center(xs[i-1].x, w), center(c.x, w))
		}
		if c.up {
			wind--
		} else {
			wind++
		}
	}
	return xs
}

// center is the first pixel whose center is at x or right of it, within 0 … w.
func center(x int64, w int) int {
	return max(0, min(w, int((x+sub/2-1)>>8)))
}

// setBits sets bits x0 … x1-1 of a row.
func setBits(row []byte, x0, x1 int) {
	if x0 >= x1 {
		return
	}
	a, b := x0>>3, (x1-1)>>3
	first, last := byte(0xff)>>(x0&7), byte(0xff)<<(7-(x1-1)&7)
	if a == b {
		row[a] |= first & last
		return
	}
	row[a] |= first
	for i := a + 1; i < b; i++ {
		row[i] = 0xff
	}
	row[b] |= last
}

// orBits lays w bits of src over dst from bit x on. Bits of src beyond w are 0.
func orBits(dst, src []byte, x, w int) {
	n := (w + 7) >> 3
	dst = dst[x>>3:]
	s := uint(x & 7)
	if s == 0 {
		for i, v := range src[:n] {
			dst[i] |= v
		}
		return
	}
	carry := byte(0)
	for i, v := range src[:n] {
		dst[i] |= carry | v>>s
		carry = v << (8 - s)
	}
	if carry != 0 {
		dst[n] |= carry
	}
}

// mirrorBits flips the w bits of a row left to right.
func mirrorBits(row []byte, w int) {
	n := (w + 7) >> 3
	row = row[:n]
	for i, j := 0, n-1; i <= j; i, j = i+1, j-1 {
		row[i], row[j] = bits.Reverse8(row[j]), bits.Reverse8(row[i])
	}
	if s := uint(n*8 - w); s > 0 {
		for i := 0; i < n-1; i++ {
			row[i] = row[i]<<s | row[i+1]>>(8-s)
		}
		row[n-1] <<= s
	}
}

// invertBits turns the w bits of a row over and keeps the bits beyond at 0.
func invertBits(row []byte, w int) {
	n := (w + 7) >> 3
	for i := range row[:n] {
		row[i] = ^row[i]
	}
	if s := uint(n*8 - w); s > 0 {
		row[n-1] &= 0xff << s
	}
}
