package chart

import (
	"image/png"
	"math"
	"os"
	"testing"

	"platewright/composite/spectrum"
)

func savePNG(t testing.TB, name string, write func(f *os.File) error) {
	f, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := write(f); err != nil {
		t.Fatal(err)
	}
}

func TestScratch(t *testing.T) {
	pr := newPress(t, "fogra29l-uncoated.csv")
	c := chartFor(t, pr, 210, 297)
	t.Logf("%d patches, mark %d channel %d", len(c.Patches), c.MarkInk, c.Channel)
	shift := [][2]int{{3, -2}, {-4, 1}, {2, 5}, {0, 0}}
	p := pull(c, shift, nil)
	all := append(scanners(), phones()...)
	for n, s := range all {
		sh := shot{sensor: s, turn: 3, uneven: .05, level: .8, noise: .005, blur: .7, dpi: 150, seed: 5, card: true, quality: 92, dust: 30}
		if n >= 3 {
			sh.photo, sh.tilt, sh.axis, sh.uneven, sh.dpi = true, 20, 40, .3, 140
		}
		m, ppi := sh.take(pr, p, c)
		if n == 0 || n == 3 {
			savePNG(t, "/tmp/pwc/shot"+string(rune('0'+n))+".png", func(f *os.File) error { return png.Encode(f, m) })
		}
		cards, places := cardColors()
		var card []Sample
		for _, x := range cards {
			card = append(card, Sample{Color: x})
		}
		for _, with := range []bool{false, true} {
			var r *Reading
			var err error
			if with {
				r, err = c.Read([]*Picture{picture("x", m, ppi)}, &Reference{card: card, places: places})
			} else {
				r, err = c.Read([]*Picture{picture("x", m, ppi)}, nil)
			}
			if err != nil {
				t.Error(s.name, err)
				continue
			}
			sum, worst := 0.0, 0.0
			for i, q := range r.Samples {
				var st [5]uint8
				for k, f := range q.Film {
					st[k] = uint8(f)
				}
				if q.OverBlack {
					st[4] = 1
				}
				d := spectrum.DeltaE(q.Color.Lab(), pr.color(st).Lab())
				sum += d
				worst = math.Max(worst, d)
				_ = i
			}
			t.Logf("%s card %v: mean %.2f worst %.2f register %v", s.name, with, sum/float64(len(r.Samples)), worst, r.Register)
			if n == 0 || n == 3 {
				savePNG(t, "/tmp/pwc/over"+string(rune('0'+n))+".png", func(f *os.File) error { return png.Encode(f, r.Overlay(0)) })
			}
		}
	}
}
