package halftone_test

import (
	"fmt"
	"log"
	"math/bits"
	"strings"

	"platewright/halftone"
)

// A plate of 150 ppi through a screen of 45 lpi onto a film of 600 dpi.
func Example() {
	screen, err := halftone.NewScreen(halftone.Spec{
		Ruling: 45, Angle: 22.5, DPI: 600,
		MinDot: 0.12, MinHole: 0.12, // millimetres
	})
	if err != nil {
		log.Fatal(err)
	}
	plate := &halftone.Plate{Width: 150, Height: 150, Cov: make([]uint16, 150*150)}
	for i := range plate.Cov {
		plate.Cov[i] = halftone.Full * 3 / 10
	}
	film, err := halftone.NewRaster(plate, 600, 600, screen, halftone.Options{})
	if err != nil {
		log.Fatal(err)
	}
	row, ink := make([]byte, 75), 0
	for y := range 600 {
		film.Rows(row, 75, y, y+1)
		for _, b := range row {
			ink += bits.OnesCount8(b)
		}
	}
	low, high := screen.ToneLimits()
	fmt.Printf("%.2f lpi at %.2f°, tones %.1f … %.1f %%\n", screen.Ruling(), screen.Angle(), 100*low, 100*high)
	fmt.Printf("the film is %.1f %% black\n", 100*float64(ink)/(600*600))
	// Output:
	// 44.94 lpi at 22.51°, tones 3.9 … 96.1 %
	// the film is 30.0 % black
}

// A tone curve measured on a print, film percent and printed percent.
func ExampleCompensation() {
	curve, err := halftone.NewCurve([][2]float64{{20, 26}, {50, 68}})
	if err != nil {
		log.Fatal(err)
	}
	table, err := halftone.Compensation(curve, 5, 95)
	if err != nil {
		log.Fatal(err)
	}
	for _, percent := range []int{0, 2, 26, 68, 100} {
		film := float64(table[halftone.Full*percent/100]) / halftone.Full * 100
		fmt.Printf("print %d %%: film %.0f %%\n", percent, film)
	}
	// Output:
	// print 0 %: film 0 %
	// print 2 %: film 0 %
	// print 26 %: film 20 %
	// print 68 %: film 50 %
	// print 100 %: film 100 %
}

func ExampleAngles() {
	// pale straw, brick rust, deep kelp, harbor gray: how dark each is
	fmt.Println(halftone.Angles([]float64{0.15, 0.55, 0.8, 0.6}))
	// Output: [7.5 82.5 22.5 52.5]
}

func ExampleEqualAngles() {
	for _, f := range halftone.EqualAngles([]string{"deep kelp", "brick rust"}, []float64{22.5, 22.5}) {
		fmt.Println(strings.Join([]string{f.Code, f.Message, f.Mend}, "\n"))
	}
	// Output:
	// equal-angles
	// deep kelp and brick rust are both screened at 22.5°: their overlap changes color with the register
	// give them angles 30° apart, such as 22.5 and 52.5
}

func ExampleMesh_Advise() {
	mesh, err := halftone.ParseMesh("90/cm")
	if err != nil {
		log.Fatal(err)
	}
	advice := mesh.Advise(45, 600, []float64{0})
	fmt.Printf("%.1f threads to a line, smallest dot %.2f mm\n", advice.Ratio, advice.SmallestDot)
	for _, f := range advice.Findings {
		fmt.Println(f.Message)
		fmt.Println(f.Mend)
	}
	// Output:
	// 5.1 threads to a line, smallest dot 0.15 mm
	// 45 lpi on mesh 90/cm (229/in) can show a pattern of 7.06 mm
	// use 45 lpi, all angles turned by 5°: at most 1.3 mm
}
