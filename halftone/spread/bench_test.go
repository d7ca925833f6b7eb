package spread

import (
	"testing"

	"platewright/halftone"
)

// benchPlates are two plates of A4 at 300 dpi whose patches touch.
func benchPlates() []*halftone.Plate {
	const w, h = 2480, 3508
	plates := []*halftone.Plate{plate(w, h, func(x, y int) float64 { return one((x/80+y/90)%3 == 0) }),
		plate(w, h, func(x, y int) float64 { return one((x/80+y/90)%3 == 1) })}
	return plates
}

func BenchmarkSpread(b *testing.B) {
	p := benchPlates()[0]
	b.SetBytes(int64(len(p.Cov)))
	for b.Loop() {
		if _, err := Spread(p, .5, 300); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkChoke(b *testing.B) {
	p := benchPlates()[0]
	b.SetBytes(int64(len(p.Cov)))
	for b.Loop() {
		if _, err := Choke(p, .5, 300); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkTrap(b *testing.B) {
	plates := benchPlates()
	b.SetBytes(int64(len(plates[0].Cov)))
	for b.Loop() {
		if _, err := Trap(plates, []Ink{{Darkness: .1}, {Darkness: .9}}, .5, 300); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFind(b *testing.B) {
	p := benchPlates()[0]
	b.SetBytes(int64(len(p.Cov)))
	for b.Loop() {
		if _, err := Find(p, 300, Limits{Line: .35, Gap: .7, Dot: .35, Hole: .7}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkWorst(b *testing.B) {
	plates := benchPlates()
	r, err := NewRegister(plates, plates, 300)
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(plates[0].Cov)))
	for b.Loop() {
		r.Worst(.5)
	}
}
