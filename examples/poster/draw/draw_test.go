package main

import (
	"image"
	"image/color"
	"image/png"
	"os"
	"slices"
	"testing"
)

// The poster in the folder is the one this program draws. Other processors
// may round an edge the other way, hence a few pixels.
func TestPosterIsAsDrawn(t *testing.T) {
	f, err := os.Open("../poster.png")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	want, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	c := newCanvas(297, 420, 300)
	poster(c)
	got := c.picture(colors(), nil)
	if got.Rect != want.Bounds() {
		t.Fatalf("drawn %v, in the folder %v", got.Rect, want.Bounds())
	}
	flats := colors()
	differ, flat := 0, 0
	for y := range got.Rect.Dy() {
		for x := range got.Rect.Dx() {
			v := got.RGBAAt(x, y)
			if want.At(x, y) != color.Color(v) {
				differ++
			}
			if slices.Contains(flats[:], v) {
				flat++
			}
		}
	}
	all := got.Rect.Dx() * got.Rect.Dy()
	if differ > all/10000 {
		t.Errorf("%d of %d pixels differ: draw the poster again", differ, all)
	}
	if flat < all*95/100 {
		t.Errorf("only %d of %d pixels are one of the eight flat colors", flat, all)
	}
}

func TestDrawKeepsInside(t *testing.T) {
	c := newCanvas(10, 10, 25.4) // 10 pixels, 30 spots
	c.draw(rect(-5, -5, 8, 100), put(coral))
	c.draw(ellipse(20, 20, 3, 3), put(blue))
	m := c.picture(colors(), nil)
	if m.Rect != image.Rect(0, 0, 10, 10) {
		t.Fatal(m.Rect)
	}
	if m.RGBAAt(2, 9) != colors()[coral] || m.RGBAAt(3, 9) != colors()[0] {
		t.Errorf("edge at 3 mm: %v, %v", m.RGBAAt(2, 9), m.RGBAAt(3, 9))
	}
}
