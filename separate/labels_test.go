package separate

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Where three flats and more meet, each film pixel has one of their labels, and
// apart from a pixel around the meeting point it is the right one.
func TestLabelsJunction(t *testing.T) {
	const w, h, px, py = 40, 40, 19.7, 20.4
	for _, set := range [][]int{{0, 1, 2}, {4, 2, 3}, {0, 2, 4, 3}, {7, 4, 2, 3, 0}} {
		for turn := 0.0; turn < 1; turn += .13 {
			s := func(x, y float64) int {
				a := math.Atan2(y-py, x-px)/(2*math.Pi) + turn + 2
				return set[int((a-math.Floor(a))*float64(len(set)))]
			}
			l := labelScene(w, h, s)
			for _, f := range sceneScales {
				fw, fh := scaled(w, f), scaled(h, f)
				rows := film(l, fw, fh)
				for y, r := range rows {
					for x, v := range r {
						if !slices.Contains(set, int(v)) {
							t.Fatalf("%v turn %.2f scale %g: label %d at %d,%d", set, turn, f, v, x, y)
						}
						// The right label, or a neighbor's within a third of a pixel.
						ax, ay := (float64(x)+.5)*w/float64(fw), (float64(y)+.5)*h/float64(fh)
						d := .35 + .8/f
						if f <= 1 || math.Hypot(ax-px, ay-py) < 1.5 || ax < 2 || ay < 2 || ax > w-2 || ay > h-2 {
							continue
						}
						if v != uint16(s(ax, ay)) && v != uint16(s(ax+d, ay)) && v != uint16(s(ax-d, ay)) && v != uint16(s(ax, ay+d)) && v != uint16(s(ax, ay-d)) {
							t.Fatalf("%v turn %.2f scale %g: label %d at %.2f,%.2f, want %d", set, turn, f, v, ax, ay, s(ax, ay))
						}
					}
				}
			}
		}
	}
}

// Circles keep their area and roundness, squares their corners and area.
func TestLabelsShapes(t *testing.T) {
	const w, h, f = 48, 48, 8
	for _, r := range []float64{1.2, 1.7, 2.5, 5, 11, 19} {
		l := labelScene(w, h, func(x, y float64) int {
			if math.Hypot(x-24.3, y-23.8) < r {
				return 1
			}
			if x < 4 && y < 4 {
				return 1 // black is also a flat of the picture
			}
			return 0
		})
		n, off := 0, 0.0
		for y, row := range film(l, w*f, h*f) {
			for x, v := range row {
				ax, ay := (float64(x)+.5)/f, (float64(y)+.5)/f
				if ax < 4.5 && ay < 4.5 {
					continue
				}
				d := math.Hypot(ax-24.3, ay-23.8)
				if v == 1 {
					n++
				}
				if (v == 1) != (d < r) {
					off = max(off, math.Abs(d-r))
				}
			}
		}
		area := float64(n) / f / f / (math.Pi * r * r)
		t.Logf("circle of radius %g: area %.3f of the true one, outline off by up to %.3f", r, area, off)
		if math.Abs(area-1) > .01+.3/r/r || off > .1+.5/r/r {
			t.Errorf("circle of radius %g: area %.3f of the true one, outline off by %.3f pixels", r, area, off)
		}
	}
	for deg := 0.0; deg < 90; deg += 11 {
		c, s := math.Cos(deg*math.Pi/180), math.Sin(deg*math.Pi/180)
		l := labelScene(w, h, func(x, y float64) int {
			u, v := (x-24.3)*c+(y-23.8)*s, -(x-24.3)*s+(y-23.8)*c
			if math.Max(math.Abs(u), math.Abs(v)) < 10 {
				return 1
			}
			return 0
		})
		n, far := 0, 0.0
		for y, row := range film(l, w*f, h*f) {
			for x, v := range row {
				if v == 1 {
					n++
					far = max(far, math.Hypot((float64(x)+.5)/f-24.3, (float64(y)+.5)/f-23.8))
				}
			}
		}
		if cut := 10*math.Sqrt2 - far; cut > .8 || cut < -.3 {
			t.Errorf("square at %g°: corners cut by %.2f pixels", deg, cut)
		}
		if a := float64(n) / f / f / 400; math.Abs(a-1) > .005 {
			t.Errorf("square at %g°: area %.4f of the true one", deg, a)
		}
	}
}

// Text in strokes of one pixel and details of one and two pixels stay.
func TestLabelsSmallDetails(t *testing.T) {
	const w, h = 40, 30
	pix := bytes.Repeat([]byte{255}, 3*w*h)
	set := func(x, y, label int) { copy(pix[3*(y*w+x):], scenePalette[label][:]) }
	for i := range 8 {
		set(5+i, 5, 1) // an E in single pixels
		set(5, 5+i, 1)
		if i < 5 {
			set(5+i, 9, 1)
		}
		set(5+i, 13, 1)
		set(20+i, 5+i, 1) // an aliased diagonal
	}
	set(32, 8, 2) // dots of 2 × 2 and one pixel
	set(33, 8, 2)
	set(32, 9, 2)
	set(33, 9, 2)
	set(36, 20, 3)
	for y := 24; y < 30; y++ {
		for x := range w {
			set(x, y, 1)
		}
	}
	l := NewLabels(pix, w, h, nearestOf(scenePalette), sceneCov(), 1)
	for i, v := range l.Map {
		if want := nearestOf(scenePalette)([3]uint8(pix[3*i:])); v != want {
			t.Errorf("pixel %d,%d has label %d, want %d", i%w, i/w, v, want)
		}
	}
	count := map[uint16]int{}
	rows := film(l, 4*w, 4*h)
	for y := range 22 * 4 {
		for _, v := range rows[y] {
			count[v]++
		}
	}
	for label, want := range map[uint16]int{1: (8 + 7 + 4 + 7 + 8) * 16, 2: 4 * 16, 3: 16} {
		if got := count[label]; math.Abs(float64(got-want)) > .15*float64(want) {
			t.Errorf("label %d covers %d film pixels, want about %d", label, got, want)
		}
	}
}

// A flat drawing saved as JPEG has no slivers of other labels to speak of.
func TestLabelsJPEG(t *testing.T) {
	const w, h = 160, 120
	shapes := func(x, y float64) int {
		switch {
		case math.Hypot(x-50, y-60) < 30:
			return 2
		case math.Abs(x-110)+math.Abs(y-60) < 36:
			return 1
		case math.Hypot(x-80, y-10) < 22:
			return 3
		}
		return 0
	}
	pix := render(w, h, shapes)
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := range w * h {
		img.Set(i%w, i/w, color.RGBA{pix[3*i], pix[3*i+1], pix[3*i+2], 255})
	}
	for quality, most := range map[int]float64{60: .004, 75: .002, 90: .001} {
		var buf bytes.Buffer
		if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: quality}); err != nil {
			t.Fatal(err)
		}
		back, err := jpeg.Decode(&buf)
		if err != nil {
			t.Fatal(err)
		}
		noisy := make([]uint8, 0, len(pix))
		for i := range w * h {
			r, g, b, _ := back.At(i%w, i/w).RGBA()
			noisy = append(noisy, uint8(r>>8), uint8(g>>8), uint8(b>>8))
		}
		if f := Flatness(noisy, w, h); !f.Flat {
			t.Errorf("quality %d: not taken for flat artwork: %+v", quality, f)
		}
		l := NewLabels(noisy, w, h, nearestOf(scenePalette), sceneCov(), 1)
		stray, wrong := 0, 0
		for y, row := range film(l, 4*w, 4*h) {
			for x, v := range row {
				if v > 3 {
					stray++
				}
				ax, ay := (float64(x)+.5)/4, (float64(y)+.5)/4
				d := 1.2 // pixels by which an outline may be off
				if !slices.Contains([]int{shapes(ax, ay), shapes(ax+d, ay), shapes(ax-d, ay), shapes(ax, ay+d), shapes(ax, ay-d)}, int(v)) {
					wrong++
				}
			}
		}
		t.Logf("quality %d: third labels on %.5f, wrong %.5f of the film", quality, float64(stray)/(16*w*h), float64(wrong)/(16*w*h))
		if float64(stray+wrong) > most*16*w*h {
			t.Errorf("quality %d: %d stray and %d wrong pixels of %d", quality, stray, wrong, 16*w*h)
		}
	}
}

// Nothing at all, and pictures without room for a uniform patch, have labels.
func TestLabelsTiny(t *testing.T) {
	NewLabels(nil, 0, 0, nearestOf(scenePalette), sceneCov(), 0)
	for _, size := range [][2]int{{1, 1}, {1, 5}, {4, 1}, {2, 2}} {
		pix := make([]uint8, 3*size[0]*size[1])
		l := NewLabels(pix, size[0], size[1], nearestOf(scenePalette), sceneCov(), 0)
		for _, row := range film(l, 9, 7) {
			for _, v := range row {
				if v != 1 {
					t.Errorf("%v: label %d, want black", size, v)
				}
			}
		}
	}
}

// Any picture whatever gives the same labels and films for any number of
// workers and any split into rows, Bits and Tone agree with FilmRow, and at the
// artwork's size the film is Map.
func TestLabelsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 90).Draw(t, "w"), rapid.IntRange(1, 150).Draw(t, "h")
		seed := rapid.Uint64().Draw(t, "seed")
		next := func() int { seed = seed*6364136223846793005 + 1442695040888963407; return int(seed >> 40) }
		pix := make([]uint8, 3*w*h)
		switch rapid.IntRange(0, 2).Draw(t, "kind") {
		case 0: // noise
			for i := range pix {
				pix[i] = uint8(next())
			}
		case 1: // shapes and lines
			a, b, c := next()%len(scenePalette), next()%len(scenePalette), next()%len(scenePalette)
			r, px, py := float64(next()%40), float64(next()%w), float64(next()%h)
			line := strip(px, py, float64(next()%180), float64(next()%20)/10, a, b)
			pix = render(w, h, func(x, y float64) int {
				if math.Hypot(x-px/2, y-py) < r {
					return c
				}
				return line(x, y)
			})
		case 2: // dither
			for i := range w * h {
				copy(pix[3*i:], scenePalette[next()%3][:])
			}
		}
		l := NewLabels(pix, w, h, nearestOf(scenePalette), sceneCov(), 1)
		m := NewLabels(pix, w, h, nearestOf(scenePalette), sceneCov(), 3)
		if !slices.Equal(l.Map, m.Map) || !slices.Equal(l.mix, m.mix) || !slices.Equal(l.strokes, m.strokes) {
			t.Fatal("labels depend on the number of workers")
		}
		for y, row := range film(l, w, h) {
			for x, v := range row {
				if l.At(x, y) != v {
					t.Fatalf("Map has %d at %d,%d, the film %d", l.At(x, y), x, y, v)
				}
			}
		}
		fw, fh := rapid.IntRange(1, 300).Draw(t, "fw"), rapid.IntRange(1, 400).Draw(t, "fh")
		rows := film(l, fw, fh)
		for ink := range 3 {
			b, tone := l.Bits(ink, fw, fh), m.Tone(ink, fw, fh)
			if bw, bh := b.Size(); bw != fw || bh != fh {
				t.Fatalf("size %d × %d, want %d × %d", bw, bh, fw, fh)
			}
			stride := (fw+7)/8 + 1
			bits := bytes.Repeat([]byte{0xaa}, stride*fh)
			cut := rapid.IntRange(0, fh).Draw(t, "cut")
			b.Rows(bits[cut*stride:], stride, cut, fh)
			b.Rows(bits, stride, 0, cut)
			cov := make([]uint16, fw)
			for y, row := range rows {
				tone.Row(cov, y)
				for x := range 8 * stride {
					got, want := bits[y*stride+x/8]>>(7-x%8)&1, uint16(0)
					if x < fw {
						want = l.Cov[row[x]][ink] >> 15
						if cov[x] != l.Cov[row[x]][ink] {
							t.Fatalf("ink %d: tone %d at %d,%d, label %d", ink, cov[x], x, y, row[x])
						}
					}
					if uint16(got) != want {
						t.Fatalf("ink %d: bit %d at %d,%d, want %d", ink, got, x, y, want)
					}
				}
			}
		}
	})
}

// drawing renders touching flats, outlines and hairlines, in tiles.
func drawing(w, h int) []uint8 {
	const n = 90
	tile := render(n, n, func(x, y float64) int {
		u, v := x-n/2, y-n/2
		r := math.Hypot(u, v)
		switch {
		case r < 24:
			return 2
		case r < 26:
			return 1
		case math.Abs(u+v) < .4:
			return 1
		case u > 0:
			return 4
		}
		return 0
	})
	pix := make([]uint8, 0, 3*w*h)
	for y := range h {
		for x := 0; x < w; x += n {
			pix = append(pix, tile[3*n*(y%n):3*n*(y%n)+3*min(n, w-x)]...)
		}
	}
	return pix
}

func BenchmarkNewLabels(b *testing.B) {
	const w, h = 1200, 900
	pix := drawing(w, h)
	b.ResetTimer()
	for range b.N {
		NewLabels(pix, w, h, nearestOf(scenePalette), sceneCov(), 1)
	}
	b.ReportMetric(float64(b.N)*w*h/b.Elapsed().Seconds()/1e6, "MP/s")
}

func BenchmarkLabelBits(b *testing.B) {
	const w, h, f = 1200, 900, 4
	l := NewLabels(drawing(w, h), w, h, nearestOf(scenePalette), sceneCov(), 1)
	bits := l.Bits(0, f*w, f*h)
	dst := make([]byte, f*w/8*64)
	b.ResetTimer()
	for range b.N {
		for y := 0; y < f*h; y += 64 {
			bits.Rows(dst, f*w/8, y, min(y+64, f*h))
		}
	}
	b.ReportMetric(float64(b.N)*f*f*w*h/b.Elapsed().Seconds()/1e6, "MP/s")
}

func BenchmarkFlatness(b *testing.B) {
	const w, h = 2400, 1800
	pix := drawing(w, h)
	b.ResetTimer()
	for range b.N {
		Flatness(pix, w, h)
	}
	b.ReportMetric(float64(b.N)*w*h/b.Elapsed().Seconds()/1e6, "MP/s")
}

// Two flats that touch, enlarged four times: no spot is without a label and
// none has two.
func ExampleNewLabels() {
	pix := []uint8{
		255, 255, 255, 255, 255, 255, 191, 191, 191, 0, 0, 0, 0, 0, 0, 0, 0, 0,
		255, 255, 255, 255, 255, 255, 128, 128, 128, 0, 0, 0, 0, 0, 0, 0, 0, 0,
		255, 255, 255, 255, 255, 255, 64, 64, 64, 0, 0, 0, 0, 0, 0, 0, 0, 0,
	}
	darker := func(rgb [3]uint8) uint16 {
		if rgb[0] < 128 {
			return 1
		}
		return 0
	}
	l := NewLabels(pix, 6, 3, darker, [][]uint16{{0}, {0xffff}}, 0)
	row := make([]byte, 3)
	for y := range 12 {
		l.Bits(0, 24, 12).Rows(row, 3, y, y+1)
		fmt.Printf("%08b\n", row)
	}
	// Output:
	// [00000000 00011111 11111111]
	// [00000000 00011111 11111111]
	// [00000000 00011111 11111111]
	// [00000000 00011111 11111111]
	// [00000000 00011111 11111111]
	// [00000000 00111111 11111111]
	// [00000000 00111111 11111111]
	// [00000000 01111111 11111111]
	// [00000000 01111111 11111111]
	// [00000000 01111111 11111111]
	// [00000000 01111111 11111111]
	// [00000000 01111111 11111111]
}
