package film

import (
	"bytes"
	"math"
	"testing"

	"pgregory.net/rapid"
)

func getBit(row []byte, x int) bool { return row[x/8]>>(7-x%8)&1 == 1 }

// TestBitRows holds the bit operations against one pixel at a time.
func TestBitRows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := rapid.IntRange(1, 200).Draw(t, "w")
		n := (w + 7) / 8
		row := rapid.SliceOfN(rapid.Byte(), n, n).Draw(t, "row")
		row[n-1] &= 0xff << (n*8 - w)

		flipped, turned := bytes.Clone(row), bytes.Clone(row)
		mirrorBits(flipped, w)
		invertBits(turned, w)
		x0 := rapid.IntRange(0, w).Draw(t, "x0")
		x1 := rapid.IntRange(x0, w).Draw(t, "x1")
		filled := bytes.Clone(row)
		setBits(filled, x0, x1)
		shift := rapid.IntRange(0, 50).Draw(t, "shift")
		laid := bytes.Repeat([]byte{0x11}, (w+shift+7)/8)
		orBits(laid, row, shift, w)
		for x := range w {
			v := getBit(row, x)
			if getBit(flipped, w-1-x) != v || getBit(turned, x) == v {
				t.Fatalf("pixel %d of %d: mirrored or inverted wrong", x, w)
			}
			if getBit(filled, x) != (v || x >= x0 && x < x1) {
				t.Fatalf("pixel %d with %d … %d set: %v", x, x0, x1, getBit(filled, x))
			}
			if getBit(laid, x+shift) != (v || (x+shift)%4 == 3) {
				t.Fatalf("pixel %d laid at %d: wrong", x, shift)
			}
		}
		for x := w; x < n*8; x++ {
			if getBit(flipped, x) || getBit(turned, x) || getBit(filled, x) {
				t.Fatalf("bit %d beyond width %d is set", x, w)
			}
		}
	})
}

// ink draws an outline on w × h pixels.
func ink(o outline, w, h int) *bitmap {
	m := &bitmap{w, h, (w + 7) / 8, make([]byte, (w+7)/8*h)}
	var xs []crossing
	for y := range h {
		xs = o.fill(m.pix[y*m.stride:], w, y, xs)
	}
	return m
}

func (b *bitmap) count() (n int) {
	for y := range b.h {
		for x := range b.w {
			if b.at(x, y) {
				n++
			}
		}
	}
	return n
}

func TestRectCoversItsPixels(t *testing.T) {
	m := ink(rect(3, 5, 20, 9), 40, 20)
	for y := range 20 {
		for x := range 40 {
			if m.at(x, y) != (x >= 3 && x < 20 && y >= 5 && y < 9) {
				t.Fatalf("pixel %d, %d: %v", x, y, m.at(x, y))
			}
		}
	}
}

// TestRectOutsideIsCut holds shapes that reach beyond the sheet.
func TestRectOutsideIsCut(t *testing.T) {
	if n := ink(rect(-10, -10, 5, 5), 20, 20).count(); n != 25 {
		t.Errorf("a square reaching in by 5 x 5 pixels covers %d", n)
	}
	if n := ink(rect(15, 15, 90, 90), 20, 20).count(); n != 25 {
		t.Errorf("a square reaching out covers %d of 25 pixels", n)
	}
}

// TestRingFollowsItsRadii holds every pixel center against the circles.
func TestRingFollowsItsRadii(t *testing.T) {
	const cx, cy, inner, outer = 60.5, 58, 40.3, 47.9
	m := ink(ring(cx, cy, inner, outer), 120, 120)
	for y := range 120 {
		for x := range 120 {
			r := math.Hypot(float64(x)+.5-cx, float64(y)+.5-cy)
			// Within a tenth of a pixel of an edge either answer is right.
			if math.Abs(r-inner) < .1 || math.Abs(r-outer) < .1 {
				continue
			}
			if m.at(x, y) != (r > inner && r < outer) {
				t.Fatalf("pixel %d, %d at radius %.2f: %v", x, y, r, m.at(x, y))
			}
		}
	}
}

// TestTextMeasures holds cap height, width and shrinking of set text.
func TestTextMeasures(t *testing.T) {
	f, err := newFaces()
	if err != nil {
		t.Fatal(err)
	}
	set := f.regular.set("H", 10, 150, 120, 1000)
	m := ink(set.glyphs[0], 200, 200)
	top, bottom := 0, 0
	for y := range m.h {
		for x := range m.w {
			if m.at(x, y) {
				bottom = y
				if top == 0 {
					top = y
				}
			}
		}
	}
	if h := bottom - top + 1; h < 119 || h > 121 {
		t.Errorf("a capital H set at 120 pixels is %d high", h)
	}
	long := "an ink of a very long name that no label has room for, and then some more words"
	full := f.regular.set(long, 0, 0, 30, math.Inf(1))
	cases := []struct {
		name  string
		max   float64
		whole bool
	}{
		{"fits", full.width + 1, true},
		{"shrinks", full.width * .7, true},
		{"is cut", full.width * .2, false},
	}
	for _, c := range cases {
		got := f.regular.set(long, 0, 0, 30, c.max)
		if got.width > c.max*1.0001 || got.width < c.max*.85 && !c.whole {
			t.Errorf("%s: %.1f wide in %.1f", c.name, got.width, c.max)
		}
		if whole := got.s == long; whole != c.whole {
			t.Errorf("%s: set as %q", c.name, got.s)
		}
	}
}
