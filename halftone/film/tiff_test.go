package film

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"golang.org/x/image/tiff"
)

var filed = Info{Title: "harbor print, deep kelp", Description: "film positive, pull 2 of 4", Date: kelp.Date}

// onCores runs f with one core and with two, and holds that it writes the same.
func onCores(t *testing.T, f func() []byte) []byte {
	t.Helper()
	was := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(was)
	one := f()
	runtime.GOMAXPROCS(2)
	if two := f(); !bytes.Equal(one, two) {
		t.Fatal("one core and two write different files")
	}
	return one
}

// directory reads a little-endian TIFF's only directory, by itself.
func directory(t *testing.T, b []byte) map[uint16][]byte {
	t.Helper()
	le := binary.LittleEndian
	if string(b[:4]) != "II*\x00" {
		t.Fatalf("TIFF begins % x", b[:4])
	}
	at := int(le.Uint32(b[4:]))
	if at%2 != 0 {
		t.Errorf("directory at odd offset %d", at)
	}
	size := map[uint16]int{2: 1, 3: 2, 4: 4, 5: 8}
	tags := map[uint16][]byte{}
	n := int(le.Uint16(b[at:]))
	last := uint16(0)
	for i := range n {
		e := b[at+2+12*i:]
		tag, kind, count := le.Uint16(e), le.Uint16(e[2:]), int(le.Uint32(e[4:]))
		if tag <= last {
			t.Errorf("tag %d after %d", tag, last)
		}
		last = tag
		v := e[8:12]
		if len := size[kind] * count; len <= 4 {
			v = v[:len]
		} else {
			off := int(le.Uint32(v))
			v = b[off : off+len]
		}
		tags[tag] = v
	}
	if next := le.Uint32(b[at+2+12*n:]); next != 0 {
		t.Errorf("another directory at %d", next)
	}
	return tags
}

func grayIs(im image.Image, m *bitmap) error {
	if s := im.Bounds().Size(); s.X != m.w || s.Y != m.h {
		return fmt.Errorf("%v pixels, want %d x %d", s, m.w, m.h)
	}
	for y := range m.h {
		for x := range m.w {
			if r, _, _, _ := im.At(x, y).RGBA(); (r == 0) != m.at(x, y) || r != 0 && r != 0xffff {
				return fmt.Errorf("pixel %d, %d is %04x, ink %v", x, y, r, m.at(x, y))
			}
		}
	}
	return nil
}

func TestTIFFReadsBack(t *testing.T) {
	le := binary.LittleEndian
	for _, c := range []struct {
		name string
		pack Compression
		dpi  float64
		den  uint32
	}{{"deflate", Deflate, 300, 1}, {"group 4", Group4, 300, 1}, {"odd resolution", Deflate, 203.2, 10000}} {
		t.Run(c.name, func(t *testing.T) {
			// Tall enough for several strips.
			page := mustPage(t, mustLayout(t, Sheet{WidthMM: 200, HeightMM: 260, DPI: c.dpi}), kelp, 0)
			info := filed
			info.Compression = c.pack
			file := onCores(t, func() []byte {
				var b seekBuffer
				if err := WriteTIFF(&b, page, info); err != nil {
					t.Fatal(err)
				}
				return b.b
			})
			m := all(page)
			im, err := tiff.Decode(bytes.NewReader(file))
			if err != nil {
				t.Fatal(err)
			}
			if err := grayIs(im, m); err != nil {
				t.Fatal(err)
			}
			tags := directory(t, file)
			shorts := map[uint16]uint16{258: 1, 259: 8, 262: 0, 277: 1, 296: 2}
			if c.pack == Group4 {
				shorts[259] = 4
			}
			for tag, want := range shorts {
				if v := tags[tag]; len(v) != 2 || le.Uint16(v) != want {
					t.Errorf("tag %d is % x, want %d", tag, v, want)
				}
			}
			if w, h := le.Uint32(tags[256]), le.Uint32(tags[257]); int(w) != m.w || int(h) != m.h {
				t.Errorf("says %d x %d pixels", w, h)
			}
			for _, tag := range []uint16{282, 283} {
				num, den := le.Uint32(tags[tag]), le.Uint32(tags[tag][4:])
				if den != c.den || float64(num)/float64(den) != c.dpi {
					t.Errorf("resolution %d/%d", num, den)
				}
			}
			for tag, want := range map[uint16]string{269: filed.Title, 270: filed.Description, 306: "2031:03:09 14:30:00"} {
				if string(tags[tag]) != want+"\x00" {
					t.Errorf("tag %d is %q", tag, tags[tag])
				}
			}
			rows := int(le.Uint32(tags[278]))
			if n := len(tags[273]) / 4; n < 2 || n != (m.h+rows-1)/rows || len(tags[279]) != 4*n {
				t.Errorf("%d strips of %d rows for %d rows", n, rows, m.h)
			}
		})
	}
}

// TestTIFFInLibtiff has the library most programs use read both compressions.
func TestTIFFInLibtiff(t *testing.T) {
	tool, err := exec.LookPath("tiffinfo")
	if err != nil {
		t.Skip("tiffinfo is not installed")
	}
	page := mustPage(t, mustLayout(t, sheets[0]), kelp, 0)
	for pack, word := range map[Compression]string{Deflate: "AdobeDeflate", Group4: "CCITT Group 4"} {
		name := filepath.Join(t.TempDir(), "film.tif")
		f, err := os.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		info := filed
		info.Compression = pack
		if err := WriteTIFF(f, page, info); err != nil {
			t.Fatal(err)
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(tool, "-D", name).CombinedOutput() // -D reads the data too
		if err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		for _, want := range []string{word, "Resolution: 300, 300 pixels/inch", "min-is-white", "DocumentName: harbor print, deep kelp", "2031:03:09"} {
			if !strings.Contains(string(out), want) {
				t.Errorf("no %q in %s", want, out)
			}
		}
		for _, bad := range []string{"rror", "arning"} {
			if strings.Contains(string(out), bad) {
				t.Errorf("it complains: %s", out)
			}
		}
	}
}

// TestTIFFBeyond4GiB packs nothing and writes nowhere, but counts.
func TestTIFFBeyond4GiB(t *testing.T) {
	strip := make([]byte, 64<<20)
	f := tiffFile{width: 8, height: 70, rows: 1, dpi: 1}
	if err := f.write(&failing{1 << 40}, func(*packer, int, int) ([]byte, error) { return strip, nil }); err != errTooLong {
		t.Errorf("70 strips of 64 MiB: %v", err)
	}
	f = tiffFile{width: 8, height: 60, rows: 1, dpi: 1}
	if err := f.write(&failing{1 << 40}, func(*packer, int, int) ([]byte, error) { return strip, nil }); err != nil {
		t.Errorf("60 strips of 64 MiB: %v", err)
	}
}

// TestFullDisk holds that every writer reports a write that fails, wherever it does.
func TestFullDisk(t *testing.T) {
	page := mustPage(t, mustLayout(t, sheets[0]), kelp, 0)
	writers := map[string]func(w io.WriteSeeker) error{
		"tiff":  func(w io.WriteSeeker) error { return WriteTIFF(w, page, Info{}) },
		"png":   func(w io.WriteSeeker) error { return WritePNG(w, page, Info{}) },
		"pdf":   func(w io.WriteSeeker) error { return WritePDF(w, []*Page{page}, Info{}) },
		"plate": func(w io.WriteSeeker) error { return WritePlate(w, ramp(40, 30), 8, Info{DPI: 300}) },
	}
	for name, write := range writers {
		var whole seekBuffer
		if err := write(&whole); err != nil {
			t.Fatal(err)
		}
		size := len(whole.b)
		for _, n := range []int{0, 5, 40, size / 2, size - 1} {
			if err := write(&failing{n}); err != errFull {
				t.Errorf("%s on a disk of %d of %d bytes: %v", name, n, size, err)
			}
		}
	}
}

func TestNoResolution(t *testing.T) {
	b := dots{10, 10, 0, 30}
	for name, err := range map[string]error{
		"tiff": WriteTIFF(&seekBuffer{}, b, Info{}), "png": WritePNG(io.Discard, b, Info{}),
		"plate": WritePlate(io.Discard, ramp(4, 3), 8, Info{}), "negative": WritePNG(io.Discard, b, Info{DPI: -300}),
	} {
		if err != errNoResolution {
			t.Errorf("%s: %v", name, err)
		}
	}
}
