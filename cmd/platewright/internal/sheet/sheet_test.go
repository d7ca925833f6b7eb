package sheet

import (
	"bytes"
	"encoding/base64"
	"flag"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"platewright/composite/spectrum"
)

var keep = flag.String("keep", "", "folder to write the sample sheet and pictures to, for looking at them")

func xyz(code uint32) spectrum.XYZ {
	return spectrum.RGB{float64(code>>16) / 255, float64(code>>8&255) / 255, float64(code&255) / 255}.XYZ()
}

// sample is a job of three invented inks with every part of the sheet filled.
// Its overprints are typed, not predicted: this package computes no color.
func sample(w, h int) Data {
	codes := []uint32{0xf6f1e5, 0xf8c13c, 0xef6c7c, 0xe36229, 0x2577a6, 0x436646, 0x503f66, 0x4f3a30}
	names := []string{"lantern amber", "buoy coral", "strait blue"}
	var over []Overprint
	for i, c := range codes {
		over = append(over, Overprint{Color: xyz(c), Measured: i == 6})
	}
	inks := func(x, y int) int { // three discs, crossing
		m := 0
		for i, c := range [][2]float64{{.38, .6}, {.62, .6}, {.5, .38}} {
			if math.Hypot(float64(x)/float64(w)-c[0], (float64(y)/float64(h)-c[1])*float64(h)/float64(w)) < .24 {
				m |= 1 << i
			}
		}
		return m
	}
	paint := func(mask int) *image.RGBA {
		m := image.NewRGBA(image.Rect(0, 0, w, h))
		for y := range h {
			for x := range w {
				c := codes[inks(x, y)&mask]
				m.SetRGBA(x, y, color.RGBA{uint8(c >> 16), uint8(c >> 8), uint8(c), 255})
			}
		}
		return m
	}
	d := Data{
		Job: "Night Ferry", Date: "2026-11-25", WidthMM: 297, HeightMM: 297 * float64(h) / float64(w),
		SizeFrom: "from the file, 150 ppi",
		Artwork:  File{Name: "poster.png", SHA256: strings.Repeat("3f", 32)}, Pixels: [2]int{w, h},
		Paper: Paper{"sailcloth satin", "coated", xyz(codes[0])},
		Facts: []Fact{{"Process", "silkscreen"}, {"Tints", "none: flat artwork"}, {"Trap", "0.5 mm, as the register"}},
		Art:   paint(7), Proof: paint(7),
		Fit: &Fit{Mean: .8, P95: 2.4, Max: 6.1, InReach: 93, PlusMinus: 3},
		Colors: []Match{
			{xyz(0xf8c13c), xyz(0xf8c13c), 0, 12.5, "lantern amber"},
			{xyz(0x4b3d66), xyz(0x503f66), 2.4, 31, "buoy coral + strait blue"},
			{xyz(0x10a040), xyz(0x436646), 21, 1.2, "lantern amber + strait blue"},
		},
		Overprints: over,
		FilmFacts:  []Fact{{"Resolution", "1200 dpi, one bit"}, {"Film size", "327 × 450 mm"}, {"Side", "right-reading positive"}},
		Tone: &Tone{
			Print: []float64{5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95}, Inks: names,
			Film: [][]float64{{10, 13, 20, 29, 37, 45, 54, 60, 71, 84, 93}, {9, 12, 19, 28, 36, 44, 53, 60, 70, 83, 92}, {11, 14, 21, 29, 37, 45, 54, 61, 72, 85, 94}},
		},
		Findings: []Finding{
			{"warning", "lines of 0.3 mm in strait blue are thinner than this mesh holds", "thicken them to 0.35 mm, or use a finer mesh", &Place{60, 70, 40, 25}},
			{"fault", "the artwork has no bleed and runs to the edge", "give --bleed 3mm", nil},
			{"note", "inks of the built-in shelf are examples; a print will differ", "describe your own: platewright inks --new shelf.toml", nil},
		},
		Quantities: []Quantity{{"lantern amber", 140, "for 40 sheets and 6 overs, with 100 g to charge the frame"}, {"buoy coral", 190, ""}, {"strait blue", 210, ""}},
		Recipes: []Recipe{{"buoy coral", xyz(codes[2]), []Part{{"poppy field", 34.5, 69}, {"transparent base", 65.5, 131}},
			"200 g"}},
		Next: "platewright proof Night-Ferry-plates/plates/*.png --shift 0.5mm -o shift.png",
	}
	for i, n := range names {
		pl := image.NewGray(image.Rect(0, 0, w, h))
		n0 := 0
		for y := range h {
			for x := range w {
				pl.Pix[y*pl.Stride+x] = 255
				if inks(x, y)>>i&1 == 1 {
					pl.Pix[y*pl.Stride+x], n0 = 0, n0+1
				}
			}
		}
		file := strings.ReplaceAll(n, " ", "-")
		p := Plate{Ink: n, Color: over[1<<i].Color, Coverage: 100 * float64(n0) / float64(w*h), Base: math.NaN(),
			RulingLPI: 45, AngleDeg: 22.5 + 30*float64(i), Dot: "round", KnownBy: "a color and an opacity", Opacity: .1, PlusMinus: .1,
			File: "plates/poster-" + file + ".png", Picture: pl}
		if i == 1 {
			p.Base, p.Opacity, p.KnownBy = 60, math.NaN(), "a color over paper and one over black"
		}
		d.Plates = append(d.Plates, p)
		d.After = append(d.After, paint(1<<(i+1)-1))
		d.Films = append(d.Films, File{"films/poster-" + file + ".tif", strings.Repeat("a0", 32), "pull " + string(rune('1'+i)) + " of 3"})
	}
	a, b := make([]spectrum.Lab, w*h), make([]spectrum.Lab, w*h)
	for i := range a {
		c := over[inks(i%w, i/w)].Color.Lab()
		a[i], b[i] = c, c
		b[i][0] += 9 * float64(i) / float64(w*h) * float64(i%w) / float64(w)
	}
	d.Difference, _ = Differences(a, b, w)
	return d
}

func page(t *testing.T, d Data) string {
	t.Helper()
	var buf bytes.Buffer
	if err := Write(&buf, d); err != nil {
		t.Fatal(err)
	}
	return buf.String()
}

func TestWriteHoldsEveryPart(t *testing.T) {
	s := page(t, sample(600, 848))
	if *keep != "" {
		if err := os.WriteFile(filepath.Join(*keep, "sheet.html"), []byte(s), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, want := range []string{
		"<h1>Night Ferry</h1>", "297 × 419.8 mm", "11.7 × 16.5 in", "pull 2 of 3", "60 % of the weight", "45 lpi at 52.5°",
		"a color over paper and one over black", "0.1 ± 0.1, a guess", DeltaEWords, "films/poster-strait-blue.tif", strings.Repeat("a0", 32),
		"at 60 mm from the left and 70 mm from the top (40 × 25 mm)", "transparent base", "checked by", "safety data sheet",
		"platewright proof Night-Ferry-plates", "sailcloth satin", "(measured)",
	} {
		if !strings.Contains(s, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(s, "ZgotmplZ") {
		t.Error("the template refused one of our own values")
	}
	// Once for every place that shows ΔE: map, fit and colors.
	if n := strings.Count(s, DeltaEWords); n != 3 {
		t.Errorf("ΔE is put into words %d times, not 3", n)
	}
}

func TestWriteStandsAlone(t *testing.T) {
	s := page(t, sample(300, 424))
	if m := regexp.MustCompile(`(?i)<script|<link|@import|@font-face|\b(?:src|href)="(?:[^d]|d[^a])`).FindString(s); m != "" {
		t.Errorf("the page needs another file or a script: %q", m)
	}
	if n := strings.Count(s, "<img "); n != 3+1+3+3 {
		t.Errorf("%d pictures, not 10", n)
	}
}

func TestWriteEscapesNames(t *testing.T) {
	const evil = `</title><script>alert("x")</script><b style='x' onerror=y>&amp;`
	d := sample(60, 84)
	d.Job, d.Date, d.SizeFrom, d.Next = evil, evil, evil, evil
	d.Artwork = File{evil, evil, evil}
	d.Paper.Name, d.Paper.Finish = evil, evil
	d.Cautions = []string{evil}
	d.Facts[0] = Fact{evil, evil}
	d.FilmFacts[0] = Fact{evil, evil}
	d.Films[0] = File{evil, evil, evil}
	d.Plates[0].Ink, d.Plates[0].KnownBy, d.Plates[0].File, d.Plates[0].Dot, d.Plates[0].Mesh = evil, evil, evil, evil, evil
	d.Findings[0] = Finding{evil, evil, evil, d.Findings[0].Where}
	d.Tone.Inks[0] = evil
	d.Quantities[0] = Quantity{evil, 1, evil}
	d.Recipes[0] = Recipe{evil, d.Recipes[0].Color, []Part{{evil, 1, 1}}, evil}
	d.Colors[0].Inks = evil
	s := page(t, d)
	if !strings.Contains(s, "&lt;script&gt;") {
		t.Fatal("the names are not on the page")
	}
	for _, bad := range []string{"<script", "<b style", "</title><"} {
		if strings.Contains(s, bad) {
			t.Errorf("a name reached the page as markup: %q", bad)
		}
	}
}

func TestWriteLeavesOutWhatIsNotGiven(t *testing.T) {
	s := page(t, Data{Job: "plain", WidthMM: 100, HeightMM: 50, Plates: []Plate{{Ink: "deep kelp", Base: math.NaN(), Opacity: math.NaN()}}})
	for _, no := range []string{"<img", "ΔE", "<h2>Films", "<h2>Findings", "<h2>Overprints", "opacity", "NaN", "<h2>Next", "<svg class=\"over\""} {
		if strings.Contains(s, no) {
			t.Errorf("the page shows %q", no)
		}
	}
	if !strings.Contains(s, "as measured") || !strings.Contains(s, "none: solids and line work") {
		t.Error("unknown base or unscreened plate not in words")
	}
}

func TestWriteRefusesContradictions(t *testing.T) {
	for _, c := range []struct {
		name string
		bend func(*Data)
		want string
	}{
		{"overprints", func(d *Data) { d.Overprints = d.Overprints[:5] }, "give all 8"},
		{"pulls", func(d *Data) { d.After = d.After[:2] }, "one for each"},
		{"tone rows", func(d *Data) { d.Tone.Film = d.Tone.Film[:1] }, "one row for each ink"},
		{"tone steps", func(d *Data) { d.Tone.Film[1] = d.Tone.Film[1][:3] }, "3 steps"},
	} {
		d := sample(30, 42)
		c.bend(&d)
		if err := Write(&bytes.Buffer{}, d); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v does not say %q", c.name, err, c.want)
		}
	}
}

// Noise is the worst a picture can be for its encoding; large pictures must
// be reduced all the same.
func TestWriteStaysSmall(t *testing.T) {
	d := sample(300, 424)
	rnd := rand.New(rand.NewPCG(1, 2))
	m := image.NewRGBA(image.Rect(0, 0, 1800, 2500))
	for y := range 2500 {
		for x := range 1800 {
			if x%4 != 0 {
				copy(m.Pix[m.PixOffset(x, y):], m.Pix[m.PixOffset(x-1, y):m.PixOffset(x-1, y)+4])
				continue
			}
			v := rnd.Uint32()
			copy(m.Pix[m.PixOffset(x, y):], []uint8{uint8(v), uint8(v >> 8), uint8(v >> 16), 255})
		}
	}
	d.Art, d.Proof = m, m
	d.After = []image.Image{m, m, m}
	for i := range d.Plates {
		d.Plates[i].Picture = m
	}
	if n := len(page(t, d)); n > 3<<20 {
		t.Errorf("page of %d bytes, over 3 MB", n)
	}
}

func TestPicturesOfFlatColorsStayExact(t *testing.T) {
	m := image.NewRGBA(image.Rect(0, 0, 40, 30))
	for i := range m.Pix {
		m.Pix[i] = 255
	}
	m.SetRGBA(3, 4, color.RGBA{1, 2, 3, 255})
	u, err := dataURL(m, 900)
	if err != nil {
		t.Fatal(err)
	}
	data, ok := strings.CutPrefix(string(u), "data:image/png;base64,")
	if !ok {
		t.Fatalf("not a PNG: %.40s", u)
	}
	raw, err := base64.StdEncoding.DecodeString(data)
	if err != nil {
		t.Fatal(err)
	}
	got, err := png.Decode(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	if r, g, b, _ := got.At(3, 4).RGBA(); r>>8 != 1 || g>>8 != 2 || b>>8 != 3 || got.Bounds() != m.Rect {
		t.Errorf("pixel %d %d %d in %v", r>>8, g>>8, b>>8, got.Bounds())
	}
}

func TestReduceKeepsShape(t *testing.T) {
	for _, c := range []struct{ w, h, size, ww, wh int }{
		{1800, 900, 900, 900, 450}, {100, 3000, 900, 30, 900}, {5000, 1, 900, 900, 1}, {20, 10, 900, 20, 10},
	} {
		if b := reduce(image.NewGray(image.Rect(7, 3, 7+c.w, 3+c.h)), c.size).Rect; b != image.Rect(0, 0, c.ww, c.wh) {
			t.Errorf("%d × %d became %v", c.w, c.h, b)
		}
	}
}

func TestSeenFollowsTheWords(t *testing.T) {
	for _, c := range []struct {
		de   float64
		want string
	}{{.3, "not seen"}, {1.5, "barely seen"}, {2, "seen side by side"}, {3, "seen side by side"}, {4, "seen"}, {5.1, "plainly different"}} {
		if got := seen(c.de); got != c.want {
			t.Errorf("ΔE %v: %q, not %q", c.de, got, c.want)
		}
	}
}

func TestNumber(t *testing.T) {
	for _, c := range []struct {
		v    float64
		d    int
		want string
	}{{22.5, 1, "22.5"}, {45, 1, "45"}, {100, 0, "100"}, {.04, 1, "0"}, {-.04, 1, "0"}, {297.04, 1, "297"}} {
		if got := number(c.v, c.d); got != c.want {
			t.Errorf("%v: %q, not %q", c.v, got, c.want)
		}
	}
}
