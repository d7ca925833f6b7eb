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
// remain, which fill one by one (see [tile.order]): at every tone each dot
// contains a smallest dot and each hole a smallest hole.
//
// Tone is measured over 20 mm or more. A window of film cuts dots at random along
// its edge; of large dots that alone is some 0.3 %. So a whole number of tiles is
// 20 mm, and over that any tone is exact, wherever the window lies.
func stochastic(small smallest, dpi float64) (thr []uint16, side int, err error) {
	dot, hole := minPixels(Round, small.dot), minPixels(Round, small.hole)
	if dot == 0 && hole == 0 {
		ranks := noise.Ranks()
		for i, r := range ranks {
			ranks[i] = threshold(2*int64(r)+1, noise.Side*noise.Side)
		}
		return ranks, noise.Side, nil
	}
	dot, hole = max(dot, 1), max(hole, 1)
	window := toneMM * dpi / mmPerInch
	for n := 1; ; n++ { // tiles in a window
		side = int(math.Round(window / float64(n)))
		if seedsOf(side, dot, hole) <= noise.MostSeeds {
			break
		}
	}
	for n := 2; seedsOf(side, dot, hole) < noise.LeastSeeds; n++ { // windows in a tile
		if side = int(math.Round(window * float64(n))); side > maxTile {
			return nil, 0, fmt.Errorf("a smallest dot or hole of %d film pixels is more than a tile holds", max(dot, hole))
		}
	}
	seeds := noise.SeedsUpTo(seedsOf(side, dot, hole))
	return newTile(side, seeds, dot, hole).thresholds(), side, nil
}

// seedsOf is how many smallest dots, or holes, a tile has room for.
func seedsOf(side, dot, hole int) int {
	return int(seedCoverage * float64(side*side) / float64(max(dot, hole)))
}

const (
	// toneMM is the length over which tone is exact.
	toneMM = 20

	// seedCoverage is the most tone at which all smallest dots are there; sets of
	// seeds come in steps that make it at least 0.07. Their centers and those of the
	// holes then lie at least 1.6 diameters apart.
	seedCoverage = 0.1

	// maxTile bounds the side of a tile: 32 MB of thresholds.
	maxTile = 4096
)
