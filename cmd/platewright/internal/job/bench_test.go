package job

import (
	"context"
	"path/filepath"
	"testing"

	"platewright/separate"
)

// BenchmarkRun makes a whole job folder of a small picture.
func BenchmarkRun(b *testing.B) {
	dir := b.TempDir()
	art := filepath.Join(dir, "art.png")
	drawArt(b, art, 600, 400)
	stock, err := (&Job{Shelf: BuiltIn}).OpenStock()
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		j := New()
		j.Art, j.Inks, j.Width, j.FilmDPI = art, Names{"deep kelp", "brick rust", "lemon peel"}, "100mm", 600
		if _, _, err := Run(context.Background(), j, Options{Out: filepath.Join(dir, "out"), Force: true, Stock: stock}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkReduce(b *testing.B) {
	const w, h = 3508, 4961 // A3 at 300 ppi
	res := &separate.Result{Width: w, Height: h, Ink: [][]uint16{make([]uint16, w*h)}}
	b.SetBytes(2 * w * h)
	for b.Loop() {
		reduce(res, 1, sheetPicture)
	}
}

func BenchmarkShifted(b *testing.B) {
	const w, h = 1754, 2480
	p := &Plate{WidthMM: 297, HeightMM: 420}
	p.Width, p.Height, p.Cov = w, h, make([]uint16, w*h)
	b.SetBytes(2 * w * h)
	for b.Loop() {
		p.Shifted(Shift{.3, -.2})
	}
}
