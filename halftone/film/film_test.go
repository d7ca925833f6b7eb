package film

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"testing"
	"time"
)

// dots is a grid of round dots of that many percent (20 pixels apart), with a phase so
// that no two plates are alike.
type dots struct {
	w, h, phase int
	percent     float64
}

func (d dots) Size() (w, h int) { return d.w, d.h }

func (d dots) Rows(dst []byte, stride, y0, y1 int) {
	r2 := d.percent / 100 * 400 / 3.14159
	for y := y0; y < y1; y++ {
		row := dst[(y-y0)*stride : (y-y0)*stride+(d.w+7)/8]
		clear(row)
		dy := float64((y+d.phase)%20) - 9.5
		for x := range d.w {
			dx := float64((x+y/20*7)%20) - 9.5
			if dx*dx+dy*dy < r2 {
				row[x/8] |= 0x80 >> (x % 8)
			}
		}
	}
}

// bitmap is a picture in memory.
type bitmap struct {
	w, h, stride int
	pix          []byte
}

func (b *bitmap) Size() (w, h int) { return b.w, b.h }

func (b *bitmap) Rows(dst []byte, stride, y0, y1 int) {
	for y := y0; y < y1; y++ {
		copy(dst[(y-y0)*stride:], b.pix[y*b.stride:(y+1)*b.stride])
	}
}

func (b *bitmap) at(x, y int) bool { return b.pix[y*b.stride+x/8]>>(7-x%8)&1 == 1 }

// all reads a whole picture; the buffer begins dirty, as a caller's may be.
func all(b Bits) *bitmap {
	w, h := b.Size()
	m := &bitmap{w, h, (w + 7) / 8, bytes.Repeat([]byte{0xa5}, (w+7)/8*h)}
	b.Rows(m.pix, m.stride, 0, h)
	return m
}

// seekBuffer is a file in memory.
type seekBuffer struct {
	b  []byte
	at int
}

func (s *seekBuffer) Write(p []byte) (int, error) {
	if need := s.at + len(p); need > len(s.b) {
		s.b = append(s.b, make([]byte, need-len(s.b))...)
	}
	copy(s.b[s.at:], p)
	s.at += len(p)
	return len(p), nil
}

func (s *seekBuffer) Seek(off int64, whence int) (int64, error) {
	switch whence {
	case io.SeekStart:
		s.at = int(off)
	case io.SeekCurrent:
		s.at += int(off)
	case io.SeekEnd:
		s.at = len(s.b) + int(off)
	}
	return int64(s.at), nil
}

// failing is a writer that is full after n bytes.
type failing struct{ n int }

var errFull = errors.New("full")

func (f *failing) Write(p []byte) (int, error) {
	if f.n -= len(p); f.n < 0 {
		return 0, errFull
	}
	return len(p), nil
}

func (f *failing) Seek(int64, int) (int64, error) { return 0, nil }

var kelp = Label{
	Ink: "deep kelp", Pull: 2, Of: 4, Job: "harbor print", Paper: "cold white 250 g",
	Date: time.Date(2031, 3, 9, 14, 30, 0, 0, time.UTC), RulingLPI: 45, AngleDeg: 22.5, Dot: "round", Mesh: "77/cm",
}

func dotTint(percent float64, w, h int) Bits { return dots{w, h, 0, percent} }

func mustLayout(t testing.TB, s Sheet) *Layout {
	t.Helper()
	l, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func mustPage(t testing.TB, l *Layout, b Label, phase int) *Page {
	t.Helper()
	w, h := l.Area()
	p, err := l.Page(dots{w, h, phase, 30}, b, dotTint)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// TestKeep writes films to the folder named by FILM_PICTURES, to be looked at.
func TestKeep(t *testing.T) {
	dir := os.Getenv("FILM_PICTURES")
	if dir == "" {
		t.Skip("FILM_PICTURES names no folder")
	}
	for i, s := range sheets {
		p := mustPage(t, mustLayout(t, s), kelp, 0)
		f, err := os.Create(fmt.Sprintf("%s/film-%d.png", dir, i))
		if err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(WritePNG(f, p, Info{}), f.Close()); err != nil {
			t.Fatal(err)
		}
		f, err = os.Create(fmt.Sprintf("%s/film-%d.pdf", dir, i))
		if err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(WritePDF(f, []*Page{p}, Info{}), f.Close()); err != nil {
			t.Fatal(err)
		}
		f, err = os.Create(fmt.Sprintf("%s/film-%d.tif", dir, i))
		if err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(WriteTIFF(f, p, Info{Compression: Group4}), f.Close()); err != nil {
			t.Fatal(err)
		}
	}
}

// sheets are one of each kind.
var sheets = []Sheet{
	{WidthMM: 60, HeightMM: 40, DPI: 300, BleedMM: 3},
	{WidthMM: 210, HeightMM: 297, DPI: 120},
	{WidthMM: 100, HeightMM: 70, DPI: 177.8, Film: "A5"},
	{WidthMM: 60, HeightMM: 40, DPI: 240, Mirror: true},
	{WidthMM: 60, HeightMM: 40, DPI: 240, Negative: true, Mirror: true},
	{WidthMM: 30, HeightMM: 20, DPI: 360, NoMarks: true},
	{WidthMM: 30, HeightMM: 20, DPI: 360, NoMarks: true, Film: "60x50mm", Negative: true},
}
