// Package noise holds point patterns spread evenly over a torus, from which
// stochastic screens are made. They are made by [voidcluster] once and kept,
// since that takes seconds; the package's test makes them anew with -update.
package noise

import (
	_ "embed"
	"encoding/binary"
	"math"

	"platewright/halftone/internal/voidcluster"
)

// Side is the width and the height of the torus in points.
const Side = 256

// counts are how many dots, and as many holes, the sets of seeds have, in steps of √2.
var counts = [...]int{256, 362, 512, 724, 1024, 1448, 2048, 2896, 4096}

// LeastSeeds and MostSeeds are the dots of the smallest and the largest set.
const LeastSeeds, MostSeeds = 256, 4096

// Seeds are centers of dots and as many of holes on a torus of Side × Side points,
// as points y·Side + x. All lie apart from each other; every beginning of either
// list is spread evenly.
type Seeds struct {
	Side        int
	Dots, Holes []int
}

// seedKernel has no scale of its own, unlike a Gaussian, so that beginnings of
// any length spread out.
func seedKernel(d2 float64) float64 {
	d := d2 + 0.5
	return 1 / (float64(d*d) * d)
}

//go:embed ranks.bin
var ranks string

//go:embed seeds.bin
var seeds string

func at(s string, i int) int { return int(binary.LittleEndian.Uint16([]byte(s[2*i : 2*i+2]))) }

// Ranks returns for each point of the torus, row by row, its place in the
// order in which points turn on: blue noise at every tone.
func Ranks() []uint16 {
	r := make([]uint16, Side*Side)
	for i := range r {
		r[i] = uint16(at(ranks, i))
	}
	return r
}

// SeedsUpTo returns the largest set of no more than the given number of dots, or
// the smallest.
func SeedsUpTo(most int) Seeds {
	k, from := 0, 0
	for k+1 < len(counts) && counts[k+1] <= most {
		from += 2 * counts[k]
		k++
	}
	s := Seeds{seedSide(counts[k]), make([]int, counts[k]), make([]int, counts[k])}
	for i := range counts[k] {
		s.Dots[i], s.Holes[i] = at(seeds, from+i), at(seeds, from+counts[k]+i)
	}
	return s
}

// seedSide is the side of a torus with 16 points for each dot.
func seedSide(count int) int { return int(math.Round(4 * math.Sqrt(float64(count)))) }

// makeRanks computes what Ranks returns.
func makeRanks() []int {
	return voidcluster.Ranks(Side, Side, voidcluster.Gaussian(voidcluster.Sigma))
}

// makeSeeds computes a set of seeds, dots before holes: first the dots
// among themselves, then the holes in the voids between the dots and each
// other. A dot crowds a hole by an eighth only: at d⁻⁶ that lets it come √2
// times closer than another hole, as on a checkerboard. Their order is that in
// which the holes alone are closest, the last first.
func makeSeeds(count int) []int {
	side := seedSide(count)
	g := voidcluster.NewGrid(side, side, seedKernel)
	g.Scatter(count)
	g.Relax(8 * count)
	dots := g.Drain()
	for _, i := range dots {
		g.Weigh(i, 1)
	}
	for range count {
		g.Set(g.Void(), true)
	}
	g.Relax(8 * count)
	for _, i := range dots {
		g.Weigh(i, -1)
	}
	return append(dots, g.Drain()...)
}
