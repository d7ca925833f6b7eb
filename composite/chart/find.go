package chart

import (
	"fmt"
	"math"
	"sort"
)

// find finds the sheet.
func (c *Chart) find(p *Picture) (*page, error) {
	fail := func(kind Fault, format string, args ...any) (*page, error) {
		return nil, &ReadError{p.Name, kind, fmt.Sprintf(format, args...)}
	}
	if p.Width < 300 || p.Height < 300 {
		return fail(Small, "%d × %d pixels are too few to read a chart; scan at 150 dpi or more", p.Width, p.Height)
	}
	q := reduce(p)
	// The targets are searched where they stand out most, and then elsewhere: in
	// another ink they are still targets, and what went wrong can be named.
	var marks []found
	var at [4]point
	best, mirrored := "", ""
	tried := false
	for n := range 3 {
		q.channel = (c.Channel + n) % 3
		contrast := c.contrast()
		if n > 0 {
			contrast = 2 * leastContrast
		}
		seen := q.targetsIn(q.channel, contrast)
		if n == 0 || len(seen) > len(marks) {
			marks = seen
		}
		for _, four := range fours(append(seen, q.missing(q.channel, seen)...)) {
			tried = true
			for _, flip := range []bool{false, true} {
				to := four
				if flip {
					to[1], to[3] = to[3], to[1]
				}
				v, ok := newView(c.targets(), to)
				if !ok {
					continue
				}
				code, ok := c.readCode(q, &v)
				switch {
				case !ok:
				case flip:
					mirrored = code
				case best == "" || code == c.Code:
					best, at = code, to
				}
			}
			if best == c.Code {
				break
			}
		}
		if best != "" || mirrored != "" {
			break
		}
	}
	switch level, sharp := q.level(), q.sharpness(q.channel); {
	case best == c.Code:
		g := &page{plane: q}
		g.view, _ = newView(c.targets(), at)
		if rise := c.rise(g); rise > 1.2 {
			return fail(Blurred, "the picture is out of focus, edges are %.1f mm wide; clean the glass, lay the sheet flat, hold the camera still", rise)
		}
		if level < .06 {
			return fail(Dark, "the picture is too dark, the paper has %.0f %% of full light; scan or expose brighter", 100*level)
		}
		return g, nil
	case best != "":
		return fail(Wrong, "this is chart %s and chart.toml is of chart %s; take the chart.toml made with these films", best, c.Code)
	case mirrored != "":
		return fail(Mirrored, "the sheet is mirrored: a film lay wrong side up, or the picture was flipped; flip the picture, or print with the film right-reading")
	case level < .06:
		return fail(Dark, "the picture is too dark, the lightest parts have %.0f %% of full light; scan or expose brighter", 100*level)
	case sharp < .12:
		return fail(Blurred, "the picture is out of focus; clean the glass, lay the sheet flat, hold the camera still")
	case len(marks) == 3:
		return fail(CutOff, "a corner of the sheet is cut off, three of the four targets are seen; show the whole sheet with some of what is around it")
	case len(marks) == 2 || len(marks) == 1:
		return fail(CutOff, "%d of the four corner targets are seen; show the whole sheet, flat and unfolded", len(marks))
	case tried:
		return fail(Wrong, "targets are seen but not the code of this chart between the upper ones; take the chart.toml made with these films, and keep the code uncovered")
	case len(marks) > 3:
		return fail(Wrong, "the targets do not stand as on a chart; show one sheet at a time, whole and flat")
	default:
		return fail(NotFound, "no chart is seen; lay the sheet with the printed side to the glass, whole, and check that the targets are printed with %s", c.Inks[c.MarkInk].Name)
	}
}

// contrast is the share of light that the targets take away in their channel.
func (c *Chart) contrast() float64 {
	ink, paper := c.Inks[c.MarkInk].xyz.Linear(), c.Paper.xyz.Linear()
	return math.Min(1, math.Max(leastContrast, 1-ink[c.Channel]/paper[c.Channel]))
}

// level is how light the lighter part of a picture is, in the channel searched.
func (q *plane) level() float64 {
	v := append([]float32(nil), q.paper...)
	sort.Slice(v, func(a, b int) bool { return v[a] < v[b] })
	return float64(v[len(v)*3/4])
}

// fours lists sets of four targets that stand as corners, clockwise from the one
// that differs, which there is once.
func fours(marks []found) (out [][4]point) {
	if len(marks) > 14 {
		sort.Slice(marks, func(a, b int) bool { return marks[a].area > marks[b].area })
		marks = marks[:14]
	}
	for first := range marks {
		if !marks[first].distinct {
			continue
		}
		for i := range marks {
			for j := i + 1; j < len(marks); j++ {
				for k := j + 1; k < len(marks); k++ {
					if i == first || j == first || k == first || marks[i].distinct || marks[j].distinct || marks[k].distinct {
						continue
					}
					least, most := marks[first].area, marks[first].area
					for _, n := range [...]int{i, j, k} {
						least, most = math.Min(least, marks[n].area), math.Max(most, marks[n].area)
					}
					if most > 6*least {
						continue
					}
					if four, ok := around(marks[first].point, marks[i].point, marks[j].point, marks[k].point); ok {
						out = append(out, four)
					}
				}
			}
		}
	}
	return out
}

// around orders four points clockwise from the first, false where one lies
// within the others.
func around(p ...point) (out [4]point, ok bool) {
	var m point
	for _, q := range p {
		m.x += q.x / 4
		m.y += q.y / 4
	}
	angle := func(q point) float64 {
		a := math.Atan2(q.y-m.y, q.x-m.x) - math.Atan2(p[0].y-m.y, p[0].x-m.x)
		if a < -1e-12 {
			a += 2 * math.Pi
		}
		return a
	}
	s := append([]point(nil), p...)
	sort.Slice(s, func(a, b int) bool { return angle(s[a]) < angle(s[b]) })
	copy(out[:], s)
	if out[0] != p[0] {
		return out, false
	}
	for i := range 4 {
		a, b, c := out[i], out[(i+1)%4], out[(i+2)%4]
		u, v := b.minus(a), c.minus(b)
		if u.x*v.y-u.y*v.x < .2*math.Hypot(u.x, u.y)*math.Hypot(v.x, v.y) {
			return out, false
		}
	}
	return out, true
}

// readCode reads the code between the upper targets.
func (c *Chart) readCode(q *plane, v *view) (string, bool) {
	x, y, _ := c.cells()
	var value [cellN]float64
	lo, hi := math.Inf(1), math.Inf(-1)
	for n := range value {
		var s []float64
		for dy := -.25; dy <= .25; dy += .125 {
			for dx := -.25; dx <= .25; dx += .125 {
				p := v.at(x+(float64(n)+.5+dx)*cellW, y+(.5+dy)*cellW)
				if !q.inside(p, 1) {
					return "", false
				}
				s = append(s, q.at(q.channel, p.x, p.y))
			}
		}
		sort.Float64s(s)
		value[n] = s[len(s)/2]
		lo, hi = math.Min(lo, value[n]), math.Max(hi, value[n])
	}
	if hi-lo < .3*leastContrast*hi {
		return "", false
	}
	var on [cellN]bool
	for n, s := range value {
		on[n] = s < (lo+hi)/2
	}
	var code uint16
	for i := range 16 {
		code <<= 1
		if on[4+i] {
			code |= 1
		}
	}
	return fmt.Sprintf("%04x", code), codeBits(code) == on
}

// rise is the width of an edge of the targets in mm: from 20 to 80 percent, over
// what a sharp edge has by the size of pixels.
func (c *Chart) rise(g *page) float64 {
	var widths []float64
	for _, t := range c.targets() {
		for k := range 24 {
			sin, cos := math.Sincos(float64(k) * math.Pi / 12)
			var prof []float64
			for r := 4.2; r < 6.8; r += .02 {
				p := g.view.at(t.x+r*cos, t.y+r*sin)
				if !g.inside(p, 1) {
					return 0
				}
				prof = append(prof, g.at(g.channel, p.x, p.y))
			}
			lo, hi := prof[0], prof[len(prof)-1]
			if hi-lo < .1*hi {
				continue
			}
			a, b := -1, -1
			for i, v := range prof {
				f := (v - lo) / (hi - lo)
				if a < 0 && f > .2 {
					a = i
				}
				if b < 0 && f > .8 {
					b = i
				}
			}
			if a >= 0 && b >= a {
				widths = append(widths, float64(b-a)*.02)
			}
		}
	}
	if len(widths) == 0 {
		return 99
	}
	sort.Float64s(widths)
	return widths[len(widths)/2]
}
