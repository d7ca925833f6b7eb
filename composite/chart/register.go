package chart

import (
	"math"

	"platewright/composite/internal/cholesky"
)

// register reads the pairs of discs: what their distance is more than true.
func (c *Chart) register(r *Reading) {
	r.Register = make([]Register, len(c.Inks))
	count := make([]float64, len(c.Inks))
	for _, g := range r.pages {
		for _, p := range c.Pairs {
			ref, ok1 := c.disc(g, p.X, p.Y, c.MarkInk)
			own, ok2 := c.disc(g, p.X+p.Step, p.Y, p.Ink)
			if !ok1 || !ok2 {
				continue
			}
			reg := &r.Register[p.Ink]
			reg.X += own.x - ref.x - p.Step
			reg.Y += own.y - ref.y
			count[p.Ink]++
		}
	}
	for i := range r.Register {
		if n := count[i]; n > 0 {
			reg := &r.Register[i]
			reg.X, reg.Y, reg.Read = reg.X/n, reg.Y/n, true
			reg.MM = math.Hypot(reg.X, reg.Y)
		}
	}
}

// disc is the center, in mm on the sheet, of a disc that an ink printed near
// x, y: of the darkness there in the channel in which the ink is darkest.
func (c *Chart) disc(g *page, x, y float64, i int) (point, bool) {
	ink, paper := c.Inks[i].xyz.Linear(), c.Paper.xyz.Linear()
	ch, contrast := 0, 0.0
	for k := range ink {
		if d := 1 - ink[k]/paper[k]; d > contrast {
			ch, contrast = k, d
		}
	}
	at := point{x, y}
	const step = .06
	for n := range 4 {
		// At first with room for an ink that lies far off, then close.
		reach := discR + 1.2
		if n > 1 {
			reach = discR + .6
		}
		var sum, sx, sy float64
		for dy := -reach; dy <= reach; dy += step {
			for dx := -reach; dx <= reach; dx += step {
				if dx*dx+dy*dy > reach*reach {
					continue
				}
				p := g.view.at(at.x+dx, at.y+dy)
				if !g.inside(p, 1) {
					return at, false
				}
				v := 1 - g.at(ch, p.x, p.y)/g.light.at(at.x, at.y)[ch]
				if v < contrast/3 { // paper with its noise
					continue
				}
				v = math.Min(v, contrast)
				sum += v
				sx += v * dx
				sy += v * dy
			}
		}
		if sum*step*step < .4*contrast*math.Pi*discR*discR {
			return at, false
		}
		at = point{at.x + sx/sum, at.y + sy/sum}
	}
	for range 2 {
		at = g.edge(ch, at)
	}
	return at, at.distance(point{x, y}) < 3
}

// edge moves the center of a disc so that its edge lies equally far on all sides:
// the edge is where half the light is reached between 1.2 and 2.8 mm, and
// directions in which dust stands there count little.
func (g *page) edge(ch int, at point) point {
	const n, from, step = 72, 1.2, .02
	l := g.light.at(at.x, at.y)[ch]
	var r, cos, sin, weight [n]float64
	for k := range n {
		sin[k], cos[k] = math.Sincos(2 * math.Pi * float64(k) / n)
		value := func(d float64) float64 {
			p := g.view.at(at.x+d*cos[k], at.y+d*sin[k])
			if !g.inside(p, 1) {
				return l
			}
			return g.at(ch, p.x, p.y)
		}
		half := (value(from) + l) / 2
		for r[k] = from; r[k] < 2.8 && value(r[k]) < half; r[k] += step {
		}
		weight[k] = 1
	}
	var mean, dx, dy float64
	for range 8 {
		a, b := make([]float64, 9), make([]float64, 3)
		for k := range n {
			t := [3]float64{1, cos[k], sin[k]}
			for i := range t {
				b[i] += weight[k] * t[i] * r[k]
				for j := range t {
					a[3*i+j] += weight[k] * t[i] * t[j]
				}
			}
		}
		cholesky.Solve(a, b)
		mean, dx, dy = b[0], b[1], b[2]
		for k := range n {
			d := (r[k] - mean - dx*cos[k] - dy*sin[k]) / .05
			weight[k] = 1 / (1 + d*d)
		}
	}
	return point{at.x + dx, at.y + dy}
}
