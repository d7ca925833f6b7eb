package chart

import "math"

type point struct{ x, y float64 }

func (p point) minus(q point) point      { return point{p.x - q.x, p.y - q.y} }
func (p point) distance(q point) float64 { return math.Hypot(p.x-q.x, p.y-q.y) }

// A view takes millimetres on the sheet to pixels of a picture: a plane seen in
// perspective (homography).
type view [9]float64

// newView returns the view that takes four points to four others, false where
// three of them lie on a line.
func newView(from, to [4]point) (v view, ok bool) {
	var a [8][9]float64
	for i := range 4 {
		x, y, u, w := from[i].x, from[i].y, to[i].x, to[i].y
		a[2*i] = [9]float64{x, y, 1, 0, 0, 0, -u * x, -u * y, u}
		a[2*i+1] = [9]float64{0, 0, 0, x, y, 1, -w * x, -w * y, w}
	}
	for c := range 8 {
		best := c
		for r := c + 1; r < 8; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[best][c]) {
				best = r
			}
		}
		if math.Abs(a[best][c]) < 1e-9 {
			return v, false
		}
		a[c], a[best] = a[best], a[c]
		for r := range 8 {
			if r != c {
				f := a[r][c] / a[c][c]
				for k := c; k < 9; k++ {
					a[r][k] -= f * a[c][k]
				}
			}
		}
	}
	for i := range 8 {
		v[i] = a[i][8] / a[i][i]
	}
	v[8] = 1
	for _, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return v, false
		}
	}
	return v, true
}

func (v *view) at(x, y float64) point {
	w := v[6]*x + v[7]*y + v[8]
	return point{(v[0]*x + v[1]*y + v[2]) / w, (v[3]*x + v[4]*y + v[5]) / w}
}
