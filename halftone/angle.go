package halftone

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Screens 30° apart, the first far from the threads of a mesh (0 and 90°) and
// from their diagonal; the fourth 15° from two of them (Sefar handbook,
// article 6566569: 7.5, 22.5, 52.5, 82.5). Further inks take what lies 15°
// between, and then 7.5°.
func meshAngles() []float64 { return []float64{22.5, 52.5, 82.5, 7.5, 37.5, 67.5, 30, 60} }

// A stencil duplicator has no mesh: darker ink at 75, then 45, and 15 (common
// practice). A fourth, the lightest, lies at 0, 15° from 15 and 75 (90).
func duplicatorAngles() []float64 { return []float64{75, 45, 15, 0, 60, 30, 67.5, 22.5} }

// Angles returns default angles, in degrees, for inks printed through a mesh,
// given how dark each is (any measure that rises with darkness). The darkest,
// whose patterns show most, gets the angle that keeps furthest from the
// threads. It serves up to 8 inks; more repeat.
func Angles(darkness []float64) []float64 { return deal(darkness, meshAngles()) }

// DuplicatorAngles is Angles for a stencil duplicator.
func DuplicatorAngles(darkness []float64) []float64 {
	if len(darkness) == 1 {
		return []float64{45}
	}
	return deal(darkness, duplicatorAngles())
}

// deal gives the darkest ink the first angle, and so on.
func deal(darkness, angles []float64) []float64 {
	order := make([]int, len(darkness))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(darkness[j], darkness[i]) })
	dealt := make([]float64, len(darkness))
	for rank, i := range order {
		dealt[i] = angles[rank%len(angles)]
	}
	return dealt
}

// EqualAngles finds screens that lie at the same angle, within a degree. Where
// they do, the overlap of tints drifts with register. Names are as many as
// angles; screens repeat every 90°.
func EqualAngles(names []string, angles []float64) []Finding {
	var found []Finding
	for i := range angles {
		for j := i + 1; j < len(angles); j++ {
			if math.Abs(math.Remainder(angles[i]-angles[j], 90)) >= 1 {
				continue
			}
			found = append(found, Finding{
				Code:    "equal-angles",
				Message: fmt.Sprintf("%s and %s are both screened at %.4g°: their overlap changes color with the register", names[i], names[j], angles[i]),
				Mend:    "give them angles 30° apart, such as 22.5 and 52.5",
			})
		}
	}
	return found
}
