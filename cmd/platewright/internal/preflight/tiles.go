package preflight

import (
	"cmp"
	"slices"
)

// tiles counts over a grid of the picture how many of the pixels looked at
// were bad, to say where.
type tiles struct {
	w, h       int // pixels
	mmX, mmY   float64
	cols, rows int
	bad, all   []int
}

const (
	tilesAcross = 32 // along the longer side
	mostPlaces  = 24 // that a finding lists
)

func newTiles(w, h int, wMM, hMM float64) *tiles {
	t := &tiles{w: w, h: h, mmX: wMM / float64(w), mmY: hMM / float64(h)}
	size := max(1, (max(w, h)+tilesAcross-1)/tilesAcross)
	t.cols, t.rows = (w+size-1)/size, (h+size-1)/size
	t.bad, t.all = make([]int, t.cols*t.rows), make([]int, t.cols*t.rows)
	return t
}

func (t *tiles) add(x, y int, bad bool) {
	i := y*t.rows/t.h*t.cols + x*t.cols/t.w
	t.all[i]++
	if bad {
		t.bad[i]++
	}
}

// share is the bad share of all that was looked at, 0 … 1.
func (t *tiles) share() float64 {
	bad, all := 0, 0
	for i, n := range t.all {
		all += n
		bad += t.bad[i]
	}
	return float64(bad) / float64(max(all, 1))
}

// places groups neighboring tiles with more than the given bad share, the group
// with the most bad pixels first. Where no tile has that much, the worst one
// stands for all.
func (t *tiles) places(least float64) []Place {
	above := func(i int, least float64) bool {
		return t.bad[i] > 0 && float64(t.bad[i]) >= least*float64(t.all[i])
	}
	worst := 0.0
	for i, n := range t.all {
		if n > 0 {
			worst = max(worst, float64(t.bad[i])/float64(n))
		}
	}
	if worst == 0 {
		return nil
	}
	least = min(least, worst)
	type group struct {
		x0, y0, x1, y1, bad int
	}
	var groups []group
	done := make([]bool, len(t.all))
	var queue []int
	for i := range t.all {
		if done[i] || !above(i, least) {
			continue
		}
		g := group{t.cols, t.rows, 0, 0, 0}
		queue = append(queue[:0], i)
		done[i] = true
		for len(queue) > 0 {
			k := queue[len(queue)-1]
			queue = queue[:len(queue)-1]
			x, y := k%t.cols, k/t.cols
			g.x0, g.y0, g.x1, g.y1 = min(g.x0, x), min(g.y0, y), max(g.x1, x+1), max(g.y1, y+1)
			g.bad += t.bad[k]
			for _, d := range [][2]int{{-1, 0}, {1, 0}, {0, -1}, {0, 1}} {
				x, y := x+d[0], y+d[1]
				if n := y*t.cols + x; x >= 0 && y >= 0 && x < t.cols && y < t.rows && !done[n] && above(n, least) {
					done[n] = true
					queue = append(queue, n)
				}
			}
		}
		groups = append(groups, g)
	}
	slices.SortStableFunc(groups, func(a, b group) int { return cmp.Compare(b.bad, a.bad) })
	var out []Place
	for _, g := range groups[:min(len(groups), mostPlaces)] {
		edgeX := func(c int) float64 { return float64((c*t.w+t.cols-1)/t.cols) * t.mmX }
		edgeY := func(r int) float64 { return float64((r*t.h+t.rows-1)/t.rows) * t.mmY }
		out = append(out, Place{edgeX(g.x0), edgeY(g.y0), edgeX(g.x1) - edgeX(g.x0), edgeY(g.y1) - edgeY(g.y0)})
	}
	return out
}

// stride is the step between pixels of a sample of about n, sharing no factor
// with the width, so that it walks all columns.
func stride(w, h, n int) int {
	s := max(1, w*h/n)
	for s > 1 && gcd(s, w) > 1 {
		s++
	}
	return s
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}
