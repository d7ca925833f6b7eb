package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
	"platewright/halftone/film"
)

// platewright runs one command and returns what it wrote for machines.
func platewright(t *testing.T, args ...string) string {
	t.Helper()
	var out, words bytes.Buffer
	p := &program{in: strings.NewReader(""), out: &out, err: &words}
	if code := p.run(context.Background(), args); code != exitDone {
		t.Fatalf("platewright %s: exit code %d: %s", strings.Join(args, " "), code, &words)
	}
	t.Log(words.String())
	return out.String()
}

// TestMeasureTable learns four inks from at most 40, and 80, rows of two measured
// offset conditions (testdata/SOURCES.md) and predicts all other rows, all on the
// command line. Marks: mean ΔE00 0.75 coated, 0.85 uncoated; 0.6, 0.65 with tints of
// overlaps.
func TestMeasureTable(t *testing.T) {
	for _, tt := range []struct {
		file, finish string
		middles      bool
		most         float64
	}{
		{"fogra39l-coated.csv", "coated", false, .75},
		{"fogra29l-uncoated.csv", "uncoated", false, .85},
		{"fogra39l-coated.csv", "coated", true, .4},
		{"fogra29l-uncoated.csv", "uncoated", true, .4},
	} {
		f, err := os.Open(filepath.Join("..", "..", "testdata", tt.file))
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(f).ReadAll()
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		folder := t.TempDir()
		var chart, rest strings.Builder
		chart.WriteString("id,cyan,magenta,yellow,black,X,Y,Z\n")
		rest.WriteString("id,cyan,magenta,yellow,black\n")
		taken := map[string]bool{}
		var want []spectrum.XYZ
		n := 0
		for _, r := range rows[1:] {
			film := strings.Join(r[1:5], ",")
			if onChart(r[1:5], tt.middles) && !taken[film] {
				taken[film] = true
				n++
				fmt.Fprintln(&chart, strings.Join(r[:8], ","))
				continue
			}
			fmt.Fprintf(&rest, "%s,%s\n", r[0], film)
			var c spectrum.XYZ
			for k := range c {
				if c[k], err = strconv.ParseFloat(r[5+k], 64); err != nil {
					t.Fatal(err)
				}
			}
			want = append(want, c)
		}
		if limit := map[bool]int{false: 40, true: 80}[tt.middles]; n > limit || n < limit/2 {
			t.Fatalf("%d rows for the chart", n)
		}
		write := func(name, text string) string {
			path := filepath.Join(folder, name)
			if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
				t.Fatal(err)
			}
			return path
		}
		shelf := filepath.Join(folder, "measured.toml")
		platewright(t, "measure", "--table", write("chart.csv", chart.String()), "--finish", tt.finish, "--paper", "stock", "--inks", "cyan,magenta,yellow,black", "-o", shelf)
		got, err := csv.NewReader(strings.NewReader(platewright(t, "proof", "--table", write("rest.csv", rest.String()), "--shelf", shelf, "--inks", "cyan,magenta,yellow,black"))).ReadAll()
		if err != nil || len(got) != len(want)+1 {
			t.Fatalf("%d rows, want %d: %v", len(got), len(want)+1, err)
		}
		mean, most := 0.0, 0.0
		for i, r := range got[1:] {
			var c spectrum.XYZ
			for k := range c {
				if c[k], err = strconv.ParseFloat(r[5+k], 64); err != nil {
					t.Fatal(err)
				}
			}
			d := spectrum.DeltaE(c.Lab(), want[i].Lab())
			mean += d / float64(len(want))
			most = max(most, d)
		}
		t.Logf("%s, %d rows measured: mean ΔE00 %.3f, largest %.2f over %d others", tt.file, n, mean, most, len(want))
		if !(mean <= tt.most) || most > 3.5 {
			t.Errorf("%s, %d rows measured: mean %.3f, largest %.2f; want %g and 3.5", tt.file, n, mean, most, tt.most)
		}
	}
}

// onChart reports whether the chart of four inks has a patch of these percents:
// paper, solids and overlaps, five tints an ink, and with middles pairs, threes and
// fours of 40 percent and pairs of it with a solid or two tints with one.
func onChart(cells []string, middles bool) bool {
	inks, tints, solids, level := 0, 0, 0, 0.0
	for _, c := range cells {
		v, err := strconv.ParseFloat(c, 64)
		if err != nil {
			return false
		}
		switch {
		case v == 100:
			solids++
		case v > 0:
			tints++
			if level != 0 && v != level {
				return false
			}
			level = v
		}
		if v > 0 {
			inks++
		}
	}
	switch {
	case tints == 0:
		return true
	case inks == 1:
		return level == 10 || level == 25 || level == 40 || level == 60 || level == 80
	}
	return middles && level == 40 && (solids == 0 || inks == 2 || tints == 2 && solids == 1)
}

// TestChartToShelf makes the films of a chart, prints them, scans the print and
// measures it: the new shelf has the colors that the press printed, also where the
// old one was wrong.
func TestChartToShelf(t *testing.T) {
	t.Chdir(t.TempDir())
	const guess = `[[paper]]
name = "cream stock"
color = "lab(94, 0, 4)"

[[ink]]
name = "harbor blue"
color = "lab(46, -8, -40)"

[[ink]]
name = "brick rust"
color = "lab(47, 38, 30)"
`
	if err := os.WriteFile("shelf.toml", []byte(guess), 0o666); err != nil {
		t.Fatal(err)
	}
	const dpi = 200
	platewright(t, "chart", "--inks", "harbor blue,brick rust", "--paper-size", "A5", "--films", "png", "--film-dpi", strconv.Itoa(dpi), "--ruling", "40")
	// The press prints other colors than the shelf expects.
	truth := strings.NewReplacer("lab(46, -8, -40)", "lab(43, -5, -45)", "lab(47, 38, 30)", "lab(44, 44, 33)").Replace(guess)
	press, err := ink.Load(strings.NewReader(truth), "press")
	if err != nil {
		t.Fatal(err)
	}
	m, err := composite.New(press, press.Papers[0], composite.AsMeasured(press.Inks...))
	if err != nil {
		t.Fatal(err)
	}
	scanFilms(t, m, dpi, "scan.png", "chart/chart-1-black-bar.png", "chart/chart-2-harbor-blue.png", "chart/chart-3-brick-rust.png")
	platewright(t, "measure", "scan.png", "--chart", "chart/chart.toml", "--mesh", "77/cm", "--date", "2026-11-25")
	f, err := os.Open("shelf-measured.toml")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	s, err := ink.Load(f, "shelf-measured.toml")
	if err != nil {
		t.Fatal(err)
	}
	got, err := composite.New(s, s.Papers[0], composite.AsMeasured(s.Inks...))
	if err != nil {
		t.Fatal(err)
	}
	for mask := uint(0); mask < 4; mask++ {
		if d := spectrum.DeltaE(got.Overprint(mask).Lab(), m.Overprint(mask).Lab()); d > .8 {
			t.Errorf("solids %02b: measured %.1f, printed %.1f, ΔE %.2f", mask, got.Overprint(mask).Lab(), m.Overprint(mask).Lab(), d)
		}
	}
	for _, cov := range [][]float64{{.5, 0}, {0, .3}, {.4, .4}, {.4, 1}} {
		// The dots have hard edges and the light does not spread: n = 1.
		want := m.Overprint(0)
		for c := range want {
			want[c] = 0
			for mask := uint(0); mask < 4; mask++ {
				w := 1.0
				for i, a := range cov {
					if mask>>i&1 == 0 {
						a = 1 - a
					}
					w *= a
				}
				want[c] += w * m.Overprint(mask)[c]
			}
		}
		limit := 1.5 // on 7 mm of 200 dpi a tint is not exact
		if cov[0] > 0 && cov[1] > 0 {
			limit = 2.5 // on one patch dots of two screens do not meet just by chance
		}
		if d := spectrum.DeltaE(got.Lab(cov), want.Lab()); d > limit {
			t.Errorf("%v: predicted %.1f, printed %.1f, ΔE %.2f", cov, got.Lab(cov), want.Lab(), d)
		}
	}
	for _, i := range s.Inks {
		if by := i.KnownBy(); !strings.Contains(by, "a scan of the test print, 2026-11-25, 77/cm") || len(i.Tints) != 10 {
			t.Errorf("%s is known by %q, with %d tints", i.Name, by, len(i.Tints))
		}
	}
	if _, err := os.Stat("scan-read.png"); err != nil {
		t.Error(err)
	}
	if old, err := os.ReadFile("shelf.toml"); err != nil || string(old) != guess {
		t.Error("the old shelf was touched")
	}
}

// scanFilms prints films over each other and writes the print as a scan.
func scanFilms(t *testing.T, m *composite.Model, dpi float64, to string, films ...string) {
	t.Helper()
	var layers []image.Image
	for _, name := range films {
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		p, err := png.Decode(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		layers = append(layers, p)
	}
	w, h := layers[0].Bounds().Dx(), layers[0].Bounds().Dy()
	pix := make([]uint8, 3*w*h)
	for y := range h {
		for x := range w {
			mask := uint(0)
			for i, l := range layers[1:] {
				if color.GrayModel.Convert(l.At(x, y)).(color.Gray).Y < 128 {
					mask |= 1 << i
				}
			}
			c := m.Overprint(mask)
			if color.GrayModel.Convert(layers[0].At(x, y)).(color.Gray).Y < 128 {
				c = spectrum.Lab{16, 0, 0}.XYZ()
			}
			for k, v := range c.RGB().Clamp() {
				pix[3*(y*w+x)+k] = uint8(v*255 + .5)
			}
		}
	}
	f, err := os.Create(to)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := film.WriteProof(f, w, h, pix, nil, film.Info{DPI: dpi, Title: "scan"}); err != nil {
		t.Fatal(err)
	}
}
