package voidcluster

import (
	"math"
	"testing"
)

// A beginning of the order is spread: no two of the first k points are
// closer than half of the closest in a triangular lattice as dense.
func TestRanksSpread(t *testing.T) {
	for _, size := range [][2]int{{1, 1}, {2, 2}, {5, 5}, {16, 16}, {32, 20}} {
		w, h := size[0], size[1]
		ranks := Ranks(w, h, Gaussian(Sigma))
		order := make([]int, w*h)
		for i := range order {
			order[i] = -1
		}
		for i, r := range ranks {
			if r < 0 || r >= len(order) || order[r] >= 0 {
				t.Fatalf("%d × %d: rank %d of point %d is not one of a permutation", w, h, r, i)
			}
			order[r] = i
		}
		for k := len(order) / 16; k < len(order)/8; k++ {
			least := math.Inf(1)
			for i, p := range order[:k] {
				for _, q := range order[:i] {
					dx, dy := math.Abs(float64(p%w-q%w)), math.Abs(float64(p/w-q/w))
					least = min(least, math.Hypot(min(dx, float64(w)-dx), min(dy, float64(h)-dy)))
				}
			}
			if want := math.Sqrt(2/math.Sqrt(3)*float64(w*h)/float64(k)) / 2; k > 1 && least < want {
				t.Errorf("%d × %d, first %d: two are %.2f apart, want %.2f", w, h, k, least, want)
			}
		}
	}
}

// Taking a point out undoes putting it in, and cluster and void are those of a
// search through all places.
func TestGridAgainstSearch(t *testing.T) {
	const w, h = 13, 9
	g := NewGrid(w, h, Gaussian(Sigma))
	g.Scatter(30)
	for step := range 60 {
		crowd := make([]int64, w*h)
		for i := range crowd {
			for j := range crowd {
				if g.On(j) {
					dx, dy := (i%w-j%w+w)%w, (i/w-j/w+h)%h
					crowd[i] += whole * g.kernel[dy*w+dx]
				}
			}
		}
		cluster, void := g.Cluster(), g.Void()
		for i, c := range crowd {
			if c != g.crowd[i] {
				t.Fatalf("step %d: place %d crowded %d, want %d", step, i, g.crowd[i], c)
			}
			if g.On(i) && c > crowd[cluster] || !g.On(i) && c < crowd[void] {
				t.Fatalf("step %d: cluster %d, void %d, but %d is crowded %d", step, cluster, void, i, c)
			}
		}
		g.Set(cluster, step%3 == 0) // some stay, some go
		if step%2 == 0 {
			g.Set(void, true)
		}
	}
	if n := len(g.Drain()); n == 0 || g.Cluster() != -1 {
		t.Errorf("drained %d points, cluster then %d", n, g.Cluster())
	}
}
