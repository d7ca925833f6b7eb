package artwork

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/gif"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/klauspost/compress/zlib"
)

// open reads a picture of testdata or fails the test.
func open(t testing.TB, path ...string) *Picture {
	t.Helper()
	p, err := Open(filepath.Join(append([]string{"testdata"}, path...)...), Limits{})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func readBytes(t testing.TB, name string, b []byte) *Picture {
	t.Helper()
	p, err := Read(bytes.NewReader(b), name, Limits{})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func file(t testing.TB, path ...string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(append([]string{"testdata"}, path...)...))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func (p *Picture) has(code string) bool {
	for _, f := range p.Findings {
		if f.Code == code {
			return true
		}
	}
	return false
}

// chunk is a PNG chunk.
func chunk(name string, body []byte) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(len(body)))
	b = append(b, name...)
	b = append(b, body...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:]))
}

func deflated(b []byte) []byte {
	var buf bytes.Buffer
	z := zlib.NewWriter(&buf)
	z.Write(b)
	z.Close()
	return buf.Bytes()
}

// makePNG is an 8-bit RGB PNG of the given header size with these chunks
// before its pixels; rows are those of a picture of rows × width mid gray.
func makePNG(width, height, rows int, chunks ...[]byte) []byte {
	b := []byte("\x89PNG\r\n\x1a\n")
	head := binary.BigEndian.AppendUint32(nil, uint32(width))
	head = binary.BigEndian.AppendUint32(head, uint32(height))
	b = append(b, chunk("IHDR", append(head, 8, pngRGB, 0, 0, 0))...)
	for _, c := range chunks {
		b = append(b, c...)
	}
	row := append([]byte{0}, bytes.Repeat([]byte{128}, 3*width)...)
	b = append(b, chunk("IDAT", deflated(bytes.Repeat(row, rows)))...)
	return append(b, chunk("IEND", nil)...)
}

func be32(v ...uint32) (b []byte) {
	for _, x := range v {
		b = binary.BigEndian.AppendUint32(b, x)
	}
	return b
}

// exifBlock holds an orientation and a resolution, in TIFF form.
func exifBlock(orientation uint16, x, y uint32) []byte {
	le := binary.LittleEndian
	b := []byte("II*\x00\x08\x00\x00\x00\x04\x00")
	entry := func(tag, kind uint16, value uint32) {
		b = le.AppendUint16(b, tag)
		b = le.AppendUint16(b, kind)
		b = le.AppendUint32(b, 1)
		b = le.AppendUint32(b, value)
	}
	const end = 8 + 2 + 4*12 + 4
	entry(tagOrientation, tiffShort, uint32(orientation))
	entry(tagXResolution, tiffRational, end)
	entry(tagYResolution, tiffRational, end+8)
	entry(tagResolutionIn, tiffShort, 2)
	b = le.AppendUint32(b, 0)
	for _, v := range []uint32{x, 1, y, 1} {
		b = le.AppendUint32(b, v)
	}
	return b
}

// makeJPEG is a small gradient with these segments (marker byte, body) after
// its first marker.
func makeJPEG(t testing.TB, segments ...[]byte) []byte {
	t.Helper()
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, gradient(24, 16), &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	b := append([]byte{}, buf.Bytes()[:2]...)
	for _, s := range segments {
		b = append(b, 0xff, s[0])
		b = binary.BigEndian.AppendUint16(b, uint16(len(s)+1))
		b = append(b, s[1:]...)
	}
	return append(b, buf.Bytes()[2:]...)
}

func gradient(w, h int) *image.NRGBA {
	m := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			m.SetNRGBA(x, y, color.NRGBA{uint8(x * 255 / w), uint8(y * 255 / h), uint8((x + y) * 255 / (w + h)), 255})
		}
	}
	return m
}

func makeGIF(t testing.TB, frames int) []byte {
	t.Helper()
	pal := color.Palette{color.NRGBA{}, color.NRGBA{200, 30, 40, 255}, color.NRGBA{20, 130, 40, 255}}
	g := &gif.GIF{Config: image.Config{Width: 6, Height: 5, ColorModel: pal}}
	for i := range frames {
		m := image.NewPaletted(image.Rect(1, 2, 4, 4), pal)
		for k := range m.Pix {
			m.Pix[k] = uint8(1 + i%2)
		}
		g.Image = append(g.Image, m)
		g.Delay = append(g.Delay, 10)
	}
	var buf bytes.Buffer
	if err := gif.EncodeAll(&buf, g); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func encodePNG(t testing.TB, m image.Image) []byte {
	t.Helper()
	var buf bytes.Buffer
	if err := png.Encode(&buf, m); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

// makeProfile is an ICC profile of a device space and connection space with
// these tags.
func makeProfile(device, connection string, tags map[string][]byte) []byte {
	head := make([]byte, 128)
	copy(head[8:], "\x04\x20\x00\x00mntr")
	copy(head[16:], device)
	copy(head[20:], connection)
	copy(head[36:], "acsp")
	table := be32(uint32(len(tags)))
	var body []byte
	at := 128 + 4 + 12*len(tags)
	for name, tag := range tags {
		table = append(table, name...)
		table = append(table, be32(uint32(at+len(body)), uint32(len(tag)))...)
		body = append(body, tag...)
	}
	b := append(append(head, table...), body...)
	binary.BigEndian.PutUint32(b, uint32(len(b)))
	return b
}

func fixed(v ...float64) (b []byte) {
	for _, x := range v {
		b = binary.BigEndian.AppendUint32(b, uint32(int32(x*65536+.5)))
	}
	return b
}

func xyzTag(v ...float64) []byte { return append([]byte("XYZ \x00\x00\x00\x00"), fixed(v...)...) }

func paraTag(kind byte, v ...float64) []byte {
	return append([]byte{'p', 'a', 'r', 'a', 0, 0, 0, 0, 0, kind, 0, 0}, fixed(v...)...)
}

func curvTag(v ...uint16) []byte {
	b := append([]byte("curv\x00\x00\x00\x00"), be32(uint32(len(v)))...)
	for _, x := range v {
		b = binary.BigEndian.AppendUint16(b, x)
	}
	return b
}

func descTag(s string) []byte {
	return append(append([]byte("desc\x00\x00\x00\x00"), be32(uint32(len(s)+1))...), s+"\x00"...)
}

// wideTags are the tags of a profile on the primaries of Display P3 (their D50
// values to 5 places [calc] from SMPTE EG 432-1 by Bradford) with tone curve c.
func wideTags(c []byte) map[string][]byte {
	return map[string][]byte{
		"desc": descTag("wide test space"),
		"rXYZ": xyzTag(.51512, .24120, -.00105),
		"gXYZ": xyzTag(.29198, .69225, .04189),
		"bXYZ": xyzTag(.15710, .06657, .78407),
		"rTRC": c, "gTRC": c, "bTRC": c,
	}
}
