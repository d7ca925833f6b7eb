package artwork_test

import (
	"fmt"
	"log"
	"strings"

	"platewright/composite/spectrum"
	"platewright/separate/artwork"
)

func ExampleOpen() {
	p, err := artwork.Open("testdata/png/display_p3.png", artwork.Limits{})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%s, %d × %d, %s\n", p.Format, p.Width, p.Height, p.Profile)
	lab := p.Space.XYZ(p.At(40, 62)).Lab()
	fmt.Printf("L* %.0f a* %.0f b* %.0f\n", lab[0], lab[1], lab[2])
	// Output:
	// PNG, 200 × 248, DisplayP3 color profile
	// L* 69 a* 55 b* 103
}

func ExampleRead_refused() {
	_, err := artwork.Read(strings.NewReader("%PDF-1.7 …"), "poster.png", artwork.Limits{})
	fmt.Println(err)
	// Output:
	// poster.png: a PDF file, not a picture this reads: export it as PNG or TIFF
}

func ExamplePrintSize() {
	p := &artwork.Picture{Width: 3508, Height: 4961}
	_, _, note, _ := artwork.PrintSize(p, "297mm", "")
	fmt.Println(note)
	_, _, note, _ = artwork.PrintSize(p, "", "")
	fmt.Println(note)
	_, _, _, err := artwork.PrintSize(p, "297", "")
	fmt.Println(err)
	// Output:
	// print size 297.0 × 420.0 mm (300 ppi), by --width
	// print size 210.0 × 297.0 mm (424 ppi), fitted within A4 because the file states no resolution; give --width or --height for another size
	// --width: the length "297" has no unit: write 297mm, 297cm or 297in
}

func ExamplePicture_Flatten() {
	p := &artwork.Picture{Width: 2, Height: 1, Pix: []uint8{200, 0, 0, 0, 0, 0}, Alpha: []uint8{255, 0}}
	p.Flatten(spectrum.RGB{.8, .8, .6}.XYZ())
	fmt.Println(p.Pix, p.Bare(0, 0), p.Bare(1, 0))
	// Output:
	// [200 0 0 204 204 153] false true
}
