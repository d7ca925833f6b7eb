package job

import (
	"bytes"
	"context"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"platewright/halftone"
)

const measuredShelf = `
[[paper]]
name = "cold white"
color = "#f8f8f6"
[[ink]]
name = "sea slate"
color = "#14468c"
register = 0.4
tone_curve = [[20, 26], [50, 68]]
[[ink]]
name = "pale oat"
color = "#e8d060"
opacity = 0.1
`

// inked is a stock, a job and the choice of its inks.
func inked(t *testing.T, inks ...string) (*Stock, *Job, *Choice) {
	t.Helper()
	j := New()
	j.ShelfCopy, j.Inks, j.NoMarks = measuredShelf, inks, true
	stock, err := j.OpenStock()
	if err != nil {
		t.Fatal(err)
	}
	paper, chosen, err := stock.Named(j)
	if err != nil {
		t.Fatal(err)
	}
	c, err := stock.Choose(j, paper, chosen)
	if err != nil {
		t.Fatal(err)
	}
	return stock, j, c
}

// plateOf is a plate of 25.4 mm with one coverage from x0 to x1, in percent.
func plateOf(percent float64, x0, x1 int) *Plate {
	const n = 100
	p := &Plate{Plate: halftone.Plate{Width: n, Height: n, Cov: make([]uint16, n*n)}, WidthMM: 25.4, HeightMM: 25.4}
	for i := range p.Cov {
		if x := i % n; x >= x0 && x < x1 {
			p.Cov[i] = uint16(math.Round(percent / 100 * 65535))
		}
	}
	return p
}

// black is the share of a film that is black, in percent, from x0 to x1 of its
// width.
func black(t *testing.T, s *FilmSet, i int, x0, x1 float64) float64 {
	t.Helper()
	path := filepath.Join(t.TempDir(), "film.png")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := s.Write(context.Background(), f, "png", i, nil); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	m, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	ink, all := 0, 0
	w := float64(m.Bounds().Dx())
	for y := range m.Bounds().Dy() {
		for x := int(x0 * w); x < int(x1*w); x++ {
			if color.GrayModel.Convert(m.At(x, y)).(color.Gray).Y < 128 {
				ink++
			}
			all++
		}
	}
	return 100 * float64(ink) / float64(all)
}

// The film of a plate made by hand has the tone that prints what the plate says;
// without a shelf it has the plate's.
func TestInkedFilmsTone(t *testing.T) {
	stock, j, c := inked(t, "sea slate")
	curve, err := halftone.NewCurve([][2]float64{{20, 26}, {50, 68}})
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct{ plate, want float64 }{{68, 50}, {26, 20}, {50, curve.Film(50)}, {0, 0}, {100, 100}} {
		plates := []*Plate{plateOf(tt.plate, 0, 100)}
		s, known, err := j.InkedFilms(plates, stock, c, t.Logf)
		if err != nil {
			t.Fatal(err)
		}
		got := black(t, s, 0, 0, 1)
		if math.Abs(got-tt.want) > .3 {
			t.Errorf("the film of a plate of %g %% has %.2f %%, want %.2f", tt.plate, got, tt.want)
		}
		if len(known) != 1 || len(known[0].Tones) != len(toneSteps) || math.Abs(known[0].Tones[3].Film-curve.Film(50)) > .2 {
			t.Errorf("told: %+v, want film %.1f for 50", known, curve.Film(50))
		}
		if label := s.label(0); label.Ink != "sea slate" || label.Of != 1 {
			t.Errorf("the film is labeled %+v", label)
		}
		if s, err = j.PlateFilms(plates, []string{"sea slate"}); err != nil {
			t.Fatal(err)
		}
		if got := black(t, s, 0, 0, 1); math.Abs(got-tt.plate) > .3 {
			t.Errorf("without a shelf the film of a plate of %g %% has %.2f %%", tt.plate, got)
		}
	}
	j.ToneCurve = ToneCurves{"50=60"}
	if err := c.CheckPlates(j); err == nil || !strings.Contains(err.Error(), "knows the tints of sea slate, and its film gets") {
		t.Errorf("a second curve: %v", err)
	}
}

// Inks that touch are spread under each other as far as a test print lay out of
// register; without a trap that is a finding.
func TestInkedFilmsTrap(t *testing.T) {
	stock, j, c := inked(t, "pale oat", "sea slate")
	plates := []*Plate{plateOf(100, 0, 50), plateOf(100, 50, 100)}
	for _, trap := range []Trap{"", "auto", "1mm"} {
		j.Trap = trap
		if err := c.CheckPlates(j); err != nil {
			t.Fatal(err)
		}
		s, _, err := j.InkedFilms(plates, stock, c, t.Logf)
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, f := range s.Findings {
			found = found || f.Code == "trap-below-register"
		}
		want := map[Trap]float64{"": 0, "auto": .4, "1mm": 1}[trap]
		// What prints of the oat to the right of the edge, in mm.
		got := black(t, s, 0, .5, .7) / 100 * .2 * 25.4
		if math.Abs(got-want) > .15 || found != (trap == "") {
			t.Errorf("trap %q: spread by %.2f mm, want %g; finding: %v", trap, got, want, found)
		}
		if got := black(t, s, 1, .3, .5); got > 0 {
			t.Errorf("trap %q: the darker ink is spread", trap)
		}
	}
	_, j, c = inked(t, "pale oat")
	j.Trap = "auto"
	if err := c.CheckPlates(j); err == nil {
		t.Error("a trap of no known width was taken")
	}
}
