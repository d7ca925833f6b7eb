package main

import (
	"encoding/json"
	"fmt"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"testing"

	"platewright/composite"
	"platewright/composite/chart"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
	"platewright/halftone/film"
	"platewright/separate/artwork"
)

// press prints as a measured condition does: a model fitted to all of its patches,
// of which it is off by ΔE00 .3 in the mean at most.
type press struct{ *composite.Model }

func newPress(t *testing.T) *press {
	t.Helper()
	f, err := os.Open("../../testdata/fogra29l-uncoated.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	tab, err := chart.ReadTable(f, "fogra29l-uncoated.csv")
	if err != nil {
		t.Fatal(err)
	}
	fit, err := chart.Fit(nil, chart.Print{Inks: tab.Inks, Paper: "sheet", Finish: ink.Uncoated}, tab.Samples)
	if err != nil {
		t.Fatal(err)
	}
	m, err := composite.New(fit.Shelf, fit.Paper, composite.AsMeasured(fit.Inks...))
	if err != nil {
		t.Fatal(err)
	}
	if e := chart.Predict(m, tab.Samples); e.Mean > .3 {
		t.Fatalf("the press is off: %v", e)
	}
	return &press{m}
}

// print is the color of three inks, yellow, magenta and cyan first printed first,
// and a black bar.
func (p *press) print(e *composite.Evaluator, film []float64, black bool) spectrum.XYZ {
	cov := []float64{0, 0, 0, 0}
	for i, v := range film {
		cov[2-i] = v
	}
	if black {
		cov[3] = 1
	}
	return e.XYZ(cov)
}

// TestPosterThroughPress prints the example poster through a press that has never
// heard of the shelf: separated by ink colors alone, proofed, printed; then a
// chart is printed on the same press, scanned by a scanner whose channels bleed,
// measured, and the same plates are proofed again. The figures are the README's.
func TestPosterThroughPress(t *testing.T) {
	p := newPress(t)
	e := p.NewEvaluator()
	from, err := filepath.Abs("../../examples/poster/poster.png")
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	shrink(t, from, "poster.png", 16)
	shelf := "[[paper]]\nname = \"sheet\"\ncolor = \"" + hex(p.Overprint(0)) + "\"\n"
	names := []string{"sun", "rose", "sea"}
	for i, n := range names {
		film := []float64{0, 0, 0}
		film[i] = 1
		shelf += fmt.Sprintf("\n[[ink]]\nname = %q\ncolor = %q\n", n, hex(p.print(e, film, false)))
	}
	if err := os.WriteFile("shelf.toml", []byte(shelf), 0o666); err != nil {
		t.Fatal(err)
	}
	platewright(t, "separate", "poster.png", "--inks", "sun,rose,sea", "--tints", "any", "--width", "297mm", "--films", "none", "-o", "job")
	var plates [3]*artwork.Picture
	for i, n := range names {
		if plates[i], err = artwork.Open(fmt.Sprintf("job/plates/poster-%d-%s.png", i+1, n), artwork.Limits{}); err != nil {
			t.Fatal(err)
		}
	}
	before := p.proofError(t, "shelf.toml", names, plates[:])

	const dpi = 150
	platewright(t, "chart", "--inks", "sun,rose,sea", "--films", "png", "--film-dpi", strconv.Itoa(dpi), "--ruling", "30")
	p.scan(t, dpi, "scan.png")
	platewright(t, "measure", "scan.png", "--chart", "chart/chart.toml", "--date", "2026-11-25")
	after := p.proofError(t, "shelf-measured.toml", names, plates[:])
	t.Logf("proof of the poster against its print: before the test print %v; after it %v", before, after)
	if after.Mean > 1.7 || after.Mean > before.Mean/2 {
		t.Errorf("the proof is off by %v after the test print, %v before", after, before)
	}
	platewright(t, "separate", "poster.png", "--shelf", "shelf-measured.toml", "--inks", "sun,rose,sea", "--tints", "any", "--width", "297mm", "--films", "none", "-o", "again")
	var report struct {
		Inks []struct {
			KnownBy string `json:"known_by"`
		} `json:"inks"`
	}
	data, err := os.ReadFile("again/report.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, &report); err != nil {
		t.Fatal(err)
	}
	if by := report.Inks[0].KnownBy; by != "a color over paper and one over black, with 10 tints (a scan of the test print, 2026-11-25)" {
		t.Errorf("the job's report says %q", by)
	}
}

func hex(c spectrum.XYZ) string {
	rgb := c.RGB().Clamp()
	return fmt.Sprintf("#%02x%02x%02x", int(rgb[0]*255+.5), int(rgb[1]*255+.5), int(rgb[2]*255+.5))
}

// proofError compares what a shelf predicts of plates with what the press prints.
func (p *press) proofError(t *testing.T, shelf string, names []string, plates []*artwork.Picture) chart.Errors {
	t.Helper()
	f, err := os.Open(shelf)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	s, err := ink.Load(f, shelf)
	if err != nil {
		t.Fatal(err)
	}
	var inks []*ink.Ink
	for _, n := range names {
		i, err := s.Ink(n)
		if err != nil {
			t.Fatal(err)
		}
		inks = append(inks, i)
	}
	m, err := composite.New(s, s.Papers[0], composite.AsMeasured(inks...))
	if err != nil {
		t.Fatal(err)
	}
	proof, print := m.NewEvaluator(), p.NewEvaluator()
	var off []float64
	cov := make([]float64, 3)
	for y := range plates[0].Height {
		for x := range plates[0].Width {
			ink := 0.0
			for i, q := range plates {
				v, _, _ := q.At(x, y)
				cov[i] = 1 - v
				ink += cov[i]
			}
			if ink > 0 {
				off = append(off, spectrum.DeltaE(proof.XYZ(cov).Lab(), p.print(print, cov, false).Lab()))
			}
		}
	}
	sort.Float64s(off)
	out := chart.Errors{Patches: len(off), P95: off[len(off)*95/100], Most: off[len(off)-1]}
	for _, v := range off {
		out.Mean += v / float64(len(off))
	}
	return out
}

// shrink reduces a picture by a whole number.
func shrink(t *testing.T, from, to string, by int) {
	t.Helper()
	pic, err := artwork.Open(from, artwork.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	w, h := pic.Width/by, pic.Height/by
	pix := make([]uint8, 3*w*h)
	for y := range h {
		for x := range w {
			r, g, b := pic.At(x*by+by/2, y*by+by/2)
			pix[3*(y*w+x)], pix[3*(y*w+x)+1], pix[3*(y*w+x)+2] = uint8(r*255+.5), uint8(g*255+.5), uint8(b*255+.5)
		}
	}
	writePicture(t, to, w, h, pix, 150)
}

func writePicture(t *testing.T, to string, w, h int, pix []uint8, dpi float64) {
	t.Helper()
	f, err := os.Create(to)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := film.WriteProof(f, w, h, pix, nil, film.Info{DPI: dpi}); err != nil {
		t.Fatal(err)
	}
}

// scan prints the chart and scans it: what has hard edges as on the films, the
// patches in the colors of their coverages, seen through channels that each take 4
// percent of either other's light, with noise.
func (p *press) scan(t *testing.T, dpi float64, to string) {
	t.Helper()
	c, err := openChart("chart/chart.toml")
	if err != nil {
		t.Fatal(err)
	}
	var films [][]uint8
	w, h := 0, 0
	for _, name := range []string{"1-black-bar", "2-sun", "3-rose", "4-sea"} {
		f, err := os.Open("chart/chart-" + name + ".png")
		if err != nil {
			t.Fatal(err)
		}
		m, err := png.Decode(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		w, h = m.Bounds().Dx(), m.Bounds().Dy()
		dark := make([]uint8, w*h)
		for i := range dark {
			if r, _, _, _ := m.At(i%w, i/w).RGBA(); r < 0x8000 {
				dark[i] = 1
			}
		}
		films = append(films, dark)
	}
	e := p.NewEvaluator()
	color := make([][3]float64, w*h)
	var solid [16]spectrum.XYZ
	for mask := range solid {
		film := []float64{float64(mask >> 1 & 1), float64(mask >> 2 & 1), float64(mask >> 3 & 1)}
		solid[mask] = p.print(e, film, mask&1 == 1)
	}
	for i := range color {
		color[i] = solid[films[0][i]|films[1][i]<<1|films[2][i]<<2|films[3][i]<<3].Linear()
	}
	for _, q := range c.Patches {
		film := make([]float64, 3)
		for i, v := range q.Film {
			film[i] = v / 100
		}
		l := p.print(e, film, q.OverBlack).Linear()
		for y := int(q.Y * dpi / 25.4); y < int((q.Y+q.H)*dpi/25.4); y++ {
			for x := int(q.X * dpi / 25.4); x < int((q.X+q.W)*dpi/25.4); x++ {
				color[y*w+x] = l
			}
		}
	}
	rnd := rand.New(rand.NewPCG(1, 1))
	pix := make([]uint8, 3*w*h)
	for i, l := range color {
		for k := range l {
			v := .92*l[k] + .04*l[(k+1)%3] + .04*l[(k+2)%3] + .004*rnd.NormFloat64()
			pix[3*i+k] = uint8(255*spectrum.Encode(math.Max(0, math.Min(1, .9*v))) + .5)
		}
	}
	writePicture(t, to, w, h, pix, dpi)
}
