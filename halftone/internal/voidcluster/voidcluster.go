// Package voidcluster ranks the points of a torus so that the first k points
// are spread evenly for every k: the void-and-cluster method of R. Ulichney,
// "The void-and-cluster method for dither array generation", Proc. SPIE 1913
// (1993).
package voidcluster

import (
	"math"
	"math/rand/v2"
)

// Sigma is the standard deviation in points of the Gaussian that measures how
// crowded a place is (Ulichney 1993).
const Sigma = 1.5

// kernelScale turns the Gaussian into whole numbers, so that the ranks are the
// same on every machine.
const kernelScale = 1 << 24

// Grid is a set of points on a w × h torus and how crowded every place is.
type Grid struct {
	w, h   int
	kernel []int64 // w·h, by offset
	crowd  []int64
	on     []bool
	rowMax []int // per row, the on point most crowded, or −1
	rowMin []int // per row, the off place least crowded, or −1
}

// NewGrid returns an empty w × h torus with the Gaussian sigma.
func NewGrid(w, h int, sigma float64) *Grid {
	g := &Grid{w: w, h: h, kernel: make([]int64, w*h), crowd: make([]int64, w*h), on: make([]bool, w*h),
		rowMax: make([]int, h), rowMin: make([]int, h)}
	for y := range h {
		for x := range w {
			dx, dy := float64(min(x, w-x)), float64(min(y, h-y))
			g.kernel[y*w+x] = int64(math.Round(kernelScale * math.Exp(-(float64(dx*dx)+float64(dy*dy))/(2*sigma*sigma))))
		}
	}
	for y := range h {
		g.scan(y)
	}
	return g
}

// On reports whether point i = y·w + x is in the set.
func (g *Grid) On(i int) bool { return g.on[i] }

// Set puts point i into the set or takes it out.
func (g *Grid) Set(i int, on bool) {
	if g.on[i] == on {
		return
	}
	g.on[i] = on
	g.Weigh(i, on)
}

// Weigh adds or removes the crowding that a point at i causes, without
// changing the set.
func (g *Grid) Weigh(i int, add bool) {
	sign := int64(1)
	if !add {
		sign = -1
	}
	px, py := i%g.w, i/g.w
	for y := range g.h {
		ky := y - py
		if ky < 0 {
			ky += g.h
		}
		k := g.kernel[ky*g.w : (ky+1)*g.w]
		if k[0] == 0 {
			continue
		}
		row := g.crowd[y*g.w : (y+1)*g.w]
		for x := range row[:px] {
			row[x] += sign * k[x-px+g.w]
		}
		for x, v := range k[:g.w-px] {
			row[px+x] += sign * v
		}
		g.scan(y)
	}
	g.scan(py)
}

func (g *Grid) scan(y int) {
	hi, lo := -1, -1
	for i := y * g.w; i < (y+1)*g.w; i++ {
		if g.on[i] {
			if hi < 0 || g.crowd[i] > g.crowd[hi] {
				hi = i
			}
		} else if lo < 0 || g.crowd[i] < g.crowd[lo] {
			lo = i
		}
	}
	g.rowMax[y], g.rowMin[y] = hi, lo
}

// Cluster returns the point of the set with the most crowded place, or −1.
func (g *Grid) Cluster() int {
	best := -1
	for _, i := range g.rowMax {
		if i >= 0 && (best < 0 || g.crowd[i] > g.crowd[best]) {
			best = i
		}
	}
	return best
}

// Void returns the least crowded place outside the set, or −1.
func (g *Grid) Void() int {
	best := -1
	for _, i := range g.rowMin {
		if i >= 0 && (best < 0 || g.crowd[i] < g.crowd[best]) {
			best = i
		}
	}
	return best
}

// Ranks returns for each of the w·h points of a torus its place 0 … w·h−1 in
// the order.
func Ranks(w, h int, sigma float64) []int {
	n := w * h
	ranks := make([]int, n)
	g := NewGrid(w, h, sigma)

	// An initial tenth at random, evened out by moving the tightest cluster
	// into the largest void until that is where it came from.
	count := max(1, n/10)
	rng := rand.New(rand.NewPCG(1993, uint64(n)))
	for _, i := range rng.Perm(n)[:count] {
		g.Set(i, true)
	}
	for {
		from := g.Cluster()
		g.Set(from, false)
		to := g.Void()
		g.Set(to, true)
		if to == from {
			break
		}
	}
	start := append([]bool(nil), g.on...)

	for r := count - 1; r >= 0; r-- {
		i := g.Cluster()
		g.Set(i, false)
		ranks[i] = r
	}
	for i, on := range start {
		g.Set(i, on)
	}
	// Ulichney's last phase turns to the tightest cluster of the minority,
	// the places still off. Their crowding is a constant less the one kept
	// here, so that it is the same largest void.
	for r := count; r < n; r++ {
		i := g.Void()
		g.Set(i, true)
		ranks[i] = r
	}
	return ranks
}
