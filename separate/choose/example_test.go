package choose_test

import (
	"context"
	"fmt"

	"platewright/composite/ink"
	"platewright/separate"
	"platewright/separate/artwork"
	"platewright/separate/choose"
)

func ExampleBest() {
	shelf := ink.BuiltIn()
	paper, err := shelf.Paper("linen white")
	if err != nil {
		fmt.Println(err)
		return
	}
	// A picture with a red and a blue half; artwork.Open reads one from a file.
	p := &artwork.Picture{Width: 64, Height: 64, Pix: make([]uint8, 3*64*64)}
	for i := 0; i < len(p.Pix); i += 3 {
		copy(p.Pix[i:], []uint8{224, 66, 59})
		if i >= len(p.Pix)/2 {
			copy(p.Pix[i:], []uint8{0, 110, 180})
		}
	}
	p.Flatten(paper.Color)
	c, err := choose.Best(context.Background(), shelf, paper, p, 2, separate.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for i, name := range c.Names() {
		fmt.Printf("%d %s\n", i+1, name)
	}
	// Output:
	// 1 harbor blue
	// 2 poppy field
}

func ExampleMix() {
	shelf := ink.BuiltIn()
	paper, _ := shelf.Paper("linen white")
	want, _ := ink.ParseColor("d8b0a0")
	recipes, err := choose.Mix(context.Background(), shelf, paper, want, choose.Mixing{Grams: 250, Step: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	grams := 0.0
	for _, p := range recipes[0].Parts {
		grams += p.Grams
	}
	fmt.Printf("%.0f g, in reach: %v\n", grams, recipes[0].InReach)
	// Output: 250 g, in reach: true
}

func ExampleRun_Need() {
	run := choose.Run{WidthMM: 420, HeightMM: 297, Copies: 60, Mesh: 90}
	n, err := run.Need(.35, choose.BasePart("deep kelp", 40))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.0f ± %.0f g\n", n.Grams, n.PlusMinus)
	for _, p := range n.Parts {
		fmt.Printf("%.0f g %s\n", p.Grams, p.Name)
	}
	// Output:
	// 225 ± 56 g
	// 135 g deep kelp
	// 90 g transparent base
}
