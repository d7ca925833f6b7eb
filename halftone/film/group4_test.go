package film

import (
	"bytes"
	"io"
	"testing"

	"golang.org/x/image/ccitt"
	"pgregory.net/rapid"
)

// runs draws a picture of random runs, long enough for every make-up code.
func runs(t *rapid.T) *bitmap {
	w := rapid.SampledFrom([]int{1, 7, 8, 9, 63, 64, 65, 1728, 2000, 6001}).Draw(t, "w")
	h := rapid.IntRange(1, 6).Draw(t, "h")
	b := &bitmap{w, h, (w + 7) / 8, make([]byte, (w+7)/8*h)}
	for y := range h {
		row := b.pix[y*b.stride : (y+1)*b.stride]
		if y > 0 && rapid.Bool().Draw(t, "like above") {
			copy(row, b.pix[(y-1)*b.stride:])
			for range rapid.IntRange(0, 3).Draw(t, "changes") {
				x := rapid.IntRange(0, w-1).Draw(t, "x")
				row[x/8] ^= 0x80 >> (x % 8)
			}
			continue
		}
		for x := 0; x < w; {
			gap := rapid.IntRange(0, w).Draw(t, "gap")
			n := rapid.IntRange(1, w).Draw(t, "run")
			if rapid.Bool().Draw(t, "short") {
				gap, n = gap%9, n%9
			}
			setBits(row, min(w, x+gap), min(w, x+gap+n))
			x += gap + n + 1
		}
	}
	return b
}

// TestGroup4ReadsBack holds the coder against an independent decoder, in one piece
// and joined from pieces of one row.
func TestGroup4ReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := runs(t)
		var whole, joined bitWriter
		var above []byte
		p := newPacker()
		for y := range b.h {
			row := b.pix[y*b.stride : (y+1)*b.stride]
			whole.group4Row(row, above, b.w)
			above = row
			part := packGroup4(p, b, b.stride, y, y+1)
			joined.join(part.data, part.bits)
		}
		for _, w := range []*bitWriter{&whole, &joined} {
			w.endOfBlock()
			w.flush()
		}
		if !bytes.Equal(whole.out, joined.out) {
			t.Fatal("joined pieces differ from the picture in one piece")
		}
		got, err := io.ReadAll(ccitt.NewReader(bytes.NewReader(whole.out), ccitt.MSB, ccitt.Group4, b.w, b.h, &ccitt.Options{Invert: true}))
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, b.pix) {
			t.Fatalf("%d x %d pixels read back differ", b.w, b.h)
		}
	})
}

// TestGroup4KnownCodes holds three rows worked out by hand from the tables of ITU-T
// T.4 and T.6.
func TestGroup4KnownCodes(t *testing.T) {
	cases := []struct {
		name string
		rows []byte
		want string
	}{
		{"white under white: V0", []byte{0x00}, "1"},
		{"white 3, black 2, then V0: horizontal 001 1000 11", []byte{0x18}, "0011000111"},
		{"the same twice: V0 V0 V0", []byte{0x18, 0x18}, "0011000111111"},
		{"a run gone: pass 0001, V0", []byte{0x18, 0x00}, "001100011100011"},
		{"a run one to the right: VR1 011 twice, V0", []byte{0x18, 0x0c}, "00110001110110111"},
		{"a run one to the left: VL1 010 twice, V0", []byte{0x18, 0x30}, "00110001110100101"},
		{"black from the start: horizontal 001, white 0 00110101, black 8 000101", []byte{0xff}, "00100110101000101"},
	}
	for _, c := range cases {
		var b bitWriter
		var above []byte
		for i := range c.rows {
			b.group4Row(c.rows[i:i+1], above, 8)
			above = c.rows[i : i+1]
		}
		n := b.bitLen()
		b.flush()
		got := ""
		for i := range n {
			got += string('0' + b.out[i/8]>>(7-i%8)&1)
		}
		if got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}
