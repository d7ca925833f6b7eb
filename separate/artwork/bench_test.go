package artwork

import (
	"bytes"
	"image"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"testing"

	"platewright/composite/spectrum"
)

// drawing is a picture of shapes with some grain, 8 megapixels.
func drawing() *image.NRGBA {
	const w, h = 3508, 2480
	m := image.NewNRGBA(image.Rect(0, 0, w, h))
	r := rand.New(rand.NewPCG(1, 2))
	for y := range h {
		for x := range w {
			v := uint8(x/300*40 ^ y/200*30)
			if y%400 < 100 {
				v += uint8(r.IntN(8))
			}
			copy(m.Pix[m.PixOffset(x, y):], []uint8{v, v + 60, 255 - v, 255})
		}
	}
	return m
}

func benchmarkRead(b *testing.B, name string, data []byte) {
	b.SetBytes(3508 * 2480 * 3)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Read(bytes.NewReader(data), name, Limits{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkReadPNG(b *testing.B) {
	var buf bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.DefaultCompression}).Encode(&buf, drawing()); err != nil {
		b.Fatal(err)
	}
	benchmarkRead(b, "a.png", buf.Bytes())
}

func BenchmarkReadJPEG(b *testing.B) {
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, drawing(), nil); err != nil {
		b.Fatal(err)
	}
	benchmarkRead(b, "a.jpg", buf.Bytes())
}

func BenchmarkFlatten(b *testing.B) {
	m := drawing()
	p := &Picture{Width: m.Rect.Dx(), Height: m.Rect.Dy()}
	p.take(m)
	for i := range p.Alpha {
		p.Alpha[i] = uint8(i)
	}
	pix, alpha := bytes.Clone(p.Pix), bytes.Clone(p.Alpha)
	b.SetBytes(int64(len(pix)))
	for b.Loop() {
		copy(p.Pix, pix)
		p.Alpha = alpha
		alpha = bytes.Clone(alpha)
		p.Flatten(spectrum.White())
	}
}

func BenchmarkPreview(b *testing.B) {
	m := drawing()
	p := &Picture{Width: m.Rect.Dx(), Height: m.Rect.Dy()}
	p.take(m)
	p.Alpha = nil
	b.SetBytes(int64(len(p.Pix)))
	for b.Loop() {
		p.Preview(900)
	}
}

func BenchmarkDistinct(b *testing.B) {
	m := drawing()
	p := &Picture{Width: m.Rect.Dx(), Height: m.Rect.Dy()}
	p.take(m)
	b.SetBytes(int64(len(p.Pix)))
	for b.Loop() {
		p.Distinct(1 << 16)
	}
}
