package chartfilm

import (
	"bytes"
	"math"
	"math/bits"
	"testing"

	"platewright/composite/chart"
	"platewright/halftone"
)

func draw(t *testing.T, f *chart.Film) (*Bits, []byte) {
	t.Helper()
	s, err := halftone.NewScreen(halftone.Spec{Ruling: 45, Angle: 22.5, DPI: 600})
	if err != nil {
		t.Fatal(err)
	}
	b, err := New(f, 60, 40, 600, s)
	if err != nil {
		t.Fatal(err)
	}
	w, h := b.Size()
	rows := make([]byte, (w+7)/8*h)
	b.Rows(rows, (w+7)/8, 0, h)
	return b, rows
}

func ink(rows []byte) (n int) {
	for _, v := range rows {
		n += bits.OnesCount8(v)
	}
	return n
}

// Areas come out at true size, tints with their percent.
func TestAreas(t *testing.T) {
	const mm2 = (600 / 25.4) * (600 / 25.4)
	for _, tt := range []struct {
		name string
		f    chart.Film
		area float64
		off  float64
	}{
		{"solid", chart.Film{Tints: []chart.Tint{{X: 5, Y: 5, W: 12, H: 12, Percent: 100}}}, 144, .01},
		{"tint", chart.Film{Tints: []chart.Tint{{X: 5, Y: 5, W: 30, H: 30, Percent: 40}}}, 360, .01},
		{"disc", chart.Film{Discs: []chart.Disc{{X: 20, Y: 20, R: 5}}}, 25 * math.Pi, .01},
		{"ring", chart.Film{Discs: []chart.Disc{{X: 20, Y: 20, R: 5, Inner: 3.4}}}, (25 - 3.4*3.4) * math.Pi, .01},
		{"beside the film", chart.Film{Tints: []chart.Tint{{X: -5, Y: 30, W: 10, H: 20, Percent: 100}}}, 50, .02},
	} {
		_, rows := draw(t, &tt.f)
		if got := float64(ink(rows)) / mm2; math.Abs(got/tt.area-1) > tt.off {
			t.Errorf("%s: %.2f mm² of ink, want %.2f", tt.name, got, tt.area)
		}
	}
}

// A film is the same bits whichever strips it is asked for in, and words stay
// within their width.
func TestStrips(t *testing.T) {
	f := &chart.Film{
		Tints: []chart.Tint{{X: 2, Y: 2, W: 12, H: 12, Percent: 30}, {X: 20, Y: 3, W: .3, H: 8, Percent: 100}},
		Discs: []chart.Disc{{X: 40, Y: 10, R: 5, Inner: 3.4}},
		Words: []chart.Word{{X: 5, Y: 30, Height: 3, Width: 20, Text: "a long line of words that does not fit"}},
	}
	b, whole := draw(t, f)
	w, h := b.Size()
	n := (w + 7) / 8
	for _, step := range []int{1, 7, 64} {
		rows := bytes.Repeat([]byte{0xa5}, n*h)
		for y := 0; y < h; y += step {
			b.Rows(rows[y*n:], n, y, min(h, y+step))
		}
		if !bytes.Equal(rows, whole) {
			t.Errorf("strips of %d rows differ", step)
		}
	}
	found := 0
	for y := b.px(26); y < b.px(32); y++ {
		for x := range w {
			if whole[y*n+x>>3]>>(7-x&7)&1 == 1 {
				found++
				if x < b.px(4.9) || x > b.px(25.3) {
					t.Fatalf("a word reaches %.1f mm", float64(x)/b.scale)
				}
			}
		}
	}
	if found < 100 {
		t.Errorf("a word of %d pixels", found)
	}
}
