package film

import (
	"io"
	"math"
	"testing"

	"platewright/halftone"
)

// screened is a plate of ramps and texture through a 45 lpi round dot, drawn once, so
// that a benchmark times the writer on real dots.
func screened(b *testing.B, w, h int) Bits {
	b.Helper()
	const pw, ph = 600, 800
	p := &halftone.Plate{Width: pw, Height: ph, Cov: make([]uint16, pw*ph)}
	for i := range p.Cov {
		x, y := float64(i%pw)/pw, float64(i/pw)/ph
		p.Cov[i] = uint16(halftone.Full * (.5 + .3*math.Sin(9*x+4*y*y) + .2*math.Sin(60*x*y)))
	}
	screen, err := halftone.NewScreen(halftone.Spec{Ruling: 45, Angle: 22.5, DPI: 1200})
	if err != nil {
		b.Fatal(err)
	}
	raster, err := halftone.NewRaster(p, w, h, screen, halftone.Options{})
	if err != nil {
		b.Fatal(err)
	}
	return all(raster)
}

// nowhere takes everything.
type nowhere struct{ io.Writer }

func (nowhere) Seek(int64, int) (int64, error) { return 0, nil }

// benchPage is an A4 film at 1200 dpi, about 160 megapixels.
func benchPage(b *testing.B) *Page {
	l := mustLayout(b, Sheet{WidthMM: 210, HeightMM: 297, DPI: 1200})
	w, h := l.Area()
	p, err := l.Page(screened(b, w, h), kelp, dotTint)
	if err != nil {
		b.Fatal(err)
	}
	return p
}

func megapixels(b *testing.B, w, h int) {
	b.ReportMetric(float64(w)*float64(h)/1e6*float64(b.N)/b.Elapsed().Seconds(), "MP/s")
}

func benchFilm(b *testing.B, write func(p *Page) error) {
	p := benchPage(b)
	b.ReportAllocs()
	for b.Loop() {
		if err := write(p); err != nil {
			b.Fatal(err)
		}
	}
	w, h := p.Size()
	megapixels(b, w, h)
}

func BenchmarkPageRows(b *testing.B) {
	buf := make([]byte, 2<<20)
	benchFilm(b, func(p *Page) error {
		w, h := p.Size()
		stride := (w + 7) / 8
		for y := 0; y < h; y += 100 {
			p.Rows(buf, stride, y, min(h, y+100))
		}
		return nil
	})
}

func BenchmarkWriteTIFF(b *testing.B) {
	benchFilm(b, func(p *Page) error { return WriteTIFF(nowhere{io.Discard}, p, Info{}) })
}

func BenchmarkWriteTIFFGroup4(b *testing.B) {
	benchFilm(b, func(p *Page) error { return WriteTIFF(nowhere{io.Discard}, p, Info{Compression: Group4}) })
}

func BenchmarkWritePNG(b *testing.B) {
	benchFilm(b, func(p *Page) error { return WritePNG(io.Discard, p, Info{}) })
}

func BenchmarkWritePDF(b *testing.B) {
	benchFilm(b, func(p *Page) error { return WritePDF(io.Discard, []*Page{p}, Info{}) })
}

func BenchmarkWritePDFGroup4(b *testing.B) {
	benchFilm(b, func(p *Page) error { return WritePDF(io.Discard, []*Page{p}, Info{Compression: Group4}) })
}

func BenchmarkWritePlate(b *testing.B) {
	p := &halftone.Plate{Width: 3000, Height: 2000, Cov: make([]uint16, 3000*2000)}
	for i := range p.Cov {
		p.Cov[i] = uint16(i * i >> 16)
	}
	for b.Loop() {
		if err := WritePlate(io.Discard, p, 8, Info{DPI: 300}); err != nil {
			b.Fatal(err)
		}
	}
	megapixels(b, 3000, 2000)
}

// benchSet is three inks on A4 at 300 dpi.
func benchSet() Set { return harbor(3, 2480, 3508) }

func benchSetFile(b *testing.B, write func(s Set) error) {
	s := benchSet()
	b.ReportAllocs()
	for b.Loop() {
		if err := write(s); err != nil {
			b.Fatal(err)
		}
	}
	megapixels(b, 2480, 3508)
}

func BenchmarkWriteSetPDF(b *testing.B) {
	benchSetFile(b, func(s Set) error { return WriteSetPDF(io.Discard, s, Info{DPI: 300}) })
}

func BenchmarkWriteSetTIFF(b *testing.B) {
	benchSetFile(b, func(s Set) error { return WriteSetTIFF(nowhere{io.Discard}, s, Info{DPI: 300}) })
}

func BenchmarkWriteOpenRaster(b *testing.B) {
	benchSetFile(b, func(s Set) error { return WriteOpenRaster(io.Discard, s, Info{DPI: 300}) })
}

func BenchmarkWriteColorPDF(b *testing.B) {
	inks := harbor(1, 1, 1).Inks
	benchFilm(b, func(p *Page) error { return WriteColorPDF(io.Discard, []*Page{p}, inks, Info{}) })
}

func BenchmarkWriteMasterPDF(b *testing.B) {
	m := Master{Paper: "A3", MarginsMM: [4]float64{5, 3, 2, 3}, WidthMM: 200, HeightMM: 280}
	plates := benchSet().Plates
	for b.Loop() {
		if err := WriteMasterPDF(io.Discard, m, plates, Info{}); err != nil {
			b.Fatal(err)
		}
	}
	megapixels(b, 3*7016, 9921)
}

func BenchmarkWriteMasterPNG(b *testing.B) {
	m := Master{Paper: "A3", MarginsMM: [4]float64{5, 3, 2, 3}, WidthMM: 200, HeightMM: 280}
	plate := benchSet().Plates[0]
	for b.Loop() {
		if err := WriteMasterPNG(io.Discard, m, plate, Info{}); err != nil {
			b.Fatal(err)
		}
	}
	megapixels(b, 7016, 9921)
}

func BenchmarkWriteProof(b *testing.B) {
	pix := make([]uint8, 3*3000*2000)
	for i := range pix {
		pix[i] = uint8(i * i >> 16)
	}
	for b.Loop() {
		if err := WriteProof(io.Discard, 3000, 2000, pix, nil, Info{DPI: 300}); err != nil {
			b.Fatal(err)
		}
	}
	megapixels(b, 3000, 2000)
}
