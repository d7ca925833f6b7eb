package separate

import (
	"context"
	"slices"
	"testing"

	"platewright/composite/spectrum"
	"platewright/separate/artwork"
)

// small is a picture of w × h pixels of soft colors, some of them bare and some
// transparent, of 8 or 16 bits.
func small(w, h int, deep bool) *artwork.Picture {
	p := &artwork.Picture{Width: w, Height: h, Alpha: make([]uint8, w*h)}
	for i := range w * h {
		x, y := i%w, i/w
		p.Alpha[i] = 255
		c := [3]uint8{uint8(255 * x / w), uint8(255 * y / h), uint8(40 + (x*7+y*13)%90)}
		switch {
		case (x/9+y/7)%5 == 0:
			c = [3]uint8{255, 255, 255}
		case (x/9+y/7)%7 == 0:
			c = [3]uint8{20, 20, 20}
		case x*y%31 == 0:
			p.Alpha[i] = 0
		}
		for _, v := range c {
			if deep {
				p.Pix16 = append(p.Pix16, uint16(v)*257)
			} else {
				p.Pix = append(p.Pix, v)
			}
		}
	}
	return p
}

// Plates that are made row by row are those that are held, at whatever place
// they are looked at and in whatever order.
func TestByRows(t *testing.T) {
	m := testModel(t, "test rose,test water")
	black := spectrum.RGB{20. / 255, 20. / 255, 20. / 255}.XYZ()
	for name, opt := range map[string]Options{
		"lattice": {Tints: TintsAny, Solve: SolveLattice},
		"exact":   {Tints: TintsAny, Solve: SolveExact},
		"none":    {Tints: TintsNone},
		"list":    {Tints: TintsList, Percents: []float64{30, 60}},
		"pinned":  {Tints: TintsAny, Pins: []Pin{{black, 1}}},
	} {
		for _, deep := range []bool{false, true} {
			if deep && name != "lattice" && name != "exact" {
				continue
			}
			p := small(83, 61, deep)
			opt.ByRows = false
			held, err := Separate(context.Background(), p, m, opt)
			if err != nil {
				t.Fatal(err)
			}
			opt.ByRows = true
			made, err := Separate(context.Background(), p, m, opt)
			if err != nil {
				t.Fatal(err)
			}
			byRows := len(opt.Pins) == 0 || opt.Tints == TintsNone
			if made.Fit != held.Fit || (made.Ink == nil) != byRows {
				t.Fatalf("%s: fit %v and %v, plates held: %v", name, made.Fit, held.Fit, made.Ink != nil)
			}
			row, one, plates := planesOf(2, p.Width), make([]uint16, 2), made.Plates()
			single := make([]uint16, p.Width)
			for n := range p.Height {
				y := n * 37 % p.Height
				made.Row(row, y)
				for i := range row {
					want := held.Ink[i][y*p.Width : (y+1)*p.Width]
					plates[i].Row(single, y)
					if !slices.Equal(row[i], want) || !slices.Equal(single, want) {
						t.Fatalf("%s, deep %v: row %d of ink %d is not the one that is held", name, deep, y, i)
					}
				}
				x := n * 11 % p.Width
				if made.At(x, y, one); one[1] != held.Ink[1][y*p.Width+x] {
					t.Fatalf("%s, deep %v: pixel %d, %d is not the one that is held", name, deep, x, y)
				}
			}
			made.Hold(2)
			for i := range held.Ink {
				if !slices.Equal(made.Ink[i], held.Ink[i]) {
					t.Fatalf("%s, deep %v: plate %d differs once it is held", name, deep, i)
				}
			}
		}
	}
}
