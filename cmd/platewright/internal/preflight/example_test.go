package preflight_test

import (
	"fmt"

	"platewright/cmd/platewright/internal/preflight"
)

func ExampleLetter() {
	fmt.Print(preflight.Letter("poster.png", preflight.Facts{WidthMM: 297, HeightMM: 420, Width: 1200, Height: 1697, PPI: 102.6},
		[]preflight.Finding{{Level: preflight.Warning, Message: "103 ppi at this size; line work wants 300",
			Client: "Please send the picture with 3508 pixels across, from the original."}}))
	// Output:
	// About your picture poster.png
	//
	// We would print it 297 × 420 mm (11.7 × 16.5 inches). It has 1200 × 1697 pixels, which is 103 per inch.
	//
	// Please have a look at this:
	//   - Please send the picture with 3508 pixels across, from the original.
	//
	// Your file was not changed. If all is meant as it is, just say so.
}

func ExampleShape() {
	fmt.Println(preflight.Shape(600, 400), preflight.Shape(2480, 3508))
	// Output: 3:2 1:1.41
}
