package ink_test

import (
	"fmt"
	"strings"

	"platewright/composite/ink"
)

func ExampleLoad() {
	const file = `
[[paper]]
name = "cold white"
color = "#f4f2ec"

[[ink]]
name = "deep kelp"
color = "#2f6d58"
opacity = "slight"
`
	shelf, err := ink.Load(strings.NewReader(file), "shelf.toml")
	if err != nil {
		fmt.Println(err)
		return
	}
	_, err = shelf.Ink("deep klep")
	fmt.Println(err)
	kelp, _ := shelf.Ink("deep kelp")
	fmt.Println(kelp.KnownBy())
	// Output:
	// no ink "deep klep"; did you mean "deep kelp"?
	// a color and an opacity of 0.15
}

// A layer that scatters looks different over another one than under it.
func ExampleOver() {
	const paper = .85
	fmt.Printf("%.3f\n", ink.Over(.1, 1, ink.Over(.8, .2, paper)))
	fmt.Printf("%.3f\n", ink.Over(.8, .2, ink.Over(.1, 1, paper)))
	// Output:
	// 0.508
	// 0.196
}
