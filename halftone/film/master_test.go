package film

import (
	"bytes"
	"errors"
	"image"
	"image/png"
	"io"
	"math"
	"testing"

	"platewright/halftone"

	"pgregory.net/rapid"
)

// TestResizeKeepsTone holds enlarging and reducing against their definitions: flats
// stay exact, a mean stays, nothing leaves the range of its neighbors.
func TestResizeKeepsTone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 30).Draw(t, "w"), rapid.IntRange(1, 30).Draw(t, "h")
		tw, th := rapid.IntRange(1, 70).Draw(t, "to w"), rapid.IntRange(1, 70).Draw(t, "to h")
		flat := uint16(rapid.SampledFrom([]int{0, 1, 30000, 65535}).Draw(t, "flat"))
		p := &halftone.Plate{Width: w, Height: h, Cov: make([]uint16, w*h)}
		for i := range p.Cov {
			p.Cov[i] = flat
		}
		r := newResized(p, tw, th)
		row := make([]uint16, tw)
		for y := range th {
			r.Row(row, y)
			for x, v := range row {
				if v != flat {
					t.Fatalf("a flat of %d became %d at %d, %d of %d x %d", flat, v, x, y, tw, th)
				}
			}
		}
		for _, n := range [][2]int{{w, tw}, {h, th}} {
			for i := range n[1] {
				win, sum := newWindow(i, n[0], n[1]), 0.0
				for _, weight := range win.weights {
					sum += weight
				}
				if win.from < 0 || win.from+len(win.weights) > n[0] || math.Abs(sum-1) > 1e-9 {
					t.Fatalf("pixel %d of %d over %d: %+v", i, n[1], n[0], win)
				}
			}
		}
	})
}

func TestResizeByHand(t *testing.T) {
	p := &halftone.Plate{Width: 4, Height: 1, Cov: []uint16{0, 1000, 3000, 2000}}
	for _, c := range []struct {
		w    int
		want []uint16
	}{
		{2, []uint16{500, 2500}},                                 // means of pairs
		{8, []uint16{0, 250, 750, 1500, 2500, 2750, 2250, 2000}}, // straight between centers
		{4, []uint16{0, 1000, 3000, 2000}},
		{1, []uint16{1500}},
	} {
		row := make([]uint16, c.w)
		newResized(p, c.w, 1).Row(row, 0)
		for i, v := range row {
			if v != c.want[i] {
				t.Errorf("to %d pixels: %v, want %v", c.w, row, c.want)
				break
			}
		}
	}
}

// a3 is the paper most stencil duplicators take, with common margins (common
// practice: leading edge 5, sides 3, tail 2 mm).
var a3 = Master{Paper: "A3", MarginsMM: [4]float64{5, 3, 2, 3}, WidthMM: 100, HeightMM: 60}

// TestMasterPages holds size, place and tone of a drum's page as PNG and PDF.
func TestMasterPages(t *testing.T) {
	p := &halftone.Plate{Width: 10, Height: 6, Cov: make([]uint16, 60)}
	for i := range p.Cov {
		p.Cov[i] = 65535
	}
	p.Cov[0] = 0
	m := a3
	m.DPI = 100 // a small picture
	file := onCores(t, func() []byte {
		var b bytes.Buffer
		if err := WriteMasterPNG(&b, m, p, Info{}); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	})
	_, data := chunks(t, file)
	if d := data["pHYs"]; d[2] != 0x0f || d[3] != 0x61 { // 3937 a metre
		t.Errorf("pHYs % x", d)
	}
	im, err := png.Decode(bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	gray := im.(*image.Gray)
	if s := gray.Bounds().Size(); s != image.Pt(1169, 1654) { // 297 and 420 mm at 100 dpi [calc]
		t.Fatalf("page of %v", s)
	}
	// Centered in 291 x 413 mm from 3, 5 on: left 98.5 mm = 387.8, top 181.5 mm = 714.6 px [calc]
	x0, y0, w, h := 388, 715, 394, 236
	for _, c := range []struct {
		x, y int
		want uint8
	}{{x0, y0, 255}, {x0 - 1, y0 + 100, 255}, {x0 + w/2, y0 - 1, 255}, {x0 + w, y0 + h - 1, 255}, {x0 + w/2, y0 + h, 255},
		{x0 + w - 1, y0, 0}, {x0, y0 + h - 1, 0}, {x0 + w/2, y0 + h/2, 0}} {
		if got := gray.GrayAt(c.x, c.y).Y; got != c.want {
			t.Errorf("pixel %d, %d is %d, want %d", c.x, c.y, got, c.want)
		}
	}
	pdf := onCores(t, func() []byte {
		var b bytes.Buffer
		if err := WriteMasterPDF(&b, m, []halftone.Tone{ramp(30, 20), p}, Info{Title: "harbor"}); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	})
	name := valid(t, pdf)
	for _, tool := range []string{"pdftoppm", "mutool"} {
		drawn := rendered(t, tool, name, 2, 100)
		if drawn == nil {
			continue
		}
		if drawn.Bounds() != gray.Bounds() {
			t.Fatalf("%s draws %v", tool, drawn.Bounds())
		}
		for y := range 1654 {
			for x := range 1169 {
				r, _, _, _ := drawn.At(x, y).RGBA()
				if d := int(r>>8) - int(gray.GrayAt(x, y).Y); d < -1 || d > 1 {
					t.Fatalf("%s: pixel %d, %d is %d where the picture has %d", tool, x, y, r>>8, gray.GrayAt(x, y).Y)
				}
			}
		}
	}
}

func TestMasterRefuses(t *testing.T) {
	p := ramp(10, 6)
	cases := []struct {
		name   string
		change func(m *Master)
	}{
		{"no paper", func(m *Master) { m.Paper = "" }},
		{"a margin below 0", func(m *Master) { m.MarginsMM[1] = -1 }},
		{"no width", func(m *Master) { m.WidthMM = 0 }},
		{"no such resolution", func(m *Master) { m.DPI = -1 }},
		{"too wide", func(m *Master) { m.WidthMM = 292 }},
		{"too tall", func(m *Master) { m.HeightMM = 414 }},
		{"margins as wide as the paper", func(m *Master) { m.MarginsMM[3] = 300 }},
	}
	for _, c := range cases {
		m := a3
		c.change(&m)
		if err := WriteMasterPNG(io.Discard, m, p, Info{}); err == nil {
			t.Errorf("%s as PNG was taken", c.name)
		}
		if err := WriteMasterPDF(io.Discard, m, []halftone.Tone{p}, Info{}); err == nil {
			t.Errorf("%s as PDF was taken", c.name)
		}
	}
	m, fit := a3, (*FitError)(nil)
	m.WidthMM, m.HeightMM = 400, 200
	if err := WriteMasterPNG(io.Discard, m, p, Info{}); !errors.As(err, &fit) || fit.LargestWidthMM != 291 {
		t.Errorf("the largest width is 291 mm: %v", err)
	}
	if err := WriteMasterPDF(io.Discard, a3, nil, Info{}); err == nil {
		t.Error("no plates were taken")
	}
	if err := WriteMasterPNG(io.Discard, a3, p, Info{DPI: 300}); err == nil {
		t.Error("a page of 600 dpi was written as 300")
	}
	if err := WriteMasterPNG(io.Discard, a3, &halftone.Plate{}, Info{}); err == nil {
		t.Error("an empty plate was taken")
	}
}
