// Package noise holds point patterns spread evenly over a torus, from which
// stochastic screens are made. They are made by [voidcluster] once and kept,
// since that takes seconds; the package's test makes them anew with -update.
package noise

import (
	_ "embed"
	"encoding/binary"

	"platewright/halftone/internal/voidcluster"
)

// Side is the width and the height of the torus in points.
const Side = 256

// SeedCount is how many dots and how many holes Seeds has.
const SeedCount = Side * Side / 16

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

// Seeds returns SeedCount centers of dots and as many of holes, as points
// y·Side + x. All lie apart from each other; every beginning of either list is
// spread evenly.
func Seeds() (dots, holes []int) {
	dots, holes = make([]int, SeedCount), make([]int, SeedCount)
	for i := range SeedCount {
		dots[i], holes[i] = at(seeds, i), at(seeds, SeedCount+i)
	}
	return dots, holes
}

// makeRanks computes what Ranks returns.
func makeRanks() []int {
	return voidcluster.Ranks(Side, Side, voidcluster.Gaussian(voidcluster.Sigma))
}

// makeSeeds computes what Seeds returns, dots before holes: first the dots
// among themselves, then the holes in the voids between the dots and each
// other. A dot crowds a hole by an eighth only: at d⁻⁶ that lets it come √2
// times closer than another hole, as on a checkerboard. Their order is that in which the holes alone are closest, the last
// first.
func makeSeeds() []int {
	g := voidcluster.NewGrid(Side, Side, seedKernel)
	g.Scatter(SeedCount)
	g.Relax(8 * SeedCount)
	dots := g.Drain()
	for _, i := range dots {
		g.Weigh(i, 1)
	}
	for range SeedCount {
		g.Set(g.Void(), true)
	}
	g.Relax(8 * SeedCount)
	for _, i := range dots {
		g.Weigh(i, -1)
	}
	return append(dots, g.Drain()...)
}
