package separate

import (
	"bytes"
	"image"
	_ "image/png"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// picture reads a picture of testdata/flat as RGB bytes.
func picture(t *testing.T, name string) (pix []uint8, w, h int) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", "flat", name+".png"))
	if err != nil {
		t.Fatal(err)
	}
	img, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	w, h = img.Bounds().Dx(), img.Bounds().Dy()
	for i := range w * h {
		r, g, b, _ := img.At(img.Bounds().Min.X+i%w, img.Bounds().Min.Y+i/w).RGBA()
		pix = append(pix, uint8(r>>8), uint8(g>>8), uint8(b>>8))
	}
	return pix, w, h
}

// Drawings count as flat artwork; a gradient, dither and photographs do not.
func TestFlatness(t *testing.T) {
	for _, c := range []struct {
		name     string
		flat     bool
		min, max int // uniform colors
	}{
		{"seascape", true, 4, 6},
		{"cat", true, 5, 9},
		{"map", true, 9, 14},
		{"woodcut", true, 2, 2},
		{"tram", true, 2, 2},
		{"moon", false, 0, 99},
		{"dither", false, 0, 99},
		{"retina", false, 0, 99},
		{"citrus", false, 0, 99},
		{"honeybee", false, 0, 99},
		{"coffee", false, 0, 99},
	} {
		pix, w, h := picture(t, c.name)
		f := Flatness(pix, w, h)
		if f.Flat != c.flat || f.Colors < c.min || f.Colors > c.max || f.Colors != len(f.Main) {
			t.Errorf("%s: %+v, want flat %v and %d to %d colors", c.name, f, c.flat, c.min, c.max)
		}
		// Clear of the limit, on both sides.
		if c.flat && f.Share < .98 || !c.flat && f.Share > .8 {
			t.Errorf("%s: share %.3f", c.name, f.Share)
		}
	}
	if f := Flatness(nil, 0, 0); f.Flat {
		t.Errorf("nothing is flat artwork: %+v", f)
	}
	pix, w, h := picture(t, "tram")
	if m := Flatness(pix, w, h).Main; m[0] != [3]uint8{255, 255, 255} || m[1] != [3]uint8{0xef, 0x79, 0} {
		t.Errorf("the tram's colors are %v, want white and orange", m)
	}
}

// The film of a drawing in two colors has as much ink as the drawing has color,
// whatever its size.
func TestLabelsKeepInk(t *testing.T) {
	for _, c := range []struct {
		name    string
		palette [][3]uint8
	}{
		{"woodcut", [][3]uint8{{255, 255, 255}, {0, 0, 0}}},
		{"tram", [][3]uint8{{255, 255, 255}, {0xef, 0x79, 0}}},
	} {
		pix, w, h := picture(t, c.name)
		want := 0.0
		for i := 2; i < len(pix); i += 3 {
			want += float64(255-pix[i]) / 255 / float64(w*h)
		}
		l := NewLabels(pix, w, h, nearestOf(c.palette), [][]uint16{{0}, {0xffff}}, 0)
		for _, f := range []float64{4, 3.17, 1, .7} {
			fw, fh := scaled(w, f), scaled(h, f)
			n := 0
			for _, row := range film(l, fw, fh) {
				for _, v := range row {
					n += int(v)
				}
			}
			if got := float64(n) / float64(fw*fh); math.Abs(got-want) > .004 {
				t.Errorf("%s at scale %g: ink on %.4f of the film, want %.4f", c.name, f, got, want)
			}
		}
	}
}
