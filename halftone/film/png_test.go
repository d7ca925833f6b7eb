package film

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"io"
	"math/rand/v2"
	"testing"

	"platewright/halftone"

	"pgregory.net/rapid"
)

// ramp is a plate of every kind of row: a ramp, noise and a flat.
func ramp(w, h int) *halftone.Plate {
	p := &halftone.Plate{Width: w, Height: h, Cov: make([]uint16, w*h)}
	seed := uint32(1)
	for i := range p.Cov {
		x, y := i%w, i/w
		seed = seed*1664525 + 1013904223
		switch y % 3 {
		case 0:
			p.Cov[i] = uint16(x * 65535 / max(1, w-1))
		case 1:
			p.Cov[i] = uint16(seed >> 16)
		default:
			p.Cov[i] = uint16(y * 977)
		}
	}
	return p
}

// chunks reads a PNG's chunks by itself, in order, and checks their sums.
func chunks(t *testing.T, b []byte) (order []string, data map[string][]byte) {
	t.Helper()
	if string(b[:8]) != "\x89PNG\r\n\x1a\n" {
		t.Fatalf("PNG begins % x", b[:8])
	}
	data = map[string][]byte{}
	for b = b[8:]; len(b) > 0; {
		n := int(binary.BigEndian.Uint32(b))
		kind := string(b[4:8])
		if sum := binary.BigEndian.Uint32(b[8+n:]); sum != crc32.ChecksumIEEE(b[4:8+n]) {
			t.Errorf("chunk %s: sum %08x", kind, sum)
		}
		if len(order) == 0 || order[len(order)-1] != kind {
			order = append(order, kind)
		}
		data[kind] = append(data[kind], b[8:8+n]...)
		b = b[12+n:]
	}
	return order, data
}

// TestPNGResolution holds pixels a metre: dpi/0.0254 rounded (PNG, 11.3.4.3).
func TestPNGResolution(t *testing.T) {
	for _, c := range []struct {
		dpi  float64
		want uint32
	}{{300, 11811}, {600, 23622}, {1200, 47244}, {720, 28346}, {25.4, 1000}} {
		var b bytes.Buffer
		if err := WritePNG(&b, dots{30, 20, 0, 30}, Info{DPI: c.dpi}); err != nil {
			t.Fatal(err)
		}
		_, data := chunks(t, b.Bytes())
		p := data["pHYs"]
		if len(p) != 9 || binary.BigEndian.Uint32(p) != c.want || binary.BigEndian.Uint32(p[4:]) != c.want || p[8] != 1 {
			t.Errorf("%v dpi: pHYs % x, want %d", c.dpi, p, c.want)
		}
	}
}

func TestPNGFilmReadsBack(t *testing.T) {
	page := mustPage(t, mustLayout(t, Sheet{WidthMM: 200, HeightMM: 260, DPI: 300}), kelp, 0)
	file := onCores(t, func() []byte {
		var b bytes.Buffer
		if err := WritePNG(&b, page, filed); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	})
	order, data := chunks(t, file)
	if order[0] != "IHDR" || order[len(order)-2] != "IDAT" || order[len(order)-1] != "IEND" {
		t.Errorf("chunks stand as %v", order)
	}
	if h := data["IHDR"]; h[8] != 1 || h[9] != 0 {
		t.Errorf("bit depth %d, color type %d", h[8], h[9])
	}
	if want := "\x07\xef\x03\x09\x0e\x1e\x00"; string(data["tIME"]) != want {
		t.Errorf("tIME is %q", data["tIME"])
	}
	if !bytes.Contains(data["iTXt"], []byte(filed.Title)) || !bytes.Contains(data["iTXt"], []byte(filed.Description)) {
		t.Errorf("text is %q", data["iTXt"])
	}
	im, err := png.Decode(bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	if err := grayIs(im, all(page)); err != nil {
		t.Error(err)
	}
}

// TestPlateReadsBack holds 0 = full ink and the rounding to eight bits, in files of
// one chunk and of many.
func TestPlateReadsBack(t *testing.T) {
	for _, size := range [][2]int{{1, 1}, {257, 40}, {1000, 700}} {
		p := ramp(size[0], size[1])
		for _, depth := range []int{8, 16} {
			file := onCores(t, func() []byte {
				var b bytes.Buffer
				if err := WritePlate(&b, p, depth, Info{DPI: 300}); err != nil {
					t.Fatal(err)
				}
				return b.Bytes()
			})
			im, err := png.Decode(bytes.NewReader(file))
			if err != nil {
				t.Fatal(err)
			}
			for i, c := range p.Cov {
				x, y := i%p.Width, i/p.Width
				if depth == 16 {
					if got := im.(*image.Gray16).Gray16At(x, y).Y; got != 65535-c {
						t.Fatalf("coverage %d is %d of 65535", c, got)
					}
				} else if got, want := im.(*image.Gray).GrayAt(x, y).Y, 255-uint8(float64(c)/257+.5); got != want {
					t.Fatalf("coverage %d is %d of 255, want %d", c, got, want)
				}
			}
		}
	}
}

func TestProofReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 40).Draw(t, "w"), rapid.IntRange(1, 20).Draw(t, "h")
		pix := make([]uint8, 3*w*h)
		pix16 := make([]uint16, 3*w*h)
		step := rapid.IntRange(0, 60000).Draw(t, "step")
		noise := rapid.IntRange(1, 5000).Draw(t, "noise")
		for i := range pix16 {
			pix16[i] = uint16(step*i/7 + i*i*i%noise)
			pix[i] = uint8(pix16[i] >> 7)
		}
		var a, b bytes.Buffer
		if err := WriteProof(&a, w, h, pix, nil, Info{DPI: 300}); err != nil {
			t.Fatal(err)
		}
		if err := WriteProof(&b, w, h, nil, pix16, Info{DPI: 300}); err != nil {
			t.Fatal(err)
		}
		im, err := png.Decode(&a)
		if err != nil {
			t.Fatal(err)
		}
		im16, err := png.Decode(&b)
		if err != nil {
			t.Fatal(err)
		}
		for i := range w * h {
			x, y := i%w, i/w
			if got, want := im.At(x, y), (color.RGBA{pix[3*i], pix[3*i+1], pix[3*i+2], 255}); got != want {
				t.Fatalf("pixel %d: %v, want %v", i, got, want)
			}
			if got, want := im16.At(x, y), (color.RGBA64{pix16[3*i], pix16[3*i+1], pix16[3*i+2], 65535}); got != want {
				t.Fatalf("pixel %d: %v, want %v", i, got, want)
			}
		}
	})
	var b bytes.Buffer
	if err := WriteProof(&b, 2, 1, make([]uint8, 6), nil, Info{DPI: 300}); err != nil {
		t.Fatal(err)
	}
	order, data := chunks(t, b.Bytes())
	if order[1] != "sRGB" || len(data["sRGB"]) != 1 {
		t.Errorf("chunks stand as %v", order)
	}
}

// TestPNGRefuses holds that nothing asked for is silently left out.
func TestPNGRefuses(t *testing.T) {
	info := Info{DPI: 300}
	packed := Info{DPI: 300, Compression: Group4}
	for name, err := range map[string]error{
		"group 4":           WritePNG(io.Discard, dots{8, 8, 0, 30}, packed),
		"group 4 plate":     WritePlate(io.Discard, ramp(4, 4), 8, packed),
		"group 4 proof":     WriteProof(io.Discard, 1, 1, make([]uint8, 3), nil, packed),
		"plate of 12 bits":  WritePlate(io.Discard, ramp(4, 4), 12, info),
		"too few numbers":   WriteProof(io.Discard, 2, 2, make([]uint8, 3), nil, info),
		"both depths":       WriteProof(io.Discard, 1, 1, make([]uint8, 3), make([]uint16, 3), info),
		"an empty plate":    WritePlate(io.Discard, &halftone.Plate{}, 8, info),
		"an empty proof":    WriteProof(io.Discard, 0, 0, nil, nil, info),
		"an infinite film":  WritePNG(io.Discard, dots{1 << 31, 1, 0, 30}, info),
		"a negative height": WritePNG(io.Discard, dots{8, -1, 0, 30}, info),
	} {
		if err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// Each filter is the one of its number in PNG, 9.2: what a reader adds back gives
// the row.
func TestFilters(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, back := range []int{1, 2, 3, 6} {
		for _, n := range []int{back, 5 * back, 600} {
			row, above, out := make([]byte, n), make([]byte, n), make([]byte, n)
			for i := range row {
				row[i], above[i] = byte(rng.Uint32()), byte(rng.Uint32())
			}
			for f := range 5 {
				filter(f, out, row, above, back)
				for i := range out {
					var left, corner byte
					if i >= back {
						left, corner = row[i-back], above[i-back]
					}
					add := [5]byte{0, left, above[i], byte((int(left) + int(above[i])) / 2), nearest(left, above[i], corner)}[f]
					if out[i]+add != row[i] {
						t.Fatalf("filter %d, %d bytes a pixel, byte %d of %d: %d and %d are not %d", f, back, i, n, out[i], add, row[i])
					}
				}
			}
			flat := make([]byte, n)
			for i := range flat {
				flat[i] = 9
			}
			if f := bestFilter(flat, flat, back); n > back && f != 1 {
				t.Errorf("an even row of %d bytes after its like goes through filter %d, not the first that leaves nothing", n, f)
			}
		}
	}
}
