package job

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"
)

// A job whose plates are too large to be held gives the same files.
func TestPlatesByRows(t *testing.T) {
	dir := t.TempDir()
	art := filepath.Join(dir, "art.png")
	drawArt(t, art, 300, 200)
	stock, err := (&Job{Shelf: BuiltIn}).OpenStock()
	if err != nil {
		t.Fatal(err)
	}
	for _, tints := range []Tints{"any", "none"} {
		var folders [2]string
		for i, held := range []int{0, 1} {
			j := New()
			j.Art, j.Inks, j.Width, j.FilmDPI, j.Tints = art, Names{"brick rust", "lemon peel"}, "50mm", 600, tints
			j.PlateSet, j.Date = PlateSet{"tiff"}, "2026-03-01"
			opt := Options{Out: filepath.Join(dir, string(tints), string(rune('a'+i))), Stock: stock, held: held}
			rep, folder, err := Run(context.Background(), j, opt)
			if err != nil {
				t.Fatal(err)
			}
			folders[i] = folder
			for _, f := range rep.Files {
				if i == 0 || f.Path == "job.toml" {
					continue
				}
				a, err := os.ReadFile(filepath.Join(folders[0], f.Path))
				if err != nil {
					t.Fatal(err)
				}
				b, err := os.ReadFile(filepath.Join(folder, f.Path))
				if err != nil {
					t.Fatal(err)
				}
				if !bytes.Equal(a, b) {
					t.Errorf("tints %s: %s differs", tints, f.Path)
				}
			}
		}
	}
}
