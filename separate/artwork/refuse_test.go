package artwork

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"
)

func TestRefused(t *testing.T) {
	for _, c := range []struct {
		name string
		data []byte
		kind error
		want string
	}{
		{"empty.png", nil, ErrMalformed, "empty.png: the file is empty: export it again"},
		{"a.png", []byte("just a note\n"), ErrUnsupported, "a.png: a text file, not a picture: export it as PNG or TIFF"},
		{"a.svg", []byte(`<?xml version="1.0"?><svg width="1"/>`), ErrUnsupported, "an SVG file"},
		{"a.pdf", []byte("%PDF-1.7\n\x00\x01"), ErrUnsupported, "a PDF file"},
		{"a.eps", []byte("%!PS-Adobe-3.0 EPSF-3.0\n"), ErrUnsupported, "a PostScript file"},
		{"a.png", []byte("8BPS\x00\x01\x00\x00"), ErrUnsupported, "a file with layers"},
		{"a.ora", []byte("PK\x03\x04\x14\x00"), ErrUnsupported, "a file with layers or an archive"},
		{"a.heic", []byte("\x00\x00\x00\x18ftypheic"), ErrUnsupported, "a picture of a kind that is not read"},
		{"a.bin", []byte{0, 1, 2, 3, 4, 5}, ErrUnsupported, "not a picture"},
		{"a.tif", []byte("II+\x00\x08\x00\x00\x00"), ErrUnsupported, "more than 4 GB"},
		{"a.png", file(t, "bad", "invalid-trunc.png"), ErrMalformed, "a.png: the file is cut short: export it again"},
		{"a.png", file(t, "bad", "invalid-noend.png"), ErrMalformed, "cut short"},
		{"a.png", file(t, "bad", "invalid-crc32.png"), ErrMalformed, "the file is damaged"},
		{"a.png", file(t, "bad", "invalid-zlib.png"), ErrMalformed, "the file is damaged"},
		{"a.png", file(t, "bad", "invalid-palette.png"), ErrMalformed, "outside the palette"},
		{"a.png", file(t, "bad", "hdr_png_0x10.png"), ErrMalformed, "0 × 10 pixels"},
		{"a.png", file(t, "bad", "hdr_png_2147483647sq_noidat.png"), ErrMalformed, "cut short"},
		{"a.gif", file(t, "bad", "gif_65535x65535_tiny.gif"), ErrTooLarge, "more than the limit"},
		{"a.bmp", file(t, "bad", "bmp_int32min_height.bmp"), ErrMalformed, "impossible size"},
		{"a.tif", file(t, "bad", "0x0.tiff"), ErrMalformed, "0 × 0 pixels"},
		{"a.tif", file(t, "bad", "1x0.tiff"), ErrMalformed, "1 × 0 pixels"},
		{"a.tif", file(t, "bad", "invalid-palette-ref.tiff"), ErrMalformed, "cut short"},
		{"a.png", makePNG(60000, 60000, 1), ErrTooLarge, "60000 × 60000 pixels are more than the limit of 250 million"},
		{"a.png", makePNG(15000, 15000, 1), ErrMalformed, "cannot be in"},
		{"a.png", makePNG(9, 9, 8), ErrMalformed, "cut short"},
	} {
		p, err := Read(bytes.NewReader(c.data), c.name, Limits{})
		var e *Error
		if p != nil || !errors.Is(err, c.kind) || !errors.As(err, &e) {
			t.Errorf("%s: got %v, want %v with %q", c.name, err, c.kind, c.want)
			continue
		}
		if s := err.Error(); !strings.Contains(s, c.want) || strings.Contains(s, "\n") || e.Mend == "" {
			t.Errorf("%s: the error is %q, want %q", c.name, s, c.want)
		}
	}
}

func TestOpenRefuses(t *testing.T) {
	if _, err := Open("testdata", Limits{}); !errors.Is(err, ErrUnsupported) {
		t.Errorf("a folder: %v", err)
	}
	if _, err := Open("testdata/none.png", Limits{}); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a missing file: %v", err)
	}
	boom := errors.New("boom")
	if _, err := Read(iotest.ErrReader(boom), "a.png", Limits{}); !errors.Is(err, boom) {
		t.Errorf("a failing reader: %v", err)
	}
}

func TestReadInSmallPieces(t *testing.T) {
	b := file(t, "tiff", "photo8.png")
	p, err := Read(iotest.OneByteReader(bytes.NewReader(b)), "photo8.png", Limits{})
	if err != nil {
		t.Fatal(err)
	}
	if q := open(t, "tiff", "photo8.png"); !bytes.Equal(p.Pix, q.Pix) || p.SHA256 != q.SHA256 {
		t.Error("the picture depends on how it is read")
	}
}

func TestLimits(t *testing.T) {
	b := makePNG(100, 50, 50)
	for _, c := range []struct {
		lim  Limits
		want error
	}{
		{Limits{}, nil},
		{Limits{MaxPixels: 5000}, nil},
		{Limits{MaxPixels: 4999}, ErrTooLarge},
		{Limits{MaxBytes: 20000}, nil},
		{Limits{MaxBytes: 15000}, ErrTooLarge},
		{Limits{MaxBytes: int64(len(b)) - 1}, ErrTooLarge},
	} {
		if _, err := Read(bytes.NewReader(b), "a.png", c.lim); !errors.Is(err, c.want) {
			t.Errorf("%+v: %v, want %v", c.lim, err, c.want)
		}
	}
	// A stream without an end stops at the limit.
	endless := io.MultiReader(bytes.NewReader(b[:40]), zeros{})
	if _, err := Read(endless, "a.png", Limits{MaxBytes: 1 << 20}); !errors.Is(err, ErrTooLarge) {
		t.Errorf("an endless file: %v", err)
	}
}

type zeros struct{}

func (zeros) Read(b []byte) (int, error) { clear(b); return len(b), nil }

// A file that is cut anywhere is an error or, when only what follows the
// pixels is missing, the whole picture; never a part of it.
func TestCutShort(t *testing.T) {
	names, _ := filepath.Glob("testdata/*/*.*")
	for _, name := range names {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		whole, err := Read(bytes.NewReader(b), name, Limits{})
		if err != nil {
			continue
		}
		step := max(1, len(b)/60)
		for n := len(b) - 1; n >= 0; n -= step {
			p, err := Read(bytes.NewReader(b[:n]), name, Limits{})
			if err != nil {
				if !errors.Is(err, ErrMalformed) && !errors.Is(err, ErrUnsupported) {
					t.Errorf("%s cut to %d: %v", name, n, err)
				}
				continue
			}
			if !bytes.Equal(p.Pix, whole.Pix) || len(p.Pix16) != len(whole.Pix16) || !bytes.Equal(p.Alpha, whole.Alpha) {
				t.Errorf("%s cut to %d of %d bytes reads as another picture", name, n, len(b))
			}
		}
	}
}
