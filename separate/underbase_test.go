package separate

import (
	"context"
	"testing"

	"platewright/composite"
	"platewright/composite/spectrum"
	"platewright/separate/artwork"
)

// darkPrint is a white and two inks on dark paper. The inks are clear: over the
// paper alone they hardly show.
func darkPrint(t *testing.T) *composite.Model {
	t.Helper()
	lab := func(l, a, b float64) spectrum.XYZ { return spectrum.Lab{l, a, b}.XYZ() }
	m, err := composite.FromOverprints([]spectrum.XYZ{
		lab(20, 2, -4), lab(88, 0, 1), lab(18, 8, 2), lab(55, 60, 35), lab(21, 0, -8), lab(52, -25, -30), lab(16, 4, -2), lab(28, 8, -6),
	}, 2)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// On dark paper no ink lies beside the underbase, which is solid, and spots that
// the paper meets stay bare.
func TestUnderbase(t *testing.T) {
	m := darkPrint(t)
	const w, h = 64, 40
	paper := m.Overprint(0).RGB().Clamp()
	p := &artwork.Picture{Width: w, Height: h, Pix: make([]uint8, 3*w*h)}
	for i := range w * h {
		c := paper
		switch x := i % w; {
		case x >= 48: // a ramp from white to red
			f := float64(i/w) / h
			a, b := m.Overprint(1).RGB().Clamp(), m.Overprint(3).RGB().Clamp()
			for k := range c {
				c[k] = a[k] + f*(b[k]-a[k])
			}
		case x >= 32:
			c = m.Overprint(5).RGB().Clamp()
		case x >= 16:
			c = m.Overprint(1).RGB().Clamp()
		}
		for k, v := range c {
			p.Pix[3*i+k] = uint8(v*255 + .5)
		}
	}
	for _, rule := range []TintRule{TintsNone, TintsAny, TintsList} {
		r, err := Separate(context.Background(), p, m, Options{Tints: rule, Percents: []float64{50}, Underbase: true})
		if err != nil {
			t.Fatal(err)
		}
		for i := range w * h {
			base, most := r.Ink[0][i], max(r.Ink[1][i], r.Ink[2][i])
			if base != 0 && base != 65535 || most > 0 && base == 0 {
				t.Fatalf("%v: pixel %d, %d has the underbase at %d and inks up to %d", rule, i%w, i/w, base, most)
			}
			switch x := i % w; {
			case x < 15 && base != 0:
				t.Fatalf("%v: the paper is printed at %d, %d", rule, x, i/w)
			case x >= 17 && x < 31 && (base == 0 || most > 2000):
				t.Fatalf("%v: white at %d, %d has the underbase at %d and inks up to %d", rule, x, i/w, base, most)
			case x >= 33 && x < 47 && (r.Ink[2][i] < 60000 || r.Ink[1][i] > 6000):
				t.Fatalf("%v: blue at %d, %d has %d and %d", rule, x, i/w, r.Ink[1][i], r.Ink[2][i])
			}
		}
		if rule == TintsAny && r.Fit.MeanDE > 1 {
			t.Errorf("mean ΔE00 %.2f, want below 1", r.Fit.MeanDE)
		}
	}
	if _, err := Separate(context.Background(), p, oneInk(t), Options{Underbase: true}); err == nil {
		t.Error("an underbase with nothing over it was taken")
	}
}

// A pinned color lies on its ink and the underbase.
func TestUnderbasePin(t *testing.T) {
	m := darkPrint(t)
	p := &artwork.Picture{Width: 20, Height: 20, Pix: make([]uint8, 3*400)}
	for i := range 400 {
		copy(p.Pix[3*i:], []uint8{250, 40, 10})
	}
	for _, rule := range []TintRule{TintsNone, TintsAny} {
		r, err := Separate(context.Background(), p, m, Options{Tints: rule, Underbase: true, Pins: []Pin{{spectrum.RGB{250. / 255, 40. / 255, 10. / 255}.XYZ(), 2}}})
		if err != nil {
			t.Fatal(err)
		}
		if r.Ink[0][210] != 65535 || r.Ink[1][210] != 0 || r.Ink[2][210] != 65535 {
			t.Errorf("%v: %d, %d, %d", rule, r.Ink[0][210], r.Ink[1][210], r.Ink[2][210])
		}
	}
}

func oneInk(t *testing.T) *composite.Model {
	t.Helper()
	m, err := composite.FromOverprints([]spectrum.XYZ{{4, 4, 4}, {80, 84, 70}}, 2)
	if err != nil {
		t.Fatal(err)
	}
	return m
}
