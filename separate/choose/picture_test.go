package choose

import (
	"math"
	"math/rand"
	"testing"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
	"platewright/separate/artwork"
)

// stripes returns a picture of 16-pixel squares of the given sRGB colors, in
// rows of eight, each as often as its weight says.
func stripes(colors [][3]uint8, weights []int) *artwork.Picture {
	var cells [][3]uint8
	for i, c := range colors {
		for range weights[i] {
			cells = append(cells, c)
		}
	}
	for len(cells)%8 != 0 {
		cells = append(cells, colors[0])
	}
	const side = 16
	p := &artwork.Picture{Width: 8 * side, Height: len(cells) / 8 * side}
	p.Pix = make([]uint8, 3*p.Width*p.Height)
	for y := range p.Height {
		for x := range p.Width {
			c := cells[y/side*8+x/side]
			copy(p.Pix[3*(y*p.Width+x):], c[:])
		}
	}
	return p
}

func code(c spectrum.XYZ) (v [3]uint8) {
	rgb := c.RGB().Clamp()
	for i := range v {
		v[i] = uint8(math.Round(255 * rgb[i]))
	}
	return v
}

// printed is a picture of all solids and overprints of the uses.
func printOf(t testing.TB, shelf *ink.Shelf, paper *ink.Paper, u []composite.Use) *artwork.Picture {
	t.Helper()
	m, err := composite.New(shelf, paper, u)
	if err != nil {
		t.Fatal(err)
	}
	var colors [][3]uint8
	var weights []int
	for mask := uint(0); mask < 1<<len(u); mask++ {
		colors = append(colors, code(m.Overprint(mask)))
		weights = append(weights, 4)
	}
	return stripes(colors, weights)
}

// soft is a picture without flat areas: smooth waves of color and grain.
func soft(w, h int, seed int64) *artwork.Picture {
	rng := rand.New(rand.NewSource(seed))
	var f [9]float64
	for i := range f {
		f[i] = 1 + 5*rng.Float64()
	}
	p := &artwork.Picture{Width: w, Height: h, Pix: make([]uint8, 3*w*h)}
	for y := range h {
		for x := range w {
			u, v := float64(x)/float64(w), float64(y)/float64(h)
			for c := range 3 {
				a := .5 + .45*math.Sin(f[3*c]*u+f[3*c+1]*v+f[3*c+2])
				p.Pix[3*(y*w+x)+c] = uint8(math.Round(255*math.Max(0, math.Min(1, a)))/2) + uint8(rng.Intn(24)) + 60
			}
		}
	}
	return p
}
