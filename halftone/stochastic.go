package halftone

import (
	"fmt"
	"math"

	"platewright/halftone/internal/noise"
)

// stochastic returns the thresholds, row by row, of a square tile of scattered
// dots, and its side.
//
// Dots of single pixels are blue noise: the void-and-cluster order of R.
// Ulichney (Proc. SPIE 1913, 1993), whose principal frequency is √g at tone g.
//
// Larger dots are green noise (D. L. Lau, G. R. Arce, N. C. Gallagher,
// "Green-noise digital halftoning", Proc. IEEE 86(12), 1998), whose principal
// frequency is √(g/M) for clusters of M pixels on the average. Up to
// seedCoverage each further bit of tone is one more smallest dot. From there
// to the same share of paper all dots grow, and join, until smallest holes
// remain, which fill one by one. In between, pixels turn on in the order of a
// harmonic function: −1 on the smallest dots, 1 on the smallest holes, and
// each other pixel the mean of its four neighbors. It has no minimum and no
// maximum elsewhere, so that at every tone each dot contains a smallest dot
// and each hole a smallest hole.
func stochastic(small smallest) (thr []uint16, side int, err error) {
	dot, hole := minPixels(Round, small.dot), minPixels(Round, small.hole)
	if dot == 0 && hole == 0 {
		ranks := noise.Ranks()
		for i, r := range ranks {
			ranks[i] = threshold(2*int64(r)+1, noise.Side*noise.Side)
		}
		return ranks, noise.Side, nil
	}
	dot, hole = max(dot, 1), max(hole, 1)
	side = int(math.Ceil(math.Sqrt(float64(noise.SeedCount*max(dot, hole)) / seedCoverage)))
	side = max(side, noise.Side)
	if side > maxTile {
		return nil, 0, fmt.Errorf("a smallest dot or hole of %d film pixels is more than %d", max(dot, hole), maxTile*maxTile/noise.SeedCount/10)
	}
	dots, holes := noise.Seeds()
	return newTile(side, dots, holes, dot, hole).thresholds(), side, nil
}

const (
	// seedCoverage is the tone at which all smallest dots are there. Their
	// centers and those of the holes then lie at least 1.6 diameters apart.
	seedCoverage = 0.1

	// maxTile bounds the side of a tile: 32 MB of thresholds.
	maxTile = 4096
)
