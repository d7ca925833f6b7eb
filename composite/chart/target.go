package chart

import (
	"math"
	"sort"
)

// found is a corner target in a picture.
type found struct {
	point
	area       float64 // of the ring
	xx, xy, yy float64 // its second moments
	distinct   bool    // with a hole in its dot
}

// blob is a connected dark region.
type blob struct {
	n              int
	sx, sy         float64
	x0, y0, x1, y1 int
	xx, xy, yy     float64
}

func (b *blob) center() point { return point{b.sx/float64(b.n) + .5, b.sy/float64(b.n) + .5} }

// spread is the second moments around the center.
func (b *blob) spread() (xx, xy, yy float64) {
	n := float64(b.n)
	mx, my := b.sx/n, b.sy/n
	return b.xx/n - mx*mx, b.xy/n - mx*my, b.yy/n - my*my
}

// threshold finds the paper's light in channel c, cell by cell, and returns where
// the picture is darker than half way to the ink of the targets.
func (q *plane) threshold(c int, contrast float64) []bool {
	q.cellPx = max(8, max(q.w, q.h)/48)
	q.cells = (q.w + q.cellPx - 1) / q.cellPx
	rows := (q.h + q.cellPx - 1) / q.cellPx
	raw := make([]float32, q.cells*rows)
	var v []float32
	for cy := range rows {
		for cx := range q.cells {
			v = v[:0]
			for y := cy * q.cellPx; y < min(q.h, (cy+1)*q.cellPx); y += 2 {
				for x := cx * q.cellPx; x < min(q.w, (cx+1)*q.cellPx); x += 2 {
					v = append(v, q.ch[c][y*q.w+x])
				}
			}
			sort.Slice(v, func(a, b int) bool { return v[a] < v[b] })
			raw[cy*q.cells+cx] = v[len(v)*9/10]
		}
	}
	// Paper is the upper part of what is around.
	q.paper = make([]float32, len(raw))
	const reach = 3
	for cy := range rows {
		for cx := range q.cells {
			v = v[:0]
			for y := max(0, cy-reach); y < min(rows, cy+reach+1); y++ {
				for x := max(0, cx-reach); x < min(q.cells, cx+reach+1); x++ {
					v = append(v, raw[y*q.cells+x])
				}
			}
			sort.Slice(v, func(a, b int) bool { return v[a] < v[b] })
			q.paper[cy*q.cells+cx] = v[len(v)*3/4]
		}
	}
	dark := make([]bool, q.w*q.h)
	for y := range q.h {
		for x := range q.w {
			dark[y*q.w+x] = float64(q.ch[c][y*q.w+x]) < (1-contrast/2)*q.paperAt(x, y)
		}
	}
	return dark
}

// paperAt is the paper's light between cells.
func (q *plane) paperAt(x, y int) float64 {
	fx, fy := (float64(x)+.5)/float64(q.cellPx)-.5, (float64(y)+.5)/float64(q.cellPx)-.5
	rows := len(q.paper) / q.cells
	ix, iy := int(math.Floor(fx)), int(math.Floor(fy))
	tx, ty := fx-float64(ix), fy-float64(iy)
	cell := func(i, j int) float64 {
		return float64(q.paper[min(max(j, 0), rows-1)*q.cells+min(max(i, 0), q.cells-1)])
	}
	up := cell(ix, iy) + tx*(cell(ix+1, iy)-cell(ix, iy))
	down := cell(ix, iy+1) + tx*(cell(ix+1, iy+1)-cell(ix, iy+1))
	return up + ty*(down-up)
}

// blobs finds the connected dark regions (union-find over runs of rows).
func blobs(dark []bool, w, h int) []*blob {
	type run struct{ x0, x1, id int }
	var parent []int
	find := func(i int) int {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	var all []run
	var ys []int
	var last []run
	for y := range h {
		var now []run
		for x := 0; x < w; {
			if !dark[y*w+x] {
				x++
				continue
			}
			x0 := x
			for x < w && dark[y*w+x] {
				x++
			}
			r := run{x0, x, len(parent)}
			parent = append(parent, r.id)
			for _, l := range last {
				if l.x0 <= r.x1 && l.x1 >= r.x0 {
					parent[find(r.id)] = find(l.id)
				}
			}
			now = append(now, r)
			all, ys = append(all, r), append(ys, y)
		}
		last = now
	}
	by := map[int]*blob{}
	var out []*blob
	for n, r := range all {
		id := find(r.id)
		b := by[id]
		if b == nil {
			b = &blob{x0: r.x0, x1: r.x1, y0: ys[n], y1: ys[n]}
			by[id] = b
			out = append(out, b)
		}
		y := float64(ys[n])
		for x := r.x0; x < r.x1; x++ {
			fx := float64(x)
			b.n++
			b.sx += fx
			b.sy += y
			b.xx += fx * fx
			b.xy += fx * y
			b.yy += y * y
		}
		b.x0, b.x1, b.y1 = min(b.x0, r.x0), max(b.x1, r.x1), max(b.y1, ys[n])
	}
	return out
}

// The shape of a target, whatever the angle it is seen from: areas and second
// moments of dot and ring keep their ratios.
const (
	dotShare  = dotR * dotR / (targetR*targetR - ringR*ringR)               // .297
	holeShare = (dotR*dotR - holeR*holeR) / (targetR*targetR - ringR*ringR) // .223
	dotSpread = dotR * dotR / (targetR*targetR + ringR*ringR)               // .109
	lightest  = 25                                                          // least pixels of a ring
)

// targetsIn finds everything that looks like a corner target.
func (q *plane) targetsIn(c int, contrast float64) []found {
	dark := q.threshold(c, contrast)
	all := blobs(dark, q.w, q.h)
	var rings, dots []*blob
	for _, b := range all {
		w, h := b.x1-b.x0, b.y1-b.y0+1
		if b.n < 6 || w > q.w/8 || h > q.h/8 || w > 3*h || h > 3*w {
			continue
		}
		fill := float64(b.n) / float64(w*h)
		if fill > .25 && fill < .65 && b.n >= lightest {
			rings = append(rings, b)
		}
		if fill > .35 {
			dots = append(dots, b)
		}
	}
	var out []found
	for _, r := range rings {
		rc := r.center()
		rxx, rxy, ryy := r.spread()
		size := math.Sqrt(rxx + ryy)
		for _, d := range dots {
			if d == r || d.x0 <= r.x0 || d.x1 >= r.x1 || d.y0 <= r.y0 || d.y1 >= r.y1 {
				continue
			}
			if d.center().distance(rc) > .12*size+.5 {
				continue
			}
			share := float64(d.n) / float64(r.n)
			dxx, dxy, dyy := d.spread()
			if share < .1 || share > .55 || (dxx+dyy)/(rxx+ryy) < .04 || (dxx+dyy)/(rxx+ryy) > .25 {
				continue
			}
			// Alike in shape: the moments differ by one factor.
			f := (dxx + dyy) / (rxx + ryy)
			if math.Abs(dxx-f*rxx)+2*math.Abs(dxy-f*rxy)+math.Abs(dyy-f*ryy) > .35*(dxx+dyy)+.6 {
				continue
			}
			p := q.refine(c, rc, rxx, rxy, ryy)
			out = append(out, found{p, float64(r.n), rxx, rxy, ryy, q.hollow(c, p, rxx, rxy, ryy)})
		}
	}
	return out
}

// missing looks for a fourth target that dirt has spoiled, where the other three
// say that it must be: the sheet is nearly a parallelogram.
func (q *plane) missing(c int, marks []found) []found {
	if len(marks) != 3 {
		return nil
	}
	var out []found
	for i := range marks {
		a, b, d := marks[i], marks[(i+1)%3], marks[(i+2)%3]
		p := point{b.x + d.x - a.x, b.y + d.y - a.y}
		xx, xy, yy := (a.xx+b.xx+d.xx)/3, (a.xy+b.xy+d.xy)/3, (a.yy+b.yy+d.yy)/3
		size := math.Sqrt(xx + yy)
		if !q.inside(p, 3*size) {
			continue
		}
		for range 4 {
			p = q.refine(c, p, xx, xy, yy)
		}
		if !q.inside(p, 3*size) {
			continue
		}
		ring := q.rings(c, p, xx, xy, yy)
		if dark, light := ring(4.2), math.Min(ring(2.7), ring(6)); light-dark > .5*leastContrast*light && light-ring(1.5) > .5*leastContrast*light {
			out = append(out, found{p, (a.area + b.area + d.area) / 3, xx, xy, yy, q.hollow(c, p, xx, xy, yy)})
		}
	}
	return out
}

// rings returns a function that gives the mean of channel c on a ring, its radius in
// mm, around the center of a target.
func (q *plane) rings(c int, p point, rxx, rxy, ryy float64) func(r float64) float64 {
	// A circle of radius r has the second moments r²/4 per axis; those of the
	// target's ring are (R²+r²)/4.
	unit := 4 / (targetR*targetR + ringR*ringR)
	a := math.Sqrt(math.Max(rxx*unit, 1e-9))
	b := rxy * unit / a
	d := math.Sqrt(math.Max(ryy*unit-b*b, 1e-9))
	return func(r float64) float64 {
		sum := 0.0
		for k := range 16 {
			sin, cos := math.Sincos(float64(k) * math.Pi / 8)
			sum += q.at(c, p.x+r*a*cos, p.y+r*(b*cos+d*sin)) / 16
		}
		return sum
	}
}

// hollow reports whether the dot of a target has a hole: whether its middle is
// lighter than its body.
func (q *plane) hollow(c int, p point, rxx, rxy, ryy float64) bool {
	ring := q.rings(c, p, rxx, rxy, ryy)
	middle := (q.at(c, p.x, p.y) + ring(.4)) / 2
	body, light := ring(1.5), ring(2.7)
	return middle-body > .3*(light-body)
}

// refine is the center of the darkness of a target.
func (q *plane) refine(c int, p point, rxx, rxy, ryy float64) point {
	unit := 4 / (targetR*targetR + ringR*ringR)
	xx, xy, yy := rxx*unit, rxy*unit, ryy*unit
	det := xx*yy - xy*xy
	if det < 1e-12 {
		return p
	}
	const reach = 5.7 // mm
	rx, ry := reach*math.Sqrt(xx), reach*math.Sqrt(yy)
	for range 2 {
		var sum, sx, sy float64
		for y := int(p.y - ry); y <= int(p.y+ry); y++ {
			for x := int(p.x - rx); x <= int(p.x+rx); x++ {
				if x < 0 || y < 0 || x >= q.w || y >= q.h {
					continue
				}
				dx, dy := float64(x)+.5-p.x, float64(y)+.5-p.y
				if (yy*dx*dx-2*xy*dx*dy+xx*dy*dy)/det > reach*reach {
					continue
				}
				v := math.Max(0, q.paperAt(x, y)*.93-float64(q.ch[c][y*q.w+x]))
				sum += v
				sx += v * dx
				sy += v * dy
			}
		}
		if sum == 0 {
			return p
		}
		p = point{p.x + sx/sum, p.y + sy/sum}
	}
	return p
}

// sharpness is the steepest slope of a channel against its range, per pixel: .5
// and more where edges are sharp.
func (q *plane) sharpness(c int) float64 {
	var slope, value []float64
	step := max(1, q.w*q.h/200000)
	for i := q.w; i < q.w*(q.h-1)-1; i += step {
		v := q.ch[c]
		dx, dy := float64(v[i+1]-v[i-1])/2, float64(v[i+q.w]-v[i-q.w])/2
		slope, value = append(slope, math.Hypot(dx, dy)), append(value, float64(v[i]))
	}
	if len(value) < 100 {
		return 1
	}
	sort.Float64s(slope)
	sort.Float64s(value)
	span := value[len(value)*98/100] - value[len(value)/50]
	if span < .1*value[len(value)/2] {
		return 1 // nothing is there that could have edges
	}
	return slope[len(slope)*998/1000] / math.Max(span, 1e-6)
}
