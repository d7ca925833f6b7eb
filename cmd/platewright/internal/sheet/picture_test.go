package sheet

import (
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"platewright/composite/spectrum"
)

func TestDifferencesTakesTheStepOfEachPixel(t *testing.T) {
	// On grays around L* = 50 the lightness weight of CIEDE2000 is 1, so ΔE is
	// nearly the difference of L*.
	base := spectrum.Lab{50, 0, 0}
	var a, b []spectrum.Lab
	want := []float64{.5, 1.5, 2.5, 4, 8, 20}
	for _, de := range want {
		a = append(a, base)
		b = append(b, spectrum.Lab{50 + de, 0, 0})
	}
	m, err := Differences(a, b, len(want))
	if err != nil {
		t.Fatal(err)
	}
	for x := range want {
		if m.At(x, 0) != color.Color(legend()[x].Color) {
			t.Errorf("ΔE about %v is drawn as step %d, not %d", want[x], m.Pix[x], x)
		}
	}
	for _, c := range []struct {
		a, b []spectrum.Lab
		w    int
	}{{a, b[:3], 3}, {a, b, 4}, {nil, nil, 1}, {a, b, 0}} {
		if _, err := Differences(c.a, c.b, c.w); err == nil {
			t.Errorf("%d and %d pixels in rows of %d pass", len(c.a), len(c.b), c.w)
		}
	}
}

func TestGridShowsEveryOverprintOnceAndEveryInkWhole(t *testing.T) {
	for k := 1; k <= 8; k++ {
		names := make([]string, k)
		for i := range names {
			names[i] = "some ink"
		}
		over := make([]Overprint, 1<<k)
		for i := range over {
			over[i].Color = spectrum.White()
		}
		g := newGrid(names, over)
		seen := map[uint]bool{}
		for _, c := range g.Cells {
			seen[c.Mask] = true
			if c.X < 0 || c.Y < 0 || c.X+c.W > g.W || c.Y+c.H > g.H {
				t.Errorf("%d inks: cell %b outside the drawing", k, c.Mask)
			}
		}
		if len(seen) != 1<<k || len(g.Cells) != 1<<k {
			t.Errorf("%d inks: %d cells show %d overprints", k, len(g.Cells), len(seen))
		}
		if k <= 4 && len(g.Bars) != k {
			t.Errorf("%d inks in %d bars: not one rectangle each", k, len(g.Bars))
		}
		// A bar stands over exactly the columns, or beside the rows, of its ink.
		for i, b := range g.Bars {
			if k > 4 {
				break
			}
			for _, c := range g.Cells {
				covers := c.X >= b.X && c.X+c.W <= b.X+b.W
				if b.Upright {
					covers = c.Y >= b.Y && c.Y+c.H <= b.Y+b.H
				}
				if covers != (c.Mask>>i&1 == 1) {
					t.Errorf("%d inks: bar %d and cell %b disagree", k, i+1, c.Mask)
				}
			}
		}
	}
}

func TestOverprintGridDrawsTheColors(t *testing.T) {
	d := sample(30, 42)
	m, err := OverprintGrid(inkNames(d.Plates), d.Overprints)
	if err != nil {
		t.Fatal(err)
	}
	save(t, "grid.png", m)
	for _, c := range newGrid(inkNames(d.Plates), d.Overprints).Cells {
		v := code(c.Color)
		if got := m.RGBAAt(2*c.X+3, 2*c.Y+3); got != (color.RGBA{v[0], v[1], v[2], 255}) {
			t.Errorf("cell %03b is %v, not %v", c.Mask, got, v)
		}
	}
	if _, err := OverprintGrid([]string{"one ink"}, d.Overprints); err == nil {
		t.Error("8 overprints for one ink pass")
	}
}

func TestSwatchesShowSolidAndBlack(t *testing.T) {
	black := xyz(0x1c1c1c)
	inks := []Swatch{
		{"lantern amber", xyz(0xf8c13c), xyz(0x2a2416), "a color and an opacity"},
		{"chalk cliff", xyz(0xf0f0ee), xyz(0xd0d0ce), "a color over paper and one over black"},
		{"a name far too long to stand beside its swatch on a page of this width and more", xyz(0x2577a6), black, "one color, taken as clear"},
		{"deep kelp", xyz(0x2f6d58), black, strings.Repeat("a color over paper and one over black, with 12 tints, at 40 % base ", 3)},
		{"brick rust", xyz(0xc8502f), black, "one color, taken as clear"},
	}
	m, err := Swatches(Paper{Name: "sailcloth satin", Finish: "coated", Color: xyz(0xf6f1e5)}, black, inks)
	if err != nil {
		t.Fatal(err)
	}
	save(t, "swatches.png", m)
	typ, err := newTypes()
	if err != nil {
		t.Fatal(err)
	}
	y := swatchMargin + 44 + 40
	for _, k := range inks {
		room := swatchPage - swatchMargin - swatchText
		lines := typ.wrap(typ.small, k.KnownBy, room)
		if got := strings.Join(lines, " "); got != strings.TrimSpace(k.KnownBy) {
			t.Errorf("%q is shown of %q", got, k.KnownBy)
		}
		for _, l := range lines {
			if w := typ.width(typ.small, l); w > room {
				t.Errorf("%q is %d wide, more than %d", l, w, room)
			}
		}
		for _, c := range []struct {
			x    int
			want spectrum.XYZ
		}{{swatchMargin + 10, k.Solid}, {swatchMargin + swatchWidth*5/8 + 10, k.OverBlack}, {swatchPage - 5, xyz(0xf6f1e5)}} {
			v := code(c.want)
			if got := m.RGBAAt(c.x, y); got != (color.RGBA{v[0], v[1], v[2], 255}) {
				t.Errorf("%s at %d: %v, not %v", k.Name, c.x, got, v)
			}
		}
		y += rowOf(lines)
	}
	if want := y - 40 + swatchMargin; m.Rect.Dy() != want {
		t.Errorf("%d high, not %d", m.Rect.Dy(), want)
	}
}

func save(t *testing.T, name string, m image.Image) {
	if *keep == "" {
		return
	}
	f, err := os.Create(filepath.Join(*keep, name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := png.Encode(f, m); err != nil {
		t.Fatal(err)
	}
}
