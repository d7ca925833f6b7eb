package spectrum_test

import (
	"fmt"

	"platewright/composite/spectrum"
)

func ExampleDeltaE() {
	kelp := spectrum.Lab{42, -27, -4}
	fmt.Printf("%.2f\n", spectrum.DeltaE(kelp, spectrum.Lab{43, -26, -2}))
	// Output: 1.70
}

// The smoothest reflectance of a color has exactly that color.
func ExampleSmooth() {
	c := spectrum.RGB{.18, .43, .35}.XYZ()
	r, ok := spectrum.Smooth(c)
	fmt.Println(ok)
	fmt.Printf("%.2f at 450 nm, %.2f at 550, %.2f at 650\n", r[7], r[17], r[27])
	fmt.Printf("%.4f\n", spectrum.DeltaE(r.XYZ().Lab(), c.Lab()))
	// Output:
	// true
	// 0.09 at 450 nm, 0.15 at 550, 0.05 at 650
	// 0.0000
}
