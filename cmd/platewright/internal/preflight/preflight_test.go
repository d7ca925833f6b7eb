package preflight

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"strings"
	"testing"

	"platewright/composite"
	"platewright/composite/spectrum"
	"platewright/halftone"
	"platewright/separate"
	"platewright/separate/artwork"
)

func pictureOf(t testing.TB, w, h int, at func(x, y int) color.NRGBA) *artwork.Picture {
	t.Helper()
	m := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			m.SetNRGBA(x, y, at(x, y))
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	p, err := artwork.Read(&b, "test.png", artwork.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

var (
	white = color.NRGBA{255, 255, 255, 255}
	green = color.NRGBA{47, 109, 88, 255}
	rust  = color.NRGBA{181, 72, 46, 255}
)

// disk is a green disk on white, anti-aliased over so many pixels.
func disk(w, h int, soft float64) func(x, y int) color.NRGBA {
	return func(x, y int) color.NRGBA {
		d := math.Hypot(float64(x)-float64(w)/2, float64(y)-float64(h)/2) - float64(min(w, h))/3
		a := min(max(.5-d/soft, 0), 1)
		mix := func(p, q uint8) uint8 { return uint8(math.Round(float64(p)*a + float64(q)*(1-a))) }
		return color.NRGBA{mix(green.R, 255), mix(green.G, 255), mix(green.B, 255), 255}
	}
}

func code(found []Finding, code string) *Finding {
	for i := range found {
		if found[i].Code == code {
			return &found[i]
		}
	}
	return nil
}

func TestPictureFindings(t *testing.T) {
	rules := Practice()
	rules.RulingLPI, rules.SizeStated = 45, true
	gradient := func(x, y int) color.NRGBA {
		return color.NRGBA{uint8(x % 256), uint8(y % 256), uint8((x*7 + y*3) % 256), 255}
	}
	for _, c := range []struct {
		name  string
		w, h  int
		wMM   float64
		at    func(x, y int) color.NRGBA
		rules func(*Rules)
		code  string
		level Level // "": not found
	}{
		{"line work at 300 ppi", 300, 300, 25.4, disk(300, 300, 1), nil, "resolution-low", ""},
		{"line work at 200 ppi", 300, 300, 38.1, disk(300, 300, 1), nil, "resolution-low", Note},
		{"line work at 100 ppi", 300, 300, 76.2, disk(300, 300, 1), nil, "resolution-low", Warning},
		{"a photograph at 3 pixels a line", 270, 270, 50.8, gradient, nil, "resolution-low", ""},
		{"a photograph at 2", 180, 180, 50.8, gradient, nil, "resolution-low", Note},
		{"a photograph at 1.2", 108, 108, 50.8, gradient, nil, "resolution-low", Warning},
		{"a photograph below a pixel a line", 80, 80, 50.8, gradient, nil, "resolution-low", Fault},
		{"the same at a size that nobody asked for", 80, 80, 50.8, gradient, func(r *Rules) { r.SizeStated = false }, "resolution-low", Warning},
		{"no size", 300, 300, 25.4, disk(300, 300, 1), func(r *Rules) { r.SizeStated = false }, "size-not-stated", Note},
		{"hard edges", 300, 300, 25.4, disk(300, 300, 1.4), nil, "soft-edges", ""},
		{"soft edges", 300, 300, 25.4, disk(300, 300, 12), nil, "soft-edges", Warning},
		{"fits the sheet turned", 400, 200, 280, disk(400, 200, 1), func(r *Rules) { r.SheetMM = [2]float64{210, 297} }, "larger-than-sheet", ""},
		{"larger than the sheet", 400, 200, 300, disk(400, 200, 1), func(r *Rules) { r.SheetMM = [2]float64{210, 297} }, "larger-than-sheet", Fault},
		{"larger than the frame", 400, 400, 250, disk(400, 400, 1), func(r *Rules) { r.FrameMM = [2]float64{240, 300} }, "larger-than-frame", Fault},
		{"two colors nearly one", 300, 300, 25.4, func(x, y int) color.NRGBA {
			switch {
			case x < 100:
				return green
			case x < 200:
				return color.NRGBA{50, 111, 90, 255}
			}
			return white
		}, nil, "near-colors", Warning},
		{"two colors apart", 300, 300, 25.4, func(x, y int) color.NRGBA {
			switch {
			case x < 100:
				return green
			case x < 200:
				return rust
			}
			return white
		}, nil, "near-colors", ""},
		{"a half transparent area", 300, 300, 25.4, func(x, y int) color.NRGBA {
			if x > 200 && y > 200 {
				return color.NRGBA{47, 109, 88, 120}
			}
			return white
		}, nil, "transparency", Warning},
		{"a transparent edge of one pixel", 300, 300, 25.4, func(x, y int) color.NRGBA {
			if x == 200 {
				return color.NRGBA{47, 109, 88, 120}
			}
			return white
		}, nil, "transparency", ""},
	} {
		r := rules
		if c.rules != nil {
			c.rules(&r)
		}
		_, found := Picture(pictureOf(t, c.w, c.h, c.at), c.wMM, c.wMM*float64(c.h)/float64(c.w), r)
		f := code(found, c.code)
		switch {
		case f == nil && c.level != "":
			t.Errorf("%s: no %s among %+v", c.name, c.code, found)
		case f != nil && f.Level != c.level:
			t.Errorf("%s: %s %q: %s", c.name, c.code, f.Level, f.Message)
		case f != nil && (f.Message == "" || f.Mend == "" || f.Client == ""):
			t.Errorf("%s: %+v: want what is so, the mend, and words for the client", c.name, f)
		}
	}
}

// TestPictureSaysWhere wants the place of what is wrong, to a tile of 1/32 of
// the longer side.
func TestPictureSaysWhere(t *testing.T) {
	const side, mm = 320, 160.0
	p := pictureOf(t, side, side, func(x, y int) color.NRGBA {
		if x >= 200 && x < 280 && y >= 40 && y < 100 {
			return color.NRGBA{47, 109, 88, 100}
		}
		return white
	})
	_, found := Picture(p, mm, mm, Practice())
	f := code(found, "transparency")
	if f == nil || len(f.Places) != 1 {
		t.Fatalf("%+v, want one place", f)
	}
	want := Place{100, 20, 40, 30}
	got := f.Places[0]
	for _, d := range []float64{got.X - want.X, got.Y - want.Y, got.X + got.W - want.X - want.W, got.Y + got.H - want.Y - want.H} {
		if math.Abs(d) > mm/32+.01 {
			t.Errorf("at %+v, want %+v", got, want)
		}
	}
}

// printOf separates by hand: one ink, its coverage given.
func printOf(t testing.TB, w, h int, wMM float64, screened bool, cov ...func(x, y int) float64) *Print {
	t.Helper()
	prim := []spectrum.XYZ{spectrum.White()}
	for range cov {
		n := len(prim)
		for i := range n {
			c := prim[i]
			prim = append(prim, spectrum.XYZ{c[0] * .2, c[1] * .3, c[2] * .25})
		}
	}
	m, err := composite.FromOverprints(prim, 1)
	if err != nil {
		t.Fatal(err)
	}
	p := &Print{Model: m, Plates: &separate.Result{Width: w, Height: h}, Screened: screened, WidthMM: wMM, HeightMM: wMM * float64(h) / float64(w)}
	c := make([]float64, len(cov))
	for i := range cov {
		p.Names = append(p.Names, string(rune('a'+i)))
		p.Plates.Ink = append(p.Plates.Ink, make([]uint16, w*h))
	}
	p.Picture = pictureOf(t, w, h, func(x, y int) color.NRGBA {
		for i, f := range cov {
			c[i] = f(x, y)
			p.Plates.Ink[i][y*w+x] = uint16(math.Round(c[i] * halftone.Full))
		}
		var v [3]uint8
		for k, e := range m.XYZ(c).RGB().Clamp() {
			v[k] = uint8(math.Round(255 * e))
		}
		return color.NRGBA{v[0], v[1], v[2], 255}
	})
	return p
}

func bar(x0, x1, y0, y1 int, v float64) func(x, y int) float64 {
	return func(x, y int) float64 {
		if x >= x0 && x < x1 && y >= y0 && y < y1 {
			return v
		}
		return 0
	}
}

func TestPlateFindings(t *testing.T) {
	// 300 pixels on 25.4 mm: a pixel is 0.085 mm.
	middle := bar(60, 240, 60, 240, 1)
	for _, c := range []struct {
		name     string
		screened bool
		cov      []func(x, y int) float64
		rules    func(*Rules)
		code     string
		level    Level
	}{
		{"a block", false, []func(x, y int) float64{middle}, nil, "thin-lines", ""},
		{"a line of 0.25 mm", false, []func(x, y int) float64{bar(100, 103, 50, 250, 1)}, nil, "thin-lines", Warning},
		{"a line of 0.51 mm", false, []func(x, y int) float64{bar(100, 106, 50, 250, 1)}, nil, "thin-lines", ""},
		{"the same for a coarse press", false, []func(x, y int) float64{bar(100, 106, 50, 250, 1)}, func(r *Rules) { r.LineMM = .6 }, "thin-lines", Warning},
		{"a gap of 0.42 mm", false, []func(x, y int) float64{func(x, y int) float64 { return middle(x, y) - bar(150, 155, 60, 240, 1)(x, y) }}, nil, "thin-gaps", Warning},
		{"a gap of 0.85 mm", false, []func(x, y int) float64{func(x, y int) float64 { return middle(x, y) - bar(150, 160, 60, 240, 1)(x, y) }}, nil, "thin-gaps", ""},
		{"nothing", false, []func(x, y int) float64{bar(0, 0, 0, 0, 1)}, nil, "nothing-prints", Fault},
		{"nothing of one ink", false, []func(x, y int) float64{middle, bar(0, 0, 0, 0, 1)}, nil, "blank-plate", Warning},
		{"tints of 3 %", true, []func(x, y int) float64{bar(60, 240, 60, 240, .03)}, nil, "pale-tints", Warning},
		{"tints of 30 %", true, []func(x, y int) float64{bar(60, 240, 60, 240, .3)}, nil, "pale-tints", ""},
		{"tints of 98 %", true, []func(x, y int) float64{bar(60, 240, 60, 240, .98)}, nil, "deep-tints", Warning},
		{"tints of 98 % as line work", false, []func(x, y int) float64{bar(60, 240, 60, 240, .98)}, nil, "deep-tints", ""},
		{"a margin", false, []func(x, y int) float64{middle}, nil, "runs-to-edge", ""},
		{"ink to the edge", false, []func(x, y int) float64{bar(0, 300, 0, 300, 1)}, nil, "runs-to-edge", Note},
		{"ink through the bleed", false, []func(x, y int) float64{bar(0, 300, 0, 300, 1)}, func(r *Rules) { r.BleedMM = 3 }, "bleed-short", ""},
		{"ink that ends at the trim", false, []func(x, y int) float64{bar(30, 300, 0, 300, 1)}, func(r *Rules) { r.BleedMM = 3 }, "bleed-short", Warning},
		{"a bleed wider than the picture", false, []func(x, y int) float64{middle}, func(r *Rules) { r.BleedMM = 13 }, "bleed-too-wide", Fault},
		{"a full plate on a duplicator", false, []func(x, y int) float64{bar(0, 300, 0, 290, 1)}, func(r *Rules) { r.Duplicator = true }, "heavy-plate", Warning},
		{"three solids on each other", false, []func(x, y int) float64{middle, middle, middle}, nil, "heavy-coverage", Note},
		{"in reach", false, []func(x, y int) float64{middle}, nil, "out-of-reach", ""},
	} {
		r := Practice()
		if c.rules != nil {
			c.rules(&r)
		}
		_, _, found, err := Plates(printOf(t, 300, 300, 25.4, c.screened, c.cov...), r)
		if err != nil {
			t.Fatal(err)
		}
		f := code(found, c.code)
		switch {
		case f == nil && c.level != "":
			t.Errorf("%s: no %s among %+v", c.name, c.code, found)
		case f != nil && f.Level != c.level:
			t.Errorf("%s: %s %q: %s", c.name, c.code, f.Level, f.Message)
		}
	}
}

// TestPlateFigures wants coverages to the rounding, and a thin line where it is.
func TestPlateFigures(t *testing.T) {
	line := bar(100, 103, 50, 250, 1)
	p := printOf(t, 300, 300, 25.4, true, line, bar(0, 150, 0, 300, .5))
	plates, total, found, err := Plates(p, Practice())
	if err != nil {
		t.Fatal(err)
	}
	want := []PlateFacts{{Ink: "a", Mean: .67, Solid: .67, Share: 3 * 200. / 90000}, {Ink: "b", Mean: 25, Tint: 50, Share: 32768. / 65535 / 2}}
	for i, w := range want {
		if plates[i] != w {
			t.Errorf("%+v, want %+v", plates[i], w)
		}
	}
	if w := (TotalFacts{Mean: 25.67, Most: 150, Bare: 50}); total != w {
		t.Errorf("%+v, want %+v", total, w)
	}
	f := code(found, "thin-lines")
	if f == nil || len(f.Places) != 1 {
		t.Fatalf("%+v, want one line", f)
	}
	const px = 25.4 / 300
	g := f.Places[0]
	for _, d := range []float64{g.X - 100*px, g.Y - 50*px, g.X + g.W - 103*px, g.Y + g.H - 250*px} {
		if math.Abs(d) > 2*px {
			t.Errorf("at %+v, want 8.47, 4.23: 0.25 × 16.93", g)
		}
	}
}

// TestOutOfReach wants the place of a color that the ink does not print.
func TestOutOfReach(t *testing.T) {
	p := printOf(t, 300, 300, 150, false, bar(60, 240, 60, 240, 1))
	for y := 60; y < 150; y++ {
		for x := 60; x < 150; x++ {
			copy(p.Picture.Pix[3*(y*300+x):], []uint8{220, 30, 30})
		}
	}
	_, _, found, err := Plates(p, Rules{})
	if err != nil {
		t.Fatal(err)
	}
	f := code(found, "out-of-reach")
	if f == nil || f.Level != Note || len(f.Places) != 1 {
		t.Fatalf("%+v, want one place", f)
	}
	if g := f.Places[0]; math.Abs(g.X-30) > 5 || math.Abs(g.Y-30) > 5 || math.Abs(g.W-45) > 10 || math.Abs(g.H-45) > 10 {
		t.Errorf("at %+v, want 30, 30: 45 × 45", g)
	}
}

func TestShape(t *testing.T) {
	for want, size := range map[string][2]int{"1:1": {700, 700}, "3:2": {600, 400}, "2:3": {400, 600}, "16:9": {1920, 1080}, "1:1.41": {2480, 3508}, "2.35:1": {2350, 1000}, "1000.00:1": {1000, 1}} {
		if got := Shape(size[0], size[1]); got != want {
			t.Errorf("%v: %s, want %s", size, got, want)
		}
	}
}

func TestLetter(t *testing.T) {
	found := []Finding{
		{Code: "a", Level: Note, Message: "print words", Client: "Please look."},
		{Code: "b", Level: Fault, Message: "print words", Client: "Too large.", Places: []Place{{10, 20, 4, 6}, {1, 1, 1, 1}}},
		{Code: "c", Level: Note, Message: "print words", Client: "Please look."},
		{Code: "d", Level: Warning, Message: "for the printer alone"},
		{Code: "process-colors", Level: Warning, Message: "print words"},
	}
	got := Letter("poster.png", Facts{WidthMM: 100, HeightMM: 50, Width: 400, Height: 200, PPI: 102}, found)
	for _, want := range []string{"poster.png", "100 × 50 mm (3.9 × 2.0 inches)", "Before we can print it:\n  - Too large. You find it about 12 mm from the left and 23 mm from the top, and elsewhere.", "Please export it as RGB", "was not changed"} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in:\n%s", want, got)
		}
	}
	if strings.Count(got, "Please look.") != 1 || strings.Contains(got, "print words") || strings.Contains(got, "printer alone") {
		t.Errorf("a thing said twice, or in the printer's words:\n%s", got)
	}
}

// TestMark wants the frame of a finding around its place, in the color of its
// level, and the list below.
// Findings at one place stand beside each other, and within the picture.
func TestMarkNumbers(t *testing.T) {
	for _, x := range []float64{5, 99} {
		var f []Finding
		for _, l := range []Level{Fault, Warning, Note} {
			f = append(f, Finding{Code: "x", Level: l, Message: "a thing", Places: []Place{{x, 25, .1, .1}}})
		}
		m, err := Mark(image.NewNRGBA(image.Rect(0, 0, 400, 200)), 100, 50, f)
		if err != nil {
			t.Fatal(err)
		}
		seen := make(map[color.Color]int)
		for y := range 200 {
			for x := range 400 {
				seen[color.RGBAModel.Convert(m.At(x, y))]++
			}
		}
		for _, l := range []Level{Fault, Warning, Note} {
			if n := seen[ink(l)]; n < 120 {
				t.Errorf("at %g mm: %d pixels of %s, want its number", x, n, l)
			}
		}
	}
}

func TestMark(t *testing.T) {
	art := image.NewNRGBA(image.Rect(0, 0, 400, 200))
	m, err := Mark(art, 100, 50, []Finding{{Code: "x", Level: Fault, Message: "a thing", Places: []Place{{25, 10, 50, 30}}}})
	if err != nil {
		t.Fatal(err)
	}
	if b := m.Bounds(); b.Dx() != 560 || b.Dy() <= 200 || b.Dy() > 260 {
		t.Errorf("%v, want a list below 200 rows", b)
	}
	red := ink(Fault)
	for _, p := range []image.Point{{100, 100}, {300, 100}, {200, 40}, {200, 160}} {
		if got := color.RGBAModel.Convert(m.At(p.X, p.Y)); got != red {
			t.Errorf("at %v: %v, want %v", p, got, red)
		}
	}
	if got := color.RGBAModel.Convert(m.At(200, 100)); got == red {
		t.Error("the place is covered")
	}
}

func TestSortAndWorst(t *testing.T) {
	f := []Finding{{Code: "a", Level: Note}, {Code: "b", Level: Fault}, {Code: "c", Level: Warning}, {Code: "d", Level: Fault}}
	if w := Worst(f); w != Fault {
		t.Errorf("worst is %q", w)
	}
	if w := Worst(nil); w != "" {
		t.Errorf("worst of none is %q", w)
	}
	Sort(f)
	order := ""
	for _, g := range f {
		order += g.Code
	}
	if order != "bdca" {
		t.Errorf("order %s", order)
	}
}

// BenchmarkPlates looks at three plates of an A4 print at 200 ppi; bytes are
// pixels.
func BenchmarkPlates(b *testing.B) {
	const w, h = 1654, 2339
	p := printOf(b, w, h, 210, false, bar(100, 1000, 100, 2000, 1), bar(500, 1500, 300, 2200, 1), bar(800, 803, 0, h, 1))
	b.SetBytes(w * h)
	for b.Loop() {
		if _, _, _, err := Plates(p, Practice()); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkPicture looks at a picture of A4 at 200 ppi; bytes are pixels.
func BenchmarkPicture(b *testing.B) {
	const w, h = 1654, 2339
	p := pictureOf(b, w, h, disk(w, h, 3))
	b.SetBytes(w * h)
	for b.Loop() {
		Picture(p, 210, 297, Practice())
	}
}
