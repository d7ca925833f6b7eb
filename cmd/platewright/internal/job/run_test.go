package job

import (
	"context"
	"errors"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func drawArt(t testing.TB, path string, w, h int) {
	t.Helper()
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := range w * h {
		m.SetRGBA(i%w, i/w, color.RGBA{uint8(i), uint8(255 * (i % w) / w), 90, 255})
	}
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := png.Encode(f, m); err != nil {
		t.Fatal(err)
	}
}

// TestRunInterrupted stops a run at each of its steps; nothing is left.
func TestRunInterrupted(t *testing.T) {
	dir := t.TempDir()
	art := filepath.Join(dir, "art.png")
	drawArt(t, art, 24, 24)
	stock, err := (&Job{Shelf: BuiltIn}).OpenStock()
	if err != nil {
		t.Fatal(err)
	}
	run := func(stopAt string) (steps []string, err error) {
		j := New()
		j.Art, j.Inks, j.Width, j.FilmDPI, j.Tints = art, Names{"deep kelp", "brick rust"}, "30mm", 300, "none"
		ctx, cancel := context.WithCancel(context.Background())
		defer cancel()
		_, _, err = Run(ctx, j, Options{Out: filepath.Join(dir, "out"), Stock: stock, Step: func(what string) {
			steps = append(steps, what)
			if what == stopAt {
				cancel()
			}
		}})
		return steps, err
	}
	steps, err := run("")
	if err != nil {
		t.Fatal(err)
	}
	if len(steps) < 5 {
		t.Errorf("only the steps %q", steps)
	}
	if err := os.RemoveAll(filepath.Join(dir, "out")); err != nil {
		t.Fatal(err)
	}
	for _, step := range steps {
		if _, err := run(step); !errors.Is(err, context.Canceled) {
			t.Errorf("stopped at %q: %v", step, err)
		}
		if entries, err := os.ReadDir(dir); err != nil || len(entries) != 1 {
			t.Errorf("stopped at %q: %v %v are left", step, entries, err)
		}
	}
}

func TestReadPlate(t *testing.T) {
	dir := t.TempDir()
	save := func(name string, m image.Image) string {
		path := filepath.Join(dir, name)
		f, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if err := png.Encode(f, m); err != nil {
			t.Fatal(err)
		}
		return path
	}
	gray := image.NewNRGBA(image.Rect(0, 0, 4, 1))
	for x, c := range []color.NRGBA{{0, 0, 0, 255}, {255, 255, 255, 255}, {0, 0, 0, 0}, {51, 51, 51, 255}} {
		gray.SetNRGBA(x, 0, c)
	}
	p, err := ReadPlates([]string{save("gray.png", gray)}, Options{}.Limits, "40mm", "")
	if err != nil {
		t.Fatal(err)
	}
	for x, want := range []uint16{65535, 0, 0, 52428} {
		if p[0].Cov[x] != want {
			t.Errorf("pixel %d: %d, want %d", x, p[0].Cov[x], want)
		}
	}
	if p[0].WidthMM != 40 || p[0].HeightMM != 10 {
		t.Errorf("%v × %v mm", p[0].WidthMM, p[0].HeightMM)
	}
	gray.SetNRGBA(0, 0, color.NRGBA{200, 0, 0, 255})
	if _, err := ReadPlate(save("color.png", gray), Options{}.Limits, "", ""); err == nil || !strings.Contains(err.Error(), "is gray") {
		t.Errorf("a colored plate: %v", err)
	}
}
