package composite_test

import (
	"fmt"
	"math"

	"platewright/composite"
	"platewright/composite/ink"
)

// Two inks over each other in both orders: the opaque one hides the clear one,
// the clear one deepens the opaque one.
func ExampleNew() {
	shelf := ink.BuiltIn()
	paper, _ := shelf.Paper("")
	gray, _ := shelf.Ink("storm gray") // opacity 0.6
	teal, _ := shelf.Ink("teal lagoon")
	for _, uses := range [][]composite.Use{composite.AsMeasured(gray, teal), composite.AsMeasured(teal, gray)} {
		m, err := composite.New(shelf, paper, uses)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%.0f\n", m.Overprint(0b11).Lab())
	}
	// Output:
	// [35 -19 -11]
	// [42 -6 -7]
}

// More transparent base makes a lighter ink.
func ExampleUse() {
	shelf := ink.BuiltIn()
	paper, _ := shelf.Paper("")
	kelp, _ := shelf.Ink("deep kelp")
	for _, base := range []float64{math.NaN(), 50, 90} {
		m, err := composite.New(shelf, paper, []composite.Use{{Ink: kelp, Base: base}})
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%.0f\n", m.Overprint(1).Lab())
	}
	// Output:
	// [42 -27 -4]
	// [58 -26 -5]
	// [83 -11 -2]
}

// An overlap of inks whose opacity nobody stated is a guess, and by how much.
func ExampleDoubt() {
	shelf := ink.BuiltIn()
	paper, _ := shelf.Paper("")
	kelp, _ := shelf.Ink("deep kelp")
	color, _ := ink.ParseColor("lab:47,44,36")
	rust := ink.NewInk("new rust", color)
	doubt, err := composite.Doubt(shelf, paper, composite.AsMeasured(kelp, rust))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("solid ±%.1f, overlap ±%.1f\n", doubt[0b10], doubt[0b11])
	// Output: solid ±0.0, overlap ±3.7
}
