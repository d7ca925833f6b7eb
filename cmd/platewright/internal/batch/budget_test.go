package batch

import (
	"context"
	"image"
	"image/color"
	"image/png"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"platewright/separate/artwork"
)

// TestNeedHolds compares what the work on pictures takes with what is set aside
// for it: flat artwork, which takes most by pixel, and noise of many colors.
func TestNeedHolds(t *testing.T) {
	if raced {
		t.Skip("the race detector takes several times the memory")
	}
	t.Setenv("BATCH_TRUE_CHILD", "1")
	dir := filepath.Join(t.TempDir(), "in")
	if err := os.Mkdir(dir, 0o777); err != nil {
		t.Fatal(err)
	}
	rnd := rand.New(rand.NewPCG(1, 2))
	for name, grain := range map[string]int{"flat": 200, "noise": 1} {
		pic := image.NewNRGBA(image.Rect(0, 0, 1000, 800))
		colors := make([]color.NRGBA, 4)
		for i := range colors {
			colors[i] = color.NRGBA{uint8(rnd.IntN(256)), uint8(rnd.IntN(256)), uint8(rnd.IntN(256)), 255}
		}
		for y := range 800 {
			for x := range 1000 {
				c := colors[(x/grain+y/grain*3)%4]
				if grain == 1 {
					c = color.NRGBA{uint8(rnd.IntN(256)), uint8(rnd.IntN(256)), uint8(rnd.IntN(256)), 255}
				}
				pic.SetNRGBA(x, y, c)
			}
		}
		f, err := os.Create(filepath.Join(dir, name+".png"))
		if err != nil {
			t.Fatal(err)
		}
		if err := png.Encode(f, pic); err != nil {
			t.Fatal(err)
		}
		f.Close()
	}
	s, opt := settings(t), options(dir+"-jobs")
	found := scan(t, dir, opt.Results)
	needs := make(map[string]int64)
	for i := range found.Inputs {
		w, err := s.plan(&found.Inputs[i], opt.Results)
		if err != nil {
			t.Fatal(err)
		}
		needs[w.Rel] = w.need()
	}
	opt.Tell = func(e Event) {
		if e.State == Failed {
			t.Errorf("%s: %s", e.File, e.Reason)
		}
		t.Logf("%s took %d of %d MB", e.File, e.Peak>>20, needs[e.File]>>20)
		if e.Peak > needs[e.File] {
			t.Errorf("%s took %d bytes, and %d were set aside", e.File, e.Peak, needs[e.File])
		}
	}
	if totals, err := Run(context.Background(), found, s, opt); err != nil || totals.Through != 2 {
		t.Fatalf("%+v %v", totals, err)
	}
}

// TestNeedByRows wants plates that are not held to need no memory, and a sheet
// of A2 at 300 ppi in eight inks to fit beside another into what is allowed
// where nothing is said.
func TestNeedByRows(t *testing.T) {
	in := &Input{Size: artwork.Size{Width: 7016, Height: 4961, Bytes: 220e6, Held: 105e6}}
	few, many := &work{Input: in, inks: 1, rows: true}, &work{Input: in, inks: 8, rows: true}
	if few.need() != many.need() {
		t.Errorf("needs %d with one ink and %d with eight", few.need(), many.need())
	}
	if many.need() > 1024e6 {
		t.Errorf("needs %d bytes", many.need())
	}
	if held := (&work{Input: in, inks: 8}).need(); held < many.need()+8*2*7016*4961 {
		t.Errorf("needs %d with plates that are held", held)
	}
}
