package film

import (
	"bytes"
	"flag"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "write the golden files anew")

// TestStripsAreTheSamePicture asks for the same page in random strips, from several
// goroutines at once.
func TestStripsAreTheSamePicture(t *testing.T) {
	for _, s := range sheets {
		s.DPI /= 3
		p := mustPage(t, mustLayout(t, s), kelp, 0)
		want := all(p)
		var wg sync.WaitGroup
		for seed := range 4 {
			wg.Go(func() {
				got := &bitmap{want.w, want.h, want.stride, make([]byte, len(want.pix))}
				step := 1 + 37*seed
				wide := want.stride + seed // a stride may be wider than the row
				buf := bytes.Repeat([]byte{0xff}, wide*step)
				for y := 0; y < want.h; y += step {
					end := min(want.h, y+step)
					p.Rows(buf, wide, y, end)
					for r := y; r < end; r++ {
						copy(got.pix[r*got.stride:(r+1)*got.stride], buf[(r-y)*wide:])
					}
				}
				if !bytes.Equal(got.pix, want.pix) {
					t.Errorf("%+v: strips of %d rows differ from the whole", s, step)
				}
			})
		}
		wg.Wait()
	}
}

// TestPlateLandsOnItsArea holds the plate's bits at the origin, mirrored and
// negative too.
func TestPlateLandsOnItsArea(t *testing.T) {
	for _, s := range sheets {
		s.DPI /= 3
		l := mustLayout(t, s)
		page, plate := all(mustPage(t, l, kelp, 0)), all(dots{l.aw, l.ah, 0, 30})
		ox, oy := l.Origin()
		for y := range plate.h {
			for x := range plate.w {
				px := ox + x
				if s.Mirror {
					px = ox + plate.w - 1 - x
				}
				if page.at(px, oy+y) != (plate.at(x, y) != s.Negative) {
					t.Fatalf("%+v: pixel %d, %d of the plate is wrong", s, x, y)
				}
			}
		}
	}
}

// TestMarksAreTheSameOnEveryPlate holds that two plates differ in the plate, the
// label's words and the wedge's dots only.
func TestMarksAreTheSameOnEveryPlate(t *testing.T) {
	l := mustLayout(t, Sheet{WidthMM: 210, HeightMM: 150, DPI: 200, BleedMM: 3})
	other := kelp
	other.Ink, other.Pull, other.AngleDeg, other.RulingLPI = "brick rust, a long name", 3, 52.5, 38.5
	a := all(mustPage(t, l, kelp, 0))
	plate, err := l.Page(dots{l.aw, l.ah, 9, 70}, other, func(p float64, w, h int) Bits { return dots{w, h, 5, p} })
	if err != nil {
		t.Fatal(err)
	}
	b := all(plate)
	label := image.Rect(int(l.x(l.label.x)), int(l.y(l.label.y))-1, int(l.x(l.label.x+l.label.w))+1, int(l.y(l.label.y+l.label.h))+1)
	free := []image.Rectangle{label, image.Rect(l.ox, l.oy, l.ox+l.aw, l.oy+l.ah),
		image.Rect(l.wedge.x, l.wedge.y, l.wedge.x+wedgeN*l.wedge.w, l.wedge.y+l.wedge.h)}
	differ, marks := 0, 0
	for y := range a.h {
	pixel:
		for x := range a.w {
			for _, r := range free {
				if image.Pt(x, y).In(r) {
					if a.at(x, y) != b.at(x, y) {
						differ++
					}
					continue pixel
				}
			}
			if a.at(x, y) {
				marks++
			}
			if a.at(x, y) != b.at(x, y) {
				t.Fatalf("pixel %d, %d differs between two plates", x, y)
			}
		}
	}
	if differ == 0 || marks == 0 {
		t.Errorf("%d pixels differ where they may and %d are marks: nothing was compared", differ, marks)
	}
}

// TestRegistrationMarks measures the eight crosses in circles in the bitmap: lines
// of 0.35 mm and a circle of 8 mm, each about the center line or corner it marks.
func TestRegistrationMarks(t *testing.T) {
	for _, dpi := range []float64{300, 600, 719} {
		l := mustLayout(t, Sheet{WidthMM: 60, HeightMM: 50, DPI: dpi})
		page := all(mustPage(t, l, kelp, 0))
		mm := dpi / 25.4
		line := int(math.Floor(.35*mm + .5))
		off := 9 * mm
		count := 0
		for _, cx := range []float64{float64(l.ox) - off, float64(l.ox) + float64(l.aw)/2, float64(l.ox+l.aw) + off} {
			for _, cy := range []float64{float64(l.oy) - off, float64(l.oy) + float64(l.ah)/2, float64(l.oy+l.ah) + off} {
				if math.Abs(cx-float64(l.ox)-float64(l.aw)/2) < 1 && math.Abs(cy-float64(l.oy)-float64(l.ah)/2) < 1 {
					continue
				}
				count++
				// Across the upright line, halfway between center and circle; and out
				// along a diagonal, where only the circle is.
				y := int(cy - 2*mm)
				from, to := -1, -1
				for x := int(cx - 2*mm); x < int(cx+2*mm); x++ {
					if page.at(x, y) {
						to = x + 1
						if from < 0 {
							from = x
						}
					}
				}
				if to-from != line || math.Abs(float64(from+to)/2-cx) > .5 {
					t.Errorf("%v dpi: upright line at %.1f, %.1f runs from %d to %d", dpi, cx, cy, from, to)
				}
				inner, outer := 0.0, 0.0
				for r := mm; r < 6*mm; r += .05 {
					if page.at(int(cx+r*math.Sqrt2/2), int(cy+r*math.Sqrt2/2)) {
						outer = r
						if inner == 0 {
							inner = r
						}
					}
				}
				if math.Abs(outer-4*mm) > 1.2 || math.Abs(outer-inner-.35*mm) > 1.8 {
					t.Errorf("%v dpi: circle at %.1f, %.1f from radius %.2f to %.2f mm", dpi, cx, cy, inner/mm, outer/mm)
				}
			}
		}
		if count != 8 {
			t.Errorf("%d marks looked at", count)
		}
	}
}

// TestBarIs100mm measures the longest line of ink outside the plate's area.
func TestBarIs100mm(t *testing.T) {
	for _, dpi := range []float64{150, 300, 600, 720} {
		for _, w := range []float64{40, 320} {
			l := mustLayout(t, Sheet{WidthMM: w, HeightMM: 40, DPI: dpi})
			page := all(mustPage(t, l, kelp, 0))
			longest := 0
			for y := range page.h {
				for x, run := 0, 0; x < page.w; x++ {
					inside := x >= l.ox && x < l.ox+l.aw && y >= l.oy && y < l.oy+l.ah
					if run++; !page.at(x, y) || inside {
						run = 0
					}
					longest = max(longest, run)
				}
			}
			if want := int(math.Floor(100*dpi/25.4 + .5)); longest != want {
				t.Errorf("%v dpi, artwork %v mm wide: the bar is %d pixels long, want %d", dpi, w, longest, want)
			}
		}
	}
}

// TestNothingOverlaps draws each mark by itself and holds that none touches another
// or the area.
func TestNothingOverlaps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := rapid.Float64Range(2, 500).Draw(t, "w")
		h := rapid.Float64Range(2, 500).Draw(t, "h")
		bleed := rapid.SampledFrom([]float64{0, 3, 10}).Draw(t, "bleed")
		if math.Min(w, h)-2*bleed < 1 {
			return
		}
		s := Sheet{BleedMM: bleed}
		a := arrange(w, h, bleed, false)
		boxes := append(a.at[:], box{0, 0, w, h})
		for _, x := range []float64{-ringMM, w / 2, w + ringMM} {
			for _, y := range []float64{-ringMM, h / 2, h + ringMM} {
				if (x != w/2 || y != h/2) && (x != w/2 || s.centered(w)) && (y != h/2 || s.centered(h)) {
					boxes = append(boxes, box{x - crossMM/2, y - crossMM/2, crossMM, crossMM})
				}
			}
		}
		for _, x := range []float64{bleed, w - bleed} {
			boxes = append(boxes, box{x - .2, -clearMM - cropMM, .4, cropMM}, box{x - .2, h + clearMM, .4, cropMM})
		}
		for _, y := range []float64{bleed, h - bleed} {
			boxes = append(boxes, box{-clearMM - cropMM, y - .2, cropMM, .4}, box{w + clearMM, y - .2, cropMM, .4})
		}
		for i, b := range boxes {
			if b.x+a.left < edgeMM-1e-9 || b.y+a.top < edgeMM-1e-9 || b.x+b.w+a.left > a.w-edgeMM+1e-9 || b.y+b.h+a.top > a.h-edgeMM+1e-9 {
				t.Fatalf("thing %d, %+v, leaves the sheet %+v", i, b, a)
			}
			for j, c := range boxes[:i] {
				if b.x < c.x+c.w-1e-9 && c.x < b.x+b.w-1e-9 && b.y < c.y+c.h-1e-9 && c.y < b.y+b.h-1e-9 {
					t.Fatalf("things %d and %d overlap on %v x %v mm: %+v %+v", j, i, w, h, c, b)
				}
			}
		}
	})
}

// TestItemsStayInTheirBoxes holds the drawn ink against the room each thing was
// given, at the narrowest artwork.
func TestItemsStayInTheirBoxes(t *testing.T) {
	l := mustLayout(t, Sheet{WidthMM: 40, HeightMM: 30, DPI: 300, Negative: false, Mirror: true})
	page := all(mustPage(t, l, kelp, 0))
	mirrorRows := func(x int) int { return page.w - 1 - x }
	a := arrange(40, 30, 0, false)
	bottom := l.y(30 + clearMM + crossMM + 1)
	inBox := func(x, y int) bool {
		for _, b := range a.at {
			if fx, fy := float64(x), float64(y); fx >= l.x(b.x)-2 && fx <= l.x(b.x+b.w)+2 && fy >= l.y(b.y)-2 && fy <= l.y(b.y+b.h)+2 {
				return true
			}
		}
		return false
	}
	for y := int(bottom); y < page.h; y++ {
		for x := range page.w {
			if page.at(mirrorRows(x), y) && !inBox(x, y) {
				t.Fatalf("ink at %.1f, %.1f mm of the area lies in no box", (float64(x-l.ox))/l.scale(1), float64(y-l.oy)/l.scale(1))
			}
		}
	}
}

func TestLabelWords(t *testing.T) {
	cases := []struct {
		label Label
		want  string
	}{
		{kelp, "deep kelp · pull 2 of 4|harbor print · cold white 250 g · 2031-03-09|45 lpi · 22.5° · round dot · mesh 77/cm · 1200 dpi"},
		{Label{Ink: "salt fog", Dot: "none"}, "salt fog||line film · 1200 dpi"},
		{Label{RulingLPI: 38.25, Dot: "line"}, "||38.2 lpi · 0° · line dot · 1200 dpi"},
		{Label{}, "||1200 dpi"},
	}
	for _, c := range cases {
		lines := c.label.lines(1200)
		if got := strings.Join(lines[:], "|"); got != c.want {
			t.Errorf("label reads %q, want %q", got, c.want)
		}
	}
}

// TestLabelIsThere compares a page with its label and without.
func TestLabelIsThere(t *testing.T) {
	l := mustLayout(t, Sheet{WidthMM: 60, HeightMM: 40, DPI: 300})
	a, b := all(mustPage(t, l, kelp, 0)), all(mustPage(t, l, Label{}, 0))
	differ := 0
	for i := range a.pix {
		if a.pix[i] != b.pix[i] {
			differ++
		}
	}
	if differ < 500 {
		t.Errorf("the label changes %d bytes", differ)
	}
}

func TestPageRefusesAForeignPlate(t *testing.T) {
	l := mustLayout(t, Sheet{WidthMM: 60, HeightMM: 40, DPI: 300})
	if _, err := l.Page(dots{100, 100, 0, 30}, kelp, nil); err == nil {
		t.Error("a plate of another size was taken")
	}
	w, h := l.Area()
	if _, err := l.Page(dots{w, h, 0, 30}, kelp, func(float64, int, int) Bits { return dots{1, 1, 0, 30} }); err == nil {
		t.Error("a wedge patch of another size was taken")
	}
	page, err := l.Page(dots{w, h, 0, 30}, kelp, nil)
	if err != nil {
		t.Fatal(err)
	}
	m := all(page)
	y, last := l.wedge.y+l.wedge.h/2, l.wedge.x+(wedgeN-1)*l.wedge.w
	if m.at(last-1, y) || !m.at(last, y) {
		t.Error("a line film's wedge is not its solid alone")
	}
}

// TestGoldenSheet holds a small sheet pixel by pixel.
func TestGoldenSheet(t *testing.T) {
	m := all(mustPage(t, mustLayout(t, Sheet{WidthMM: 60, HeightMM: 40, DPI: 120, BleedMM: 3}), kelp, 0))
	const name = "testdata/sheet-120dpi.png"
	got := image.NewPaletted(image.Rect(0, 0, m.w, m.h), color.Palette{color.White, color.Black})
	for y := range m.h {
		for x := range m.w {
			if m.at(x, y) {
				got.SetColorIndex(x, y, 1)
			}
		}
	}
	if *update {
		f, err := os.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if err := png.Encode(f, got); err != nil {
			t.Fatal(err)
		}
	}
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	want, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	if want.Bounds() != got.Bounds() {
		t.Fatalf("sheet of %v, was %v", got.Bounds(), want.Bounds())
	}
	for y := range m.h {
		for x := range m.w {
			if r, _, _, _ := want.At(x, y).RGBA(); (r == 0) != m.at(x, y) {
				t.Fatalf("pixel %d, %d changed; look at the sheet and run with -update", x, y)
			}
		}
	}
}
