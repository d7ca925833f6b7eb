package job

import (
	"context"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"platewright/halftone"
	"platewright/halftone/spread"
)

// patches is a picture of random patches in flat colors with soft edges.
func patches(w, h int, seed uint64) image.Image {
	rng := rand.New(rand.NewPCG(seed, 1))
	colors := []color.RGBA{{255, 255, 255, 255}, {255, 220, 60, 255}, {220, 60, 50, 255}, {20, 70, 140, 255}, {230, 140, 60, 255}, {90, 40, 60, 255}}
	type site struct {
		x, y float64
		c    color.RGBA
	}
	sites := make([]site, 14)
	for i := range sites {
		sites[i] = site{rng.Float64() * float64(w), rng.Float64() * float64(h), colors[i%len(colors)]}
	}
	at := func(x, y float64) color.RGBA {
		best, c := math.Inf(1), color.RGBA{}
		for _, s := range sites {
			if d := math.Hypot(s.x-x, s.y-y); d < best {
				best, c = d, s.c
			}
		}
		return c
	}
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			var sum [3]int
			for k := range 9 {
				c := at(float64(x)+(float64(k%3)+.5)/3, float64(y)+(float64(k/3)+.5)/3)
				sum[0], sum[1], sum[2] = sum[0]+int(c.R), sum[1]+int(c.G), sum[2]+int(c.B)
			}
			m.SetRGBA(x, y, color.RGBA{uint8(sum[0] / 9), uint8(sum[1] / 9), uint8(sum[2] / 9), 255})
		}
	}
	return m
}

// pictures reads gray or one-bit pictures as plates, dark being ink.
func pictures(t *testing.T, pattern string) []*halftone.Plate {
	t.Helper()
	names, err := filepath.Glob(pattern)
	if err != nil || len(names) == 0 {
		t.Fatalf("no %s: %v", pattern, err)
	}
	var out []*halftone.Plate
	for _, name := range names {
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		m, err := png.Decode(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		b := m.Bounds()
		p := &halftone.Plate{Width: b.Dx(), Height: b.Dy()}
		for y := range p.Height {
			for x := range p.Width {
				r, _, _, _ := m.At(x, y).RGBA()
				p.Cov = append(p.Cov, uint16(halftone.Full-r))
			}
		}
		out = append(out, p)
	}
	return out
}

// Through the whole program: however plates lie within the trap, no bare paper
// opens between inks that touched, on plates and on films alike; without the
// trap it does.
func TestTrapCoversEveryShift(t *testing.T) {
	dir := t.TempDir()
	stock, err := (&Job{Shelf: BuiltIn}).OpenStock()
	if err != nil {
		t.Fatal(err)
	}
	opened := 0
	for seed := range uint64(3) {
		art := filepath.Join(dir, "art.png")
		f, err := os.Create(art)
		if err != nil {
			t.Fatal(err)
		}
		if err := png.Encode(f, patches(150, 110, seed)); err != nil {
			t.Fatal(err)
		}
		f.Close()
		made := func(trap Trap, out string) string {
			j := New()
			j.Art, j.Width, j.Tints, j.Trap, j.Inks = art, "60mm", "none", trap, Names{"lemon peel", "poppy field", "harbor blue"}
			j.Films, j.FilmDPI, j.NoMarks = Formats{"png"}, 254, true
			_, folder, err := Run(context.Background(), j, Options{Out: filepath.Join(dir, out), Stock: stock, Force: true})
			if err != nil {
				t.Fatal(err)
			}
			return folder
		}
		const mm = 2
		plain, trapped := made("", "plain"), made("2mm", "trapped")
		for kind, ppi := range map[string]float64{"plates": 150 / 60. * mmPerInch, "films": 254} {
			was := pictures(t, filepath.Join(plain, kind, "*.png"))
			now := pictures(t, filepath.Join(trapped, kind, "*.png"))
			before, err := spread.NewRegister(was, was, ppi)
			if err != nil {
				t.Fatal(err)
			}
			after, err := spread.NewRegister(was, now, ppi)
			if err != nil {
				t.Fatal(err)
			}
			tries := [][]spread.Shift{before.Worst(mm), after.Worst(mm)}
			for i := range was { // each plate alone, in twelve directions
				for k := range 12 {
					by := make([]spread.Shift, len(was))
					sin, cos := math.Sincos(float64(k) * math.Pi / 6)
					// A shift is rounded to pixels: one within the trap.
					reach := math.Floor(mm*ppi/mmPerInch) / ppi * mmPerInch
					by[i] = spread.Shift{X: math.Trunc(cos*reach*ppi/mmPerInch) / ppi * mmPerInch, Y: math.Trunc(sin*reach*ppi/mmPerInch) / ppi * mmPerInch}
					tries = append(tries, by)
				}
			}
			for _, by := range tries {
				open, err := before.Open(by)
				if err != nil {
					t.Fatal(err)
				}
				opened += len(open)
				if open, err = after.Open(by); err != nil || len(open) > 0 {
					t.Fatalf("map %d, %s shifted by %v: %d places open, %v; %v", seed, kind, by, len(open), open[:min(1, len(open))], err)
				}
			}
		}
	}
	if opened < 100 {
		t.Errorf("without a trap only %d places open", opened)
	}
}
