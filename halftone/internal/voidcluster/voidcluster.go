// Package voidcluster ranks the points of a torus so that the first k points
// are spread evenly for every k: the void-and-cluster method of R. Ulichney,
// "The void-and-cluster method for dither array generation", Proc. SPIE 1913
// (1993).
package voidcluster

import (
	"math"
	"math/rand/v2"
	"slices"
)

// Kernel is how much a point crowds a place at the squared distance d2.
type Kernel func(d2 float64) float64

// Gaussian returns the kernel of Ulichney 1993, exp(−d²/2σ²).
func Gaussian(sigma float64) Kernel {
	return func(d2 float64) float64 { return math.Exp(-d2 / (2 * sigma * sigma)) }
}

// Sigma is the standard deviation in points of the Gaussian that measures how
// crowded a place is (Ulichney 1993).
const Sigma = 1.5

// kernelScale turns crowding into whole numbers, so that the ranks are the
// same on every machine.
const kernelScale = 1 << 40

// Grid is a set of points on a w × h torus and how crowded every place is.
type Grid struct {
	w, h   int
	kernel []int64 // w·h, by offset
	crowd  []int64
	on     []bool
	rowMax []int // per row, the on point most crowded, −1 for none, or unknown
	rowMin []int // per row, the off place least crowded, likewise
}

// unknown is what a row's extremes are until somebody asks: most changes of the
// grid are followed by a search for only one of the two.
const unknown = -2

// NewGrid returns an empty w × h torus.
func NewGrid(w, h int, kernel Kernel) *Grid {
	g := &Grid{w: w, h: h, kernel: make([]int64, w*h), crowd: make([]int64, w*h), on: make([]bool, w*h),
		rowMax: make([]int, h), rowMin: make([]int, h)}
	for y := range h {
		for x := range w {
			dx, dy := min(x, w-x), min(y, h-y)
			g.kernel[y*w+x] = int64(math.Round(kernelScale * kernel(float64(dx*dx+dy*dy))))
		}
	}
	for y := range h {
		g.forget(y)
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
	if on {
		g.Weigh(i, whole)
	} else {
		g.Weigh(i, -whole)
	}
}

// whole is the crowding, in eighths, of a point of the set.
const whole = 8

// Weigh adds eighths of the crowding that a point at i causes, without
// changing the set.
func (g *Grid) Weigh(i int, eighths int64) {
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
		add(row[:px], k[g.w-px:], eighths)
		add(row[px:], k[:g.w-px], eighths)
		g.forget(y)
	}
	g.forget(py)
}

func add(to, k []int64, eighths int64) {
	k = k[:len(to)]
	for i := range to {
		to[i] += eighths * k[i]
	}
}

func (g *Grid) forget(y int) { g.rowMax[y], g.rowMin[y] = unknown, unknown }

// Cluster returns the point of the set with the most crowded place, or −1.
func (g *Grid) Cluster() int {
	best := -1
	for y, i := range g.rowMax {
		if i == unknown {
			i = -1
			for j := y * g.w; j < (y+1)*g.w; j++ {
				if g.on[j] && (i < 0 || g.crowd[j] > g.crowd[i]) {
					i = j
				}
			}
			g.rowMax[y] = i
		}
		if i >= 0 && (best < 0 || g.crowd[i] > g.crowd[best]) {
			best = i
		}
	}
	return best
}

// Void returns the least crowded place outside the set, or −1.
func (g *Grid) Void() int {
	best := -1
	for y, i := range g.rowMin {
		if i == unknown {
			i = -1
			least := int64(math.MaxInt64)
			for x, c := range g.crowd[y*g.w : (y+1)*g.w] {
				if c < least && !g.on[y*g.w+x] {
					i, least = y*g.w+x, c
				}
			}
			g.rowMin[y] = i
		}
		if i >= 0 && (best < 0 || g.crowd[i] < g.crowd[best]) {
			best = i
		}
	}
	return best
}

// Relax moves the tightest cluster into the largest void until that is where
// it came from, at most n times.
func (g *Grid) Relax(n int) {
	for range n {
		from := g.Cluster()
		g.Set(from, false)
		to := g.Void()
		g.Set(to, true)
		if to == from {
			return
		}
	}
}

// Drain takes all points out, the tightest cluster first, and returns them,
// the last first.
func (g *Grid) Drain() []int {
	var out []int
	for i := g.Cluster(); i >= 0; i = g.Cluster() {
		g.Set(i, false)
		out = append(out, i)
	}
	slices.Reverse(out)
	return out
}

// Scatter adds n places at random, always the same ones.
func (g *Grid) Scatter(n int) {
	rng := rand.New(rand.NewPCG(1993, uint64(len(g.on))))
	for _, i := range rng.Perm(len(g.on))[:n] {
		g.Set(i, true)
	}
}

// Ranks returns for each of the w·h points of a torus its place 0 … w·h−1 in
// the order.
func Ranks(w, h int, kernel Kernel) []int {
	n := w * h
	ranks := make([]int, n)
	g := NewGrid(w, h, kernel)

	// The initial pattern is a tenth of the points.
	count := max(1, n/10)
	g.Scatter(count)
	g.Relax(n)
	start := slices.Clone(g.on)
	for r, i := range g.Drain() {
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
