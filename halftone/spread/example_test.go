package spread_test

import (
	"fmt"
	"log"

	"platewright/halftone"
	"platewright/halftone/spread"
)

// Two inks meet in the middle of a sheet: the lighter one is spread half a
// millimetre under the darker.
func ExampleTrap() {
	const w, ppi = 60, 254 // ten pixels a millimetre
	straw := &halftone.Plate{Width: w, Height: 1, Cov: make([]uint16, w)}
	kelp := &halftone.Plate{Width: w, Height: 1, Cov: make([]uint16, w)}
	for x := range w {
		if x < 30 {
			straw.Cov[x] = halftone.Full
		} else {
			kelp.Cov[x] = halftone.Full
		}
	}
	plates, err := spread.Trap([]*halftone.Plate{straw, kelp}, []spread.Ink{{Darkness: 0.2}, {Darkness: 0.8}}, 0.5, ppi)
	if err != nil {
		log.Fatal(err)
	}
	for _, p := range plates {
		ink := 0
		for _, c := range p.Cov {
			if c == halftone.Full {
				ink++
			}
		}
		fmt.Printf("%.1f mm\n", float64(ink)/10)
	}
	// Output:
	// 3.5 mm
	// 3.0 mm
}

// A line of two pixels on a plate of 254 ppi is too thin for a limit of 0.35 mm.
func ExampleFind() {
	const n = 100
	p := &halftone.Plate{Width: n, Height: n, Cov: make([]uint16, n*n)}
	for y := 20; y < 70; y++ {
		p.Cov[y*n+40], p.Cov[y*n+41] = halftone.Full, halftone.Full
	}
	thin, err := spread.Find(p, 254, spread.Limits{Line: 0.35, Gap: 0.7})
	if err != nil {
		log.Fatal(err)
	}
	for _, t := range thin {
		fmt.Printf("%v of %.2f mm at %.1f, %.1f mm, %.1f × %.1f mm\n", t.Kind, t.Width, t.X, t.Y, t.Wd, t.Ht)
	}
	// Output:
	// line of 0.20 mm at 4.0, 2.0 mm, 0.2 × 5.0 mm
}
