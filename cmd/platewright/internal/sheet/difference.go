package sheet

import (
	"fmt"
	"image"
	"image/color"

	"platewright/composite/spectrum"
)

// legendStep is one step of the difference map: ΔE below Below.
type legendStep struct {
	Below float64 // the last step has none: 0
	Color color.RGBA
	Label string
}

// Hex is the step's color for the page.
func (s legendStep) Hex() string {
	return fmt.Sprintf("#%02x%02x%02x", s.Color.R, s.Color.G, s.Color.B)
}

// legend returns the steps of the difference map: white where nothing is seen,
// then darker with each limit of DeltaEWords.
func legend() []legendStep {
	return []legendStep{
		{1, color.RGBA{0xff, 0xff, 0xff, 255}, "below 1"},
		{2, color.RGBA{0xf4, 0xe5, 0xb4, 255}, "1–2"},
		{3, color.RGBA{0xef, 0xc0, 0x62, 255}, "2–3"},
		{5, color.RGBA{0xdb, 0x7f, 0x3f, 255}, "3–5"},
		{10, color.RGBA{0xa9, 0x3b, 0x3f, 255}, "5–10"},
		{0, color.RGBA{0x4d, 0x18, 0x3a, 255}, "above 10"},
	}
}

// Differences draws where two pictures of width w differ: a and b hold their
// colors row by row, and each pixel's CIEDE2000 takes the color of its step
// in the legend. It fails when the two do not have whole rows of equal number.
func Differences(a, b []spectrum.Lab, w int) (*image.Paletted, error) {
	if w <= 0 || len(a) == 0 || len(a) != len(b) || len(a)%w != 0 {
		return nil, fmt.Errorf("sheet: differences of %d and %d pixels in rows of %d; give two pictures of one size", len(a), len(b), w)
	}
	steps := legend()
	var pal color.Palette
	for _, s := range steps {
		pal = append(pal, s.Color)
	}
	out := image.NewPaletted(image.Rect(0, 0, w, len(a)/w), pal)
	for i := range a {
		if i > 0 && a[i] == a[i-1] && b[i] == b[i-1] { // flat artwork repeats itself
			out.Pix[i] = out.Pix[i-1]
			continue
		}
		de := spectrum.DeltaE(a[i], b[i])
		n := 0
		for n < len(steps)-1 && de >= steps[n].Below {
			n++
		}
		out.Pix[i] = uint8(n)
	}
	return out, nil
}
