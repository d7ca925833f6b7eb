package artwork

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/image/bmp"
	"golang.org/x/image/tiff"
)

// wantPixels compares every pixel with a decoded image.
func wantPixels(t *testing.T, p *Picture, m image.Image) {
	t.Helper()
	b := m.Bounds()
	if p.Width != b.Dx() || p.Height != b.Dy() {
		t.Fatalf("size %d × %d, want %d × %d", p.Width, p.Height, b.Dx(), b.Dy())
	}
	for y := range p.Height {
		for x := range p.Width {
			want := straightAt(m, b.Min.X+x, b.Min.Y+y)
			if got := pixel64(p, x, y); got != want && (got.A != 0 || want.A != 0) {
				t.Fatalf("pixel %d, %d is %v, want %v", x, y, got, want)
			}
		}
	}
}

// straightAt keeps straight values as they are; the color package would
// multiply and divide them by the opacity.
func straightAt(m image.Image, x, y int) color.NRGBA64 {
	switch c := m.At(x, y).(type) {
	case color.NRGBA:
		return color.NRGBA64{uint16(c.R) * 257, uint16(c.G) * 257, uint16(c.B) * 257, uint16(c.A) * 257}
	default:
		return color.NRGBA64Model.Convert(c).(color.NRGBA64)
	}
}

func pixel64(p *Picture, x, y int) color.NRGBA64 {
	i := y*p.Width + x
	c := color.NRGBA64{A: 65535}
	if p.Pix16 != nil {
		c.R, c.G, c.B = p.Pix16[3*i], p.Pix16[3*i+1], p.Pix16[3*i+2]
		if p.Alpha16 != nil {
			c.A = p.Alpha16[i]
		}
		return c
	}
	c.R, c.G, c.B = uint16(p.Pix[3*i])*257, uint16(p.Pix[3*i+1])*257, uint16(p.Pix[3*i+2])*257
	if p.Alpha != nil {
		c.A = uint16(p.Alpha[i]) * 257
	}
	return c
}

func TestPNGAgainstStandardLibrary(t *testing.T) {
	names, _ := filepath.Glob("testdata/png/*.png")
	more, _ := filepath.Glob("testdata/tiff/*.png")
	if names = append(names, more...); len(names) < 40 {
		t.Fatalf("only %d files", len(names))
	}
	for _, name := range names {
		t.Run(filepath.Base(name), func(t *testing.T) {
			rel, _ := filepath.Rel("testdata", name)
			m, err := png.Decode(bytes.NewReader(file(t, rel)))
			if err != nil {
				t.Fatal(err)
			}
			wantPixels(t, open(t, rel), m)
		})
	}
}

// The suite has two interlaced files only. Interlacing a picture in the test
// covers the passes of every size.
func TestInterlacedSizes(t *testing.T) {
	for w := 1; w <= 9; w++ {
		for h := 1; h <= 9; h++ {
			m := gradient(w, h)
			b := interlaced(m)
			ref, err := png.Decode(bytes.NewReader(b))
			if err != nil {
				t.Fatal(err)
			}
			p := readBytes(t, "a.png", b)
			wantPixels(t, p, ref)
			wantPixels(t, p, m)
		}
	}
}

func interlaced(m *image.NRGBA) []byte {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	var raw []byte
	for _, s := range adam7() {
		for y := s.y0; y < h && s.x0 < w; y += s.dy {
			raw = append(raw, 0)
			for x := s.x0; x < w; x += s.dx {
				c := m.NRGBAAt(x, y)
				raw = append(raw, c.R, c.G, c.B)
			}
		}
	}
	b := []byte("\x89PNG\r\n\x1a\n")
	b = append(b, chunk("IHDR", append(be32(uint32(w), uint32(h)), 8, pngRGB, 0, 0, 1))...)
	b = append(b, chunk("IDAT", deflated(raw))...)
	return append(b, chunk("IEND", nil)...)
}

func TestTIFFAgainstLibrary(t *testing.T) {
	names, _ := filepath.Glob("testdata/tiff/*.tiff")
	if len(names) < 10 {
		t.Fatalf("only %d files", len(names))
	}
	for _, name := range names {
		t.Run(filepath.Base(name), func(t *testing.T) {
			rel, _ := filepath.Rel("testdata", name)
			m, err := tiff.Decode(bytes.NewReader(file(t, rel)))
			if err != nil {
				t.Fatal(err)
			}
			wantPixels(t, open(t, rel), m)
		})
	}
}

func TestTIFFAgainstPNG(t *testing.T) {
	names, _ := filepath.Glob("testdata/tiff/*.tif")
	if len(names) < 15 {
		t.Fatalf("only %d files", len(names))
	}
	for _, name := range names {
		base := filepath.Base(name)
		t.Run(base, func(t *testing.T) {
			p := open(t, "tiff", base)
			stem, _, _ := strings.Cut(base, "-")
			if stem == "see" {
				stem = "see-through"
			}
			order := 1
			for i, o := range []string{"", "", "TopRight", "BottomRight", "BottomLeft", "LeftTop", "RightTop", "RightBottom", "LeftBottom"} {
				if o != "" && strings.Contains(base, o) {
					stem, order = "photo8", i
				}
			}
			q := open(t, "tiff", stem+".png")
			q.orient(order)
			if p.Width != q.Width || p.Height != q.Height {
				t.Fatalf("size %d × %d, want %d × %d", p.Width, p.Height, q.Width, q.Height)
			}
			// Multiplying by the opacity and rounding lose up to half a
			// step of the opacity.
			lossy := strings.Contains(base, "multiplied")
			for y := range p.Height {
				for x := range p.Width {
					a, b := pixel64(p, x, y), pixel64(q, x, y)
					if a.A != b.A {
						t.Fatalf("opacity at %d, %d is %d, want %d", x, y, a.A, b.A)
					}
					tolerance := 0
					if lossy && b.A > 0 {
						tolerance = 65535 * 257 / 2 / int(b.A)
					}
					if b.A > 0 && (apart(a.R, b.R) > tolerance+257/2*btoi(lossy) || apart(a.G, b.G) > tolerance+257/2*btoi(lossy) || apart(a.B, b.B) > tolerance+257/2*btoi(lossy)) {
						t.Fatalf("pixel %d, %d is %v, want %v", x, y, a, b)
					}
				}
			}
		})
	}
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

func apart(a, b uint16) int { return max(int(a)-int(b), int(b)-int(a)) }

func TestBMPAgainstLibrary(t *testing.T) {
	for _, name := range []string{"bmp_1bpp.bmp", "bmp_4bpp.bmp", "bmp_8bpp.bmp", "colormap-0.bmp", "colormap-251.bmp", "bit24.bmp", "bit4.bmp", "bit8.bmp"} {
		t.Run(name, func(t *testing.T) {
			m, err := bmp.Decode(bytes.NewReader(file(t, "bmp", name)))
			if err != nil {
				t.Fatal(err)
			}
			wantPixels(t, open(t, "bmp", name), m)
		})
	}
}

// The run-length files hold what the plain ones hold, and the 16-bit files what
// the 24-bit one holds to within the steps of their depth.
func TestBMPKinds(t *testing.T) {
	for _, c := range []struct {
		name, like string
		step       int
	}{
		{"bit4_RLE.bmp", "bit4.bmp", 0},
		{"bit8_RLE.bmp", "bit8.bmp", 0},
		{"bit32_alpha.bmp", "bit24.bmp", 0},
		{"bit16_565.bmp", "bit24.bmp", 8},
		{"bit16_x555.bmp", "bit24.bmp", 8},
		{"bit16_a444.bmp", "bit24.bmp", 16},
	} {
		p, q := open(t, "bmp", c.name), open(t, "bmp", c.like)
		if p.Alpha != nil {
			t.Errorf("%s has transparency", c.name)
		}
		for i, v := range p.Pix {
			if d := int(v) - int(q.Pix[i]); d > c.step || d < -c.step {
				t.Errorf("%s: value %d is %d, in %s %d", c.name, i, v, c.like, q.Pix[i])
				break
			}
		}
	}
}

// Pixels as ImageMagick 6.9.11 reads them (with libjpeg-turbo 2.1 and libwebp
// 1.2.4), opaque ones. Decoders of JPEG may differ by rounding.
func TestPixelsAgainstOtherDecoders(t *testing.T) {
	for _, c := range []struct {
		path      string
		w, h      int
		x, y      int
		rgb       [3]int
		tolerance int
	}{
		{"png/display_p3.png", 200, 248, 40, 62, [3]int{254, 130, 0}, 0},
		{"png/display_p3.png", 200, 248, 160, 82, [3]int{253, 253, 2}, 0},
		{"png/display_p3.png", 200, 248, 100, 212, [3]int{186, 184, 211}, 0},
		{"png/rgb16.png", 200, 248, 40, 62, [3]int{254, 131, 0}, 1},
		{"png/rgb16.png", 200, 248, 160, 82, [3]int{253, 253, 24}, 1},
		{"png/rgb16.png", 200, 248, 100, 212, [3]int{187, 184, 215}, 1},
		{"png/palette6.png", 480, 575, 96, 143, [3]int{51, 198, 228}, 0},
		{"png/palette6.png", 480, 575, 384, 191, [3]int{51, 198, 228}, 0},
		{"png/palette6.png", 480, 575, 240, 492, [3]int{254, 254, 254}, 0},
		{"jpeg/cmyk_no_icc.jpg", 160, 105, 32, 26, [3]int{219, 220, 120}, 4},
		{"jpeg/cmyk_no_icc.jpg", 160, 105, 128, 35, [3]int{253, 176, 38}, 4},
		{"jpeg/cmyk_no_icc.jpg", 160, 105, 80, 90, [3]int{255, 209, 10}, 4},
		{"jpeg/video-001.cmyk.jpeg", 150, 103, 30, 25, [3]int{239, 116, 85}, 2},
		{"jpeg/video-001.cmyk.jpeg", 150, 103, 120, 34, [3]int{231, 110, 68}, 2},
		{"jpeg/video-001.cmyk.jpeg", 150, 103, 75, 88, [3]int{251, 234, 248}, 2},
		{"webp/gopher-doc.8bpp.lossless.webp", 75, 100, 15, 25, [3]int{96, 96, 96}, 0},
		{"webp/gopher-doc.8bpp.lossless.webp", 75, 100, 60, 33, [3]int{245, 245, 245}, 0},
		{"webp/gopher-doc.8bpp.lossless.webp", 75, 100, 37, 85, [3]int{255, 255, 255}, 0},
		{"tiff/blue-purple-pink.lzwcompressed.tiff", 150, 100, 30, 25, [3]int{11, 12, 12}, 0},
		{"tiff/blue-purple-pink.lzwcompressed.tiff", 150, 100, 120, 33, [3]int{233, 192, 205}, 0},
		{"tiff/blue-purple-pink.lzwcompressed.tiff", 150, 100, 75, 85, [3]int{15, 15, 15}, 0},
	} {
		p := open(t, c.path)
		if p.Width != c.w || p.Height != c.h {
			t.Errorf("%s: size %d × %d, want %d × %d", c.path, p.Width, p.Height, c.w, c.h)
			continue
		}
		r, g, b := p.At(c.x, c.y)
		for i, v := range [3]float64{r, g, b} {
			if d := v*255 - float64(c.rgb[i]); d > float64(c.tolerance)+.5 || -d > float64(c.tolerance)+.5 {
				t.Errorf("%s: pixel %d, %d is %.0f %.0f %.0f, want %v", c.path, c.x, c.y, r*255, g*255, b*255, c.rgb)
				break
			}
		}
	}
}

// The lossy picture as the reference decoder of its format (libwebp 1.2.4)
// gives it: SHA-256 of R, G, B, A, with transparent pixels black.
func TestWebPExactly(t *testing.T) {
	p := open(t, "webp", "yellow_rose.lossy-with-alpha.webp")
	h := sha256.New()
	for i, a := range p.Alpha {
		c := p.Pix[3*i : 3*i+3]
		if a == 0 {
			c = []byte{0, 0, 0}
		}
		h.Write(append(append([]byte{}, c...), a))
	}
	if got := fmt.Sprintf("%x", h.Sum(nil)); got != "1b7efb3969dd96d89f4086338d919b447f6b3cb25f43c7300159455ab24fa51c" {
		t.Errorf("pixels have the sum %s", got)
	}
}

func TestGIF(t *testing.T) {
	for frames, animated := range map[int]bool{1: false, 3: true} {
		p := readBytes(t, "a.gif", makeGIF(t, frames))
		if p.Width != 6 || p.Height != 5 || p.has("animation") != animated {
			t.Errorf("%d frames: size %d × %d, findings %v", frames, p.Width, p.Height, p.Findings)
		}
		for y := range 5 {
			for x := range 6 {
				inside := x >= 1 && x < 4 && y >= 2 && y < 4
				if p.Bare(x, y) == inside {
					t.Errorf("pixel %d, %d: bare %v", x, y, !inside)
				}
				if r, _, _ := p.At(x, y); inside && r != 200.0/255 {
					t.Errorf("pixel %d, %d: red %v", x, y, r)
				}
			}
		}
	}
}

// The files show one drawing, stored in four positions.
func TestOrientationOfJPEG(t *testing.T) {
	upright := open(t, "jpeg", "orientation_1.jpg")
	for _, o := range []int{3, 6, 8} {
		p := open(t, "jpeg", fmt.Sprintf("orientation_%d.jpg", o))
		if p.Width != upright.Width || p.Height != upright.Height {
			t.Fatalf("orientation %d: size %d × %d", o, p.Width, p.Height)
		}
		if d := meanDifference(p.Pix, upright.Pix); d > 3 {
			t.Errorf("orientation %d: the mean difference is %.1f of 255", o, d)
		}
		p.orient(3)
		if d := meanDifference(p.Pix, upright.Pix); d < 10 {
			t.Errorf("orientation %d: turned around it still looks the same", o)
		}
	}
}

func meanDifference(a, b []uint8) float64 {
	sum := 0
	for i, v := range a {
		sum += max(int(v)-int(b[i]), int(b[i])-int(v))
	}
	return float64(sum) / float64(len(a))
}

// Process colors without the marker that says they are inverted are not
// inverted: the pixels are the complement, ink for ink.
func TestProcessColorsWithoutMarker(t *testing.T) {
	b := file(t, "jpeg", "cmyk_no_icc.jpg")
	at := bytes.Index(b, []byte("\xff\xee\x00\x0eAdobe"))
	if at < 0 {
		t.Fatal("the file has no such marker")
	}
	if b[at+15] != 0 {
		b[at+15] = 0 // plain channels
	}
	marked := readBytes(t, "a.jpg", b)
	bare := readBytes(t, "a.jpg", append(b[:at:at], b[at+16:]...))
	if !marked.has("process-colors") || !bare.has("process-colors") {
		t.Error("no finding on process colors")
	}
	// Where the marked file has (1−c)(1−k), the other has c·k, so a pixel
	// cannot be lighter than half in both by much: √x + √y ≤ 1.
	for i, v := range marked.Pix {
		x, y := float64(v)/255, float64(bare.Pix[i])/255
		if math.Sqrt(x)+math.Sqrt(y) > 1.02 {
			t.Fatalf("value %d is %v with the marker and %v without", i, v, bare.Pix[i])
		}
	}
	if bytes.Equal(marked.Pix, bare.Pix) {
		t.Error("the marker makes no difference")
	}
}
