package artwork

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image/png"
	"math"
	"strings"
	"testing"
)

func pHYs(x, y uint32, unit byte) []byte { return chunk("pHYs", append(be32(x, y), unit)) }

func jfif(unit byte, x, y uint16) []byte {
	b := append([]byte{0xe0}, "JFIF\x00\x01\x02"...)
	b = append(b, unit)
	b = binary.BigEndian.AppendUint16(b, x)
	b = binary.BigEndian.AppendUint16(b, y)
	return append(b, 0, 0)
}

func TestResolution(t *testing.T) {
	exif := func(o uint16, x, y uint32) []byte {
		return append(append([]byte{0xe1}, "Exif\x00\x00"...), exifBlock(o, x, y)...)
	}
	for _, c := range []struct {
		what    string
		file    []byte
		ppi     float64
		finding string
	}{
		{"none", makePNG(8, 4, 4), 0, ""},
		{"300", makePNG(8, 4, 4, pHYs(11811, 11811, 1)), 300, ""}, // PNG: 300 dpi = 11811 per meter
		{"600", makePNG(8, 4, 4, pHYs(23622, 23622, 1)), 600, ""},
		{"72", makePNG(8, 4, 4, pHYs(2835, 2835, 1)), 0, ""},
		{"96", makePNG(8, 4, 4, pHYs(3780, 3780, 1)), 0, ""},
		{"no unit", makePNG(8, 4, 4, pHYs(11811, 11811, 0)), 0, ""},
		{"not square", makePNG(8, 4, 4, pHYs(11811, 5906, 1)), 300, "pixels-not-square"},
		{"nearly square", makePNG(8, 4, 4, pHYs(11811, 11812, 1)), 300, ""},
		{"impossible", makePNG(8, 4, 4, pHYs(1, 1, 1)), 0, "resolution-odd"},
		{"enormous", makePNG(8, 4, 4, pHYs(1<<32-1, 1<<32-1, 1)), 0, "resolution-odd"},
		{"exif in PNG", makePNG(8, 4, 4, chunk("eXIf", exifBlock(1, 240, 240))), 240, ""},
		{"jfif 300", makeJPEG(t, jfif(1, 300, 300)), 300, ""},
		{"jfif per cm", makeJPEG(t, jfif(2, 118, 118)), 299.72, ""},
		{"jfif 72", makeJPEG(t, jfif(1, 72, 72)), 0, ""},
		{"jfif 72 per cm, whole", makeJPEG(t, jfif(2, 28, 28)), 0, ""},
		{"jfif 96 per cm, whole", makeJPEG(t, jfif(2, 38, 38)), 0, ""},
		{"jfif ratio only", makeJPEG(t, jfif(0, 300, 300)), 0, ""},
		{"exif 300", makeJPEG(t, exif(1, 300, 300)), 300, ""},
		{"jfif 72, exif 300", makeJPEG(t, jfif(1, 72, 72), exif(1, 300, 300)), 300, ""},
		{"exif 300, jfif 72", makeJPEG(t, exif(1, 300, 300), jfif(1, 72, 72)), 300, ""},
		{"turned, not square", makeJPEG(t, exif(6, 300, 150)), 150, "pixels-not-square"},
	} {
		p := readBytes(t, "a", c.file)
		if math.Abs(p.PPI-c.ppi) > .01 {
			t.Errorf("%s: %v ppi, want %v", c.what, p.PPI, c.ppi)
		}
		if c.finding != "" && !p.has(c.finding) || c.finding == "" && len(p.Findings) > 0 {
			t.Errorf("%s: findings %v, want %q", c.what, p.Findings, c.finding)
		}
	}
}

// A picture with an orientation tag holds the same pixels as one turned by it.
func TestOrientation(t *testing.T) {
	m := gradient(7, 5)
	plain := encodePNG(t, m)
	for o := 0; o <= 9; o++ {
		b := append([]byte{}, plain[:33]...)
		b = append(b, chunk("eXIf", exifBlock(uint16(o), 1, 1))...)
		p := readBytes(t, "a.png", append(b, plain[33:]...))
		w, h := 7, 5
		if o >= 5 && o <= 8 {
			w, h = h, w
		}
		if p.Width != w || p.Height != h {
			t.Errorf("orientation %d: size %d × %d", o, p.Width, p.Height)
			continue
		}
		for y := range h {
			for x := range w {
				// Where the tag says row 0 and column 0 lie (TIFF 6.0, p. 36).
				sx, sy := x, y
				switch o {
				case 2:
					sx = 6 - x
				case 3:
					sx, sy = 6-x, 4-y
				case 4:
					sy = 4 - y
				case 5:
					sx, sy = y, x
				case 6:
					sx, sy = y, 4-x
				case 7:
					sx, sy = 6-y, 4-x
				case 8:
					sx, sy = 6-y, x
				}
				c := m.NRGBAAt(sx, sy)
				i := 3 * (y*w + x)
				if p.Pix[i] != c.R || p.Pix[i+1] != c.G || p.Pix[i+2] != c.B {
					t.Fatalf("orientation %d: pixel %d, %d is %v, want %v", o, x, y, p.Pix[i:i+3], c)
				}
			}
		}
	}
}

func TestFileEnding(t *testing.T) {
	b := makePNG(2, 2, 2)
	for name, want := range map[string]bool{"a.png": false, "A.PNG": false, "a": false, "a.jpg": true, "a.tif": true, "a.b.png": false} {
		if got := readBytes(t, name, b).has("file-ending"); got != want {
			t.Errorf("%s: finding %v, want %v", name, got, want)
		}
	}
}

func TestAllTransparent(t *testing.T) {
	p := open(t, "bad", "png_all_transparent.png")
	if !p.has(AllTransparent) || !p.Bare(3, 3) {
		t.Errorf("findings %v", p.Findings)
	}
	if q := open(t, "tiff", "see-through.png"); q.has(AllTransparent) || q.Alpha == nil {
		t.Error("a half-transparent picture is taken for an empty one, or for an opaque one")
	}
}

func TestOpaqueAlphaIsDropped(t *testing.T) {
	m := gradient(40, 3)
	m.SetNRGBA(0, 0, m.NRGBAAt(0, 0)) // all opaque
	if p := readBytes(t, "a.png", encodePNG(t, m)); p.Alpha != nil {
		t.Error("an opaque picture has an alpha channel")
	}
	c := m.NRGBAAt(39, 2)
	c.A = 254
	m.SetNRGBA(39, 2, c)
	if p := readBytes(t, "a.png", encodePNG(t, m)); p.Alpha == nil || p.Alpha[119] != 254 {
		t.Error("a nearly opaque pixel became opaque")
	}
}

func TestSeveralPages(t *testing.T) {
	b := file(t, "tiff", "photo8-lzw.tif")
	first := binary.LittleEndian.Uint32(b[4:])
	n := uint32(binary.LittleEndian.Uint16(b[first:]))
	binary.LittleEndian.PutUint32(b[first+2+12*n:], first)
	if p := readBytes(t, "a.tif", b); p.has("several-pages") {
		t.Error("a loop of pages counts as several")
	}
	// A second directory, the same as the first, behind the file.
	second := append([]byte{}, b[first:first+2+12*n]...)
	binary.LittleEndian.PutUint32(b[first+2+12*n:], uint32(len(b)))
	b = append(b, append(second, 0, 0, 0, 0)...)
	if p := readBytes(t, "a.tif", b); !p.has("several-pages") {
		t.Error("no finding on a second page")
	}
}

func TestPNGColorChunks(t *testing.T) {
	gama := func(v uint32) []byte { return chunk("gAMA", be32(v)) }
	srgbXY := be32(31270, 32900, 64000, 33000, 30000, 60000, 15000, 6000)
	p3XY := be32(31270, 32900, 68000, 32000, 26500, 69000, 15000, 6000)
	iccp := func(profile []byte) []byte {
		return chunk("iCCP", append([]byte("name\x00\x00"), deflated(profile)...))
	}
	wide := iccp(makeProfile("RGB ", "XYZ ", wideTags(paraTag(0, 1.8))))
	for _, c := range []struct {
		what   string
		chunks [][]byte
		srgb   bool
		y      float64 // Y of the encoded gray 128/255 [calc]
		code   string
	}{
		{"nothing", nil, true, 21.586, ""},
		{"sRGB", [][]byte{chunk("sRGB", []byte{0})}, true, 21.586, ""},
		{"gamma of sRGB", [][]byte{gama(45455)}, true, 21.586, ""},
		{"gamma and primaries of sRGB", [][]byte{gama(45455), chunk("cHRM", srgbXY)}, true, 21.586, ""},
		{"linear", [][]byte{gama(100000)}, false, 50.196, ""}, // 128/255
		{"gamma 1.8", [][]byte{gama(55556)}, false, 28.920, ""},
		{"wide primaries", [][]byte{gama(45455), chunk("cHRM", p3XY)}, false, 21.586, ""},
		{"sRGB wins over gamma", [][]byte{chunk("sRGB", []byte{0}), gama(100000)}, true, 21.586, ""},
		{"gamma zero", [][]byte{gama(0)}, true, 21.586, "gamma-unused"},
		{"no primaries", [][]byte{chunk("cHRM", make([]byte, 32))}, true, 21.586, "chromaticities-unused"},
		{"profile", [][]byte{wide, gama(100000)}, false, 28.920, ""},
		{"profile broken", [][]byte{chunk("iCCP", []byte("x\x00\x00garbage"))}, true, 21.586, "profile-unused"},
		{"video code P3", [][]byte{chunk("cICP", []byte{12, 13, 0, 1})}, false, 21.586, ""},
		{"video code wins over profile", [][]byte{chunk("cICP", []byte{1, 13, 0, 1}), wide}, true, 21.586, ""},
		{"video code of bright light", [][]byte{chunk("cICP", []byte{9, 16, 0, 1})}, true, 21.586, "color-code-unused"},
	} {
		p := readBytes(t, "a.png", makePNG(2, 2, 2, c.chunks...))
		if p.Space.IsSRGB() != c.srgb {
			t.Errorf("%s: sRGB is %v", c.what, p.Space.IsSRGB())
		}
		if y := p.Space.XYZ(p.At(0, 0))[1]; math.Abs(y-c.y) > .01 {
			t.Errorf("%s: Y of mid gray is %.3f, want %.3f", c.what, y, c.y)
		}
		if c.code != "" && !p.has(c.code) || c.code == "" && len(p.Findings) > 0 {
			t.Errorf("%s: findings %v, want %q", c.what, p.Findings, c.code)
		}
	}
}

// A profile in a JPEG may come in pieces, in any order.
func TestJPEGProfilePieces(t *testing.T) {
	tags := wideTags(paraTag(0, 1.8))
	profile := makeProfile("RGB ", "XYZ ", tags)
	piece := func(at, of byte, b []byte) []byte {
		return append(append([]byte{0xe2}, "ICC_PROFILE\x00"...), append([]byte{at, of}, b...)...)
	}
	half := len(profile) / 2
	for _, c := range []struct {
		what     string
		segments [][]byte
		ok       bool
	}{
		{"whole", [][]byte{piece(1, 1, profile)}, true},
		{"two", [][]byte{piece(1, 2, profile[:half]), piece(2, 2, profile[half:])}, true},
		{"two, exchanged", [][]byte{piece(2, 2, profile[half:]), piece(1, 2, profile[:half])}, true},
		{"one missing", [][]byte{piece(2, 2, profile[half:])}, false},
		{"one twice", [][]byte{piece(1, 2, profile[:half]), piece(1, 2, profile[:half])}, false},
		{"number zero", [][]byte{piece(0, 1, profile)}, false},
	} {
		p := readBytes(t, "a.jpg", makeJPEG(t, c.segments...))
		if got := !p.Space.IsSRGB(); got != c.ok || p.has("profile-unused") == c.ok {
			t.Errorf("%s: profile used %v, findings %v", c.what, got, p.Findings)
		}
	}
}

func TestEmbeddedProfiles(t *testing.T) {
	for path, want := range map[string]string{
		"png/display_p3.png":                       "DisplayP3 color profile",
		"jpeg/exif6.jpg":                           "sRGB IEC61966-2.1",
		"webp/gopher-doc.with-alpha.lossless.webp": "GIMP built-in sRGB",
	} {
		p := open(t, path)
		if p.Profile != want || len(p.Findings) > 0 {
			t.Errorf("%s: profile %q, findings %v", path, p.Profile, p.Findings)
		}
		if wide := strings.Contains(path, "p3"); p.Space.IsSRGB() == wide {
			t.Errorf("%s: sRGB is %v", path, !wide)
		}
	}
}

func TestSHA256(t *testing.T) {
	// As sha256sum gives it.
	if got, want := open(t, "tiff", "photo8.png").SHA256, "ab5410e8f76b94b3537a09da8f49f2ec22bf3db13f3a9829924b73a07bfe32d8"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// Many small pieces of compressed data are one stream.
func TestManyPieces(t *testing.T) {
	whole := file(t, "tiff", "photo16.png")
	m, err := png.Decode(bytes.NewReader(whole))
	if err != nil {
		t.Fatal(err)
	}
	at := bytes.Index(whole, []byte("IDAT"))
	n := int(binary.BigEndian.Uint32(whole[at-4:]))
	b := append([]byte{}, whole[:at-4]...)
	for _, c := range whole[at+4 : at+4+n] {
		b = append(b, chunk("IDAT", []byte{c})...)
		b = append(b, chunk("IDAT", nil)...)
	}
	wantPixels(t, readBytes(t, "a.png", append(b, whole[at+8+n:]...)), m)
}

func TestFindingsAreWhole(t *testing.T) {
	for _, path := range []string{"bad/png_all_transparent.png", "bad/png_iccp_garbage.png", "jpeg/cmyk_no_icc.jpg"} {
		for _, f := range open(t, path).Findings {
			if f.Code == "" || f.Message == "" || f.Mend == "" || strings.Contains(fmt.Sprint(f), "\n") {
				t.Errorf("%s: %+v", path, f)
			}
		}
	}
}
