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
