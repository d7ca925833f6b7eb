package spread

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"platewright/halftone"
)

// Two bars that touch come apart by the shift, over their length; a trap of as
// much keeps them together, and no other outline counts.
func TestOpen(t *testing.T) {
	left := plate(60, 40, func(x, y int) float64 { return one(x >= 10 && x < 30 && y >= 5 && y < 35) })
	right := plate(60, 40, func(x, y int) float64 { return one(x >= 30 && x < 50 && y >= 5 && y < 35) })
	plates := []*halftone.Plate{left, right}
	r, err := NewRegister(plates, plates, 2*mmPerInch) // two pixels a millimetre
	if err != nil {
		t.Fatal(err)
	}
	open, err := r.Open([]Shift{{}, {2, 0}})
	if err != nil || len(open) != 1 {
		t.Fatalf("%v, %v: want one opening", open, err)
	}
	want := Opening{Inks: [2]int{0, 1}, Area: 2 * 15, Width: 2, X: 15, Y: 2.5, Wd: 2, Ht: 15}
	if open[0] != want {
		t.Errorf("%+v, want %+v", open[0], want)
	}
	if open, _ := r.Open([]Shift{{2, 0}, {}}); len(open) != 0 {
		t.Errorf("pushed together: %v", open)
	}
	worst := r.Worst(2)
	if n, _ := r.Open(worst); len(n) != 1 || math.Abs(n[0].Area-30) > 1e-9 {
		t.Errorf("worst %v opens %v", worst, n)
	}
	trapped, err := Trap(plates, []Ink{{Darkness: .2}, {Darkness: .8}}, 2, 2*mmPerInch)
	if err != nil {
		t.Fatal(err)
	}
	if r, err = NewRegister(plates, trapped, 2*mmPerInch); err != nil {
		t.Fatal(err)
	}
	if open, _ := r.Open(r.Worst(2)); len(open) != 0 {
		t.Errorf("with a trap: %v", open)
	}
	if open, _ := r.Open(r.Worst(3)); len(open) != 1 || math.Abs(open[0].Width-1) > .1 {
		t.Errorf("a shift 1 mm beyond the trap opens %v", open)
	}
}

// Bars apart by a gap of paper open nothing.
func TestOpenPaperMoves(t *testing.T) {
	plates := []*halftone.Plate{
		plate(60, 40, func(x, y int) float64 { return one(x < 28) }),
		plate(60, 40, func(x, y int) float64 { return one(x >= 32) }),
	}
	r, err := NewRegister(plates, plates, mmPerInch)
	if err != nil {
		t.Fatal(err)
	}
	if open, _ := r.Open(r.Worst(3)); len(open) != 0 {
		t.Errorf("%v", open)
	}
}

// Plates scattered by less than the trap open nothing, on any map.
func TestScatterWithinTrap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(20, 60).Draw(t, "w"), rapid.IntRange(20, 60).Draw(t, "h")
		kinds := blobs(w, h, 2, rapid.Uint64().Draw(t, "map"))
		plates := make([]*halftone.Plate, 2)
		for k := range plates {
			plates[k] = plate(w, h, func(x, y int) float64 { return one(kinds[y*w+x] == k) })
		}
		mm := rapid.Float64Range(1, 5).Draw(t, "trap")
		trapped, err := Trap(plates, drawInks(t, 2), mm+math.Sqrt2, mmPerInch) // a shift is rounded to pixels
		if err != nil {
			t.Fatal(err)
		}
		r, err := NewRegister(plates, trapped, mmPerInch)
		if err != nil {
			t.Fatal(err)
		}
		shifts := Scatter(2, mm, rapid.Uint64().Draw(t, "seed"))
		if d := math.Hypot(shifts[0].X-shifts[1].X, shifts[0].Y-shifts[1].Y); d > mm+1e-5 {
			t.Fatalf("%v are %g apart", shifts, d)
		}
		if open, _ := r.Open(shifts); len(open) != 0 {
			t.Fatalf("%v opens %v", shifts, open)
		}
	})
}

func TestScatterIsSeeded(t *testing.T) {
	a, b, c := Scatter(3, .5, 1), Scatter(3, .5, 1), Scatter(3, .5, 2)
	for i := range a {
		if a[i] != b[i] || a[i] == c[i] {
			t.Errorf("plate %d: %v, %v again, %v with another seed", i, a[i], b[i], c[i])
		}
	}
}

func TestNewRegisterErrors(t *testing.T) {
	a, b := plate(4, 4, func(x, y int) float64 { return 1 }), plate(5, 4, func(x, y int) float64 { return 1 })
	for name, plates := range map[string][]*halftone.Plate{"none": nil, "sizes": {a, b}, "nine": {a, a, a, a, a, a, a, a, a}} {
		if _, err := NewRegister(plates, plates, 300); err == nil {
			t.Errorf("%s: want an error", name)
		}
	}
}
