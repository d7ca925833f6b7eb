package separate

import (
	"context"
	"math/rand"
	"path/filepath"
	"testing"

	"platewright/separate/artwork"
)

// enlarged is a test picture by as many times larger, linear between its
// pixels and with the noise of a sensor, ±noise codes.
func enlarged(b *testing.B, name string, by, noise int) *artwork.Picture {
	b.Helper()
	src, err := artwork.Open(filepath.Join("testdata", "flat", name+".png"), artwork.Limits{})
	if err != nil {
		b.Fatal(err)
	}
	rng := rand.New(rand.NewSource(1))
	w, h := (src.Width-1)*by, (src.Height-1)*by
	p := &artwork.Picture{Width: w, Height: h, Pix: make([]uint8, 3*w*h), Space: src.Space}
	for y := range h {
		for x := range w {
			i, fx, fy := (y/by*src.Width+x/by)*3, x%by, y%by
			for c := range 3 {
				up := int(src.Pix[i+c])*(by-fx) + int(src.Pix[i+c+3])*fx
				i := i + 3*src.Width
				down := int(src.Pix[i+c])*(by-fx) + int(src.Pix[i+c+3])*fx
				v := (up*(by-fy) + down*fy) / (by * by)
				if noise > 0 {
					v += rng.Intn(2*noise+1) - noise
				}
				p.Pix[3*(y*w+x)+c] = uint8(max(0, min(255, v)))
			}
		}
	}
	return p
}

// repeated is a test picture by as many times larger, its colors as they are.
func repeated(b *testing.B, name string, by int) *artwork.Picture {
	b.Helper()
	src, err := artwork.Open(filepath.Join("testdata", "flat", name+".png"), artwork.Limits{})
	if err != nil {
		b.Fatal(err)
	}
	w, h := src.Width*by, src.Height*by
	p := &artwork.Picture{Width: w, Height: h, Pix: make([]uint8, 0, 3*w*h), Space: src.Space}
	for y := range h {
		for x := range w {
			i := 3 * (y/by*src.Width + x/by)
			p.Pix = append(p.Pix, src.Pix[i:i+3]...)
		}
	}
	return p
}

const (
	fourInks  = "test yellow,test rose,test water,test soot"
	eightInks = "test yellow,test rose,test water,test rust,test fern,test kelp,test night,test soot"
)

// benchmarkRows separates the rows of a picture on one core, field and table
// being solved.
func benchmarkRows(b *testing.B, p *artwork.Picture, inks string, solve Solve) {
	m := testModel(b, inks)
	opt := &Options{Tints: TintsAny, Solve: solve}
	e := &engine{ctx: context.Background(), p: p, m: m, opt: opt, read: newReading(p.Space, m, opt), res: &Result{}}
	e.pal = newPalette(p, paletteLimit)
	e.starts = newStartTable(m)
	e.fs = &fieldSolver{m: m, inksPerSpot: 3, smooth: 1, target: e.read.target, cells: e.pal.cells}
	f := e.fs.solve(2)
	var look rower
	if solve == SolveExact {
		look = e.refineAll(f)
	} else {
		t := newTable(f, 3)
		e.subdivide(f, t)
		look = t
	}
	planes := make([][]uint16, m.Inks())
	for i := range planes {
		planes[i] = make([]uint16, p.Width)
	}
	bare := e.bareSet()
	for b.Loop() {
		for y := range p.Height {
			look.row8(p.Pix[3*y*p.Width:3*(y+1)*p.Width], planes, bare)
		}
	}
	b.ReportMetric(float64(b.N)*float64(p.Width*p.Height)/b.Elapsed().Seconds()/1e6, "Mpixel/s")
}

func BenchmarkLattice(b *testing.B) {
	for _, name := range []string{"coffee", "honeybee", "citrus"} {
		b.Run(name, func(b *testing.B) { benchmarkRows(b, enlarged(b, name, 8, 3), fourInks, SolveLattice) })
	}
	b.Run("eight inks", func(b *testing.B) { benchmarkRows(b, enlarged(b, "coffee", 8, 3), eightInks, SolveLattice) })
}

func BenchmarkExact(b *testing.B) {
	for _, name := range []string{"map", "seascape"} {
		b.Run(name, func(b *testing.B) { benchmarkRows(b, repeated(b, name, 4), fourInks, SolveExact) })
	}
}

// The colors of a picture, which a separation begins with.
func BenchmarkPalette(b *testing.B) {
	p := enlarged(b, "coffee", 8, 3)
	for b.Loop() {
		newPalette(p, paletteLimit)
	}
	b.ReportMetric(float64(b.N)*float64(p.Width*p.Height)/b.Elapsed().Seconds()/1e6, "Mpixel/s")
}

// A whole separation of a small picture: the field, the subdivision and the
// figures, most of which does not grow with the picture.
func BenchmarkSeparate(b *testing.B) {
	m := testModel(b, fourInks)
	p := enlarged(b, "coffee", 4, 3)
	for b.Loop() {
		if _, err := Separate(context.Background(), p, m, Options{Tints: TintsAny}); err != nil {
			b.Fatal(err)
		}
	}
}

// The solution of the color cube for four inks, before the first pixel.
func BenchmarkField(b *testing.B) {
	fs := &fieldSolver{m: testModel(b, testSets[3]), inksPerSpot: 3, smooth: 1, workers: 1}
	fs.target = newReading(artwork.Space{}, fs.m, &Options{}).target
	for b.Loop() {
		fs.solve(2)
	}
}
