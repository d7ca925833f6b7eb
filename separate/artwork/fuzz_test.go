package artwork

import (
	"bytes"
	"errors"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"platewright/composite/spectrum"
)

// fuzzRead checks that any file gives an error of this package or a sound
// picture, within its limits.
func fuzzRead(f *testing.F, patterns ...string) {
	for _, pattern := range patterns {
		names, _ := filepath.Glob(filepath.Join("testdata", pattern))
		for _, name := range names {
			b, err := os.ReadFile(name)
			if err != nil {
				f.Fatal(err)
			}
			if len(b) < 8000 {
				f.Add(b)
			}
		}
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		p, err := Read(bytes.NewReader(b), "a", Limits{MaxPixels: 1 << 20, MaxBytes: 1 << 24})
		if err != nil {
			var e *Error
			if p != nil || !errors.As(err, &e) || e.Problem == "" || e.Mend == "" {
				t.Fatalf("picture %v, error %#v", p, err)
			}
			return
		}
		n := p.Width * p.Height
		if n <= 0 || n > 1<<20 || len(p.Pix)+len(p.Pix16) != 3*n || p.Pix != nil && p.Pix16 != nil {
			t.Fatalf("%d × %d with %d and %d values", p.Width, p.Height, len(p.Pix), len(p.Pix16))
		}
		if a := len(p.Alpha) + len(p.Alpha16); a != 0 && a != n {
			t.Fatalf("%d opacities", a)
		}
		if !(p.PPI >= 0) || math.IsInf(p.PPI, 0) {
			t.Fatalf("%v ppi", p.PPI)
		}
		for _, v := range p.Space.XYZ(p.At(p.Width-1, p.Height-1)) {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatal("a color is no number")
			}
		}
		p.Flatten(spectrum.White())
		p.Preview(16)
	})
}

func FuzzReadPNG(f *testing.F) {
	f.Add(makePNG(3, 3, 3, chunk("eXIf", exifBlock(6, 300, 300)), chunk("cICP", []byte{12, 13, 0, 1})))
	f.Add(makePNG(3, 3, 3, chunk("iCCP", append([]byte("p\x00\x00"), deflated(makeProfile("RGB ", "XYZ ", wideTags(paraTag(0, 2))))...))))
	fuzzRead(f, "png/*.png", "bad/*.png")
}

func FuzzReadJPEG(f *testing.F) {
	f.Add(makeJPEG(f, jfif(1, 300, 300)))
	fuzzRead(f, "jpeg/*")
}

func FuzzReadTIFF(f *testing.F) { fuzzRead(f, "tiff/*.tif", "tiff/*.tiff", "bad/*.tif*") }

func FuzzReadWebP(f *testing.F) { fuzzRead(f, "webp/*") }

func FuzzReadBMP(f *testing.F) { fuzzRead(f, "bmp/*.bmp", "bad/*.bmp") }

func FuzzReadGIF(f *testing.F) {
	f.Add(makeGIF(f, 2))
	fuzzRead(f, "bad/*.gif")
}

func FuzzProfile(f *testing.F) {
	f.Add(makeProfile("RGB ", "XYZ ", wideTags(paraTag(3, 2.4, .95, .05, .08, .04))))
	f.Add(makeProfile("RGB ", "XYZ ", wideTags(curvTag(0, 100, 65535))))
	f.Add(makeProfile("GRAY", "XYZ ", map[string][]byte{"kTRC": curvTag(512), "desc": descTag("gray")}))
	f.Fuzz(func(t *testing.T, b []byte) {
		p, err := parseProfile(b)
		if err != nil {
			if !p.space.IsSRGB() {
				t.Fatal("a space in spite of the error")
			}
			return
		}
		for _, v := range []float64{0, .1, .5, 1} {
			c := p.space.XYZ(v, 1-v, v)
			e := p.space.Encode(c)
			for i := range 3 {
				if math.IsNaN(c[i]) || math.IsInf(c[i], 0) || math.IsNaN(e[i]) {
					t.Fatalf("at %v: %v, back %v", v, c, e)
				}
			}
		}
	})
}

func FuzzParseLength(f *testing.F) {
	for _, s := range []string{"297mm", "30 cm", "11.7in", "", "1e9in"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if mm, err := ParseLength(s); err == nil && !(mm > 0 && !math.IsInf(mm, 0)) {
			t.Fatalf("%q is %v mm", s, mm)
		}
	})
}

// FuzzPNGParts varies what is in the chunks and leaves their checksums whole.
func FuzzPNGParts(f *testing.F) {
	f.Add(uint8(3), uint8(2), uint8(8), uint8(2), uint8(0), []byte(nil), []byte{0, 1, 0, 2, 0, 3}, "gAMA", []byte{0, 1, 0, 0}, make([]byte, 20))
	f.Add(uint8(9), uint8(9), uint8(4), uint8(3), uint8(1), []byte{1, 2, 3, 4, 5, 6}, []byte{9}, "pHYs", []byte{0, 0, 1, 0, 0, 0, 1, 0, 1}, make([]byte, 100))
	f.Add(uint8(2), uint8(2), uint8(16), uint8(6), uint8(0), []byte(nil), []byte(nil), "eXIf", exifBlock(7, 300, 200), bytes.Repeat([]byte{4}, 34))
	f.Fuzz(func(t *testing.T, w, h, depth, kind, interlace uint8, palette, trns []byte, name string, extra, rows []byte) {
		if len(name) != 4 || len(rows) > 1<<16 {
			return
		}
		b := []byte("\x89PNG\r\n\x1a\n")
		b = append(b, chunk("IHDR", append(be32(uint32(w), uint32(h)), depth, kind, 0, 0, interlace))...)
		b = append(b, chunk(name, extra)...)
		if palette != nil {
			b = append(b, chunk("PLTE", palette)...)
		}
		if trns != nil {
			b = append(b, chunk("tRNS", trns)...)
		}
		b = append(append(b, chunk("IDAT", deflated(rows))...), chunk("IEND", nil)...)
		p, err := Read(bytes.NewReader(b), "a", Limits{MaxPixels: 1 << 20, MaxBytes: 1 << 24})
		if err != nil {
			if p != nil || !errors.Is(err, ErrMalformed) && !errors.Is(err, ErrUnsupported) {
				t.Fatalf("picture %v, error %v", p, err)
			}
			return
		}
		p.Flatten(spectrum.White())
		p.Preview(5)

		// What the standard library reads too is the same picture.
		m, err := png.Decode(bytes.NewReader(b))
		if err != nil {
			return
		}
		q, err := Read(bytes.NewReader(b), "a", Limits{})
		if err != nil {
			t.Fatal(err)
		}
		if !q.has(AllTransparent) && name != "eXIf" {
			wantPixels(t, q, m)
		}
	})
}
