package film_test

import (
	"bytes"
	"errors"
	"fmt"
	"log"

	"platewright/halftone"
	"platewright/halftone/film"
)

// A plate goes through its screen onto the sheet of its job, and the same screen
// makes the wedge beside it.
func Example() {
	plate := &halftone.Plate{Width: 400, Height: 300, Cov: make([]uint16, 400*300)}
	for i := range plate.Cov {
		plate.Cov[i] = uint16(i % 400 * halftone.Full / 399)
	}
	layout, err := film.New(film.Sheet{WidthMM: 120, HeightMM: 90, DPI: 600, Film: "A4"})
	if err != nil {
		log.Fatal(err)
	}
	screen, err := halftone.NewScreen(halftone.Spec{Ruling: 45, Angle: 22.5, DPI: layout.DPI()})
	if err != nil {
		log.Fatal(err)
	}
	w, h := layout.Area()
	dots, err := halftone.NewRaster(plate, w, h, screen, halftone.Options{})
	if err != nil {
		log.Fatal(err)
	}
	tint := func(percent float64, w, h int) film.Bits {
		flat := &halftone.Plate{Width: 1, Height: 1, Cov: []uint16{uint16(percent / 100 * halftone.Full)}}
		patch, err := halftone.NewRaster(flat, w, h, screen, halftone.Options{})
		if err != nil {
			log.Fatal(err)
		}
		return patch
	}
	page, err := layout.Page(dots, film.Label{Ink: "deep kelp", Pull: 1, Of: 2, RulingLPI: 45, AngleDeg: 22.5, Dot: "round"}, tint)
	if err != nil {
		log.Fatal(err)
	}
	var file bytes.Buffer
	if err := film.WritePDF(&file, []*film.Page{page}, film.Info{Title: "harbor print"}); err != nil {
		log.Fatal(err)
	}
	x, y := layout.Origin()
	w, h = layout.Size()
	fmt.Printf("film of %d x %d pixels, artwork at %d, %d\n", w, h, x, y)
	// Output: film of 7016 x 4961 pixels, artwork at 2091, 945
}

func ExampleFitError() {
	_, err := film.New(film.Sheet{WidthMM: 400, HeightMM: 280, DPI: 1200, Film: "A3"})
	fmt.Println(err)
	var fit *film.FitError
	if errors.As(err, &fit) {
		fmt.Println(fit.LargestWidthMM)
	}
	// Output:
	// film: artwork of 400 x 280 mm with its marks does not fit film A3: the largest width that does is 370 mm; print it that wide or take a larger film
	// 370
}
