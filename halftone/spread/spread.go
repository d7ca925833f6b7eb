// Package spread widens and narrows what a plate prints, traps plates that
// touch, and finds lines, gaps and dots too small to print. Call [Spread],
// [Choke], [Trap] or [Find]; [NewMap] gives the distances they all rest on.
//
// Distances are Euclidean, from pixel centers to the edge of the ink, and exact
// for the pixel grid: nearest pixels come from two passes in linear time (A.
// Meijster, J. Roerdink, W. Hesselink, "A general algorithm for computing
// distance transforms in linear time", 2000), at any radius. An anti-aliased
// edge pixel of which the share a is inked has the edge ½ − a beyond its
// center, so that distances keep the edge's place within the pixel.
//
// A tint's outline spreads as a solid's does, with the tint's own coverage.
// Where two tints of one ink meet, nothing changes.
package spread

import (
	"fmt"
	"math"
	"runtime"
	"sync"

	"platewright/halftone"
)

const mmPerInch = 25.4

// Spread returns the plate with its ink grown by a radius in millimetres, at
// the resolution ppi. Bare pixels take the coverage of the nearest ink.
func Spread(p *halftone.Plate, mm, ppi float64) (*halftone.Plate, error) {
	return reshape(p, mm, ppi, false, func(c uint16, m *Map, b *rowBuffer, x, y int, radius float64) uint16 {
		if m.shape.share[y*p.Width+x] == 255 {
			return c
		}
		a := radius + 0.5 - m.toEdge(x, y, b)
		if a <= 0 {
			return c
		}
		v := float64(inside(p, int(b.x[x]), int(b.y[x])))
		return max(c, uint16(float64(min(a, 1)*v)+0.5))
	})
}

// Choke returns the plate with its ink cut back by a radius in millimetres.
func Choke(p *halftone.Plate, mm, ppi float64) (*halftone.Plate, error) {
	return reshape(p, mm, ppi, true, func(c uint16, m *Map, b *rowBuffer, x, y int, radius float64) uint16 {
		if c == 0 {
			return c
		}
		keep := m.toEdge(x, y, b) + 0.5 - radius
		return min(c, uint16(float64(min(max(keep, 0), 1)*float64(inside(p, x, y)))+0.5))
	})
}

// reshape returns the plate with pixels of coverage c as pixel makes them where
// ink, or with inverse a bare place, is near.
func reshape(p *halftone.Plate, mm, ppi float64, inverse bool, pixel func(c uint16, m *Map, b *rowBuffer, x, y int, radius float64) uint16) (*halftone.Plate, error) {
	radius, err := pixels(mm, ppi)
	if err != nil {
		return nil, err
	}
	s, err := newShape(p, false)
	if err != nil {
		return nil, err
	}
	m := s.distances(inverse, radius+2)
	out := &halftone.Plate{Width: p.Width, Height: p.Height, Cov: make([]uint16, len(p.Cov))}
	parallel(p.Height, func(y0, y1 int) {
		b := newRowBuffer(p.Width)
		for y := y0; y < y1; y++ {
			m.nearest(b, y)
			row := out.Cov[y*p.Width : (y+1)*p.Width]
			for x, c := range p.Cov[y*p.Width : (y+1)*p.Width] {
				if b.y[x] >= 0 {
					c = pixel(c, m, b, x, y, radius)
				}
				row[x] = c
			}
		}
	})
	return out, nil
}

// ChokeUnder returns a plate that lies beneath others with its ink cut back by a
// radius in millimetres, except where it shows by itself: there none of the
// others prints. All have one size.
func ChokeUnder(p *halftone.Plate, over []*halftone.Plate, mm, ppi float64) (*halftone.Plate, error) {
	out, err := Choke(p, mm, ppi)
	if err != nil {
		return nil, err
	}
	for i, c := range p.Cov {
		if out.Cov[i] == c {
			continue
		}
		shows := true
		for _, o := range over {
			if len(o.Cov) != len(p.Cov) {
				return nil, fmt.Errorf("spread: plates of %d × %d and %d × %d pixels: make all plates one size", p.Width, p.Height, o.Width, o.Height)
			}
			shows = shows && o.Cov[i] < bare
		}
		if shows {
			out.Cov[i] = c
		}
	}
	return out, nil
}

// pixels turns a length into pixels.
func pixels(mm, ppi float64) (float64, error) {
	r := mm * ppi / mmPerInch
	if !(mm >= 0) || !(ppi > 0) || math.IsInf(r, 0) {
		return 0, fmt.Errorf("spread: %.4g mm at %.6g ppi: give a length of 0 or more and the plate's resolution", mm, ppi)
	}
	return r, nil
}

// inside returns the coverage behind an edge pixel: the most among it and its
// eight neighbors.
func inside(p *halftone.Plate, x, y int) (most uint16) {
	x0, x1 := max(x-1, 0), min(x+1, p.Width-1)
	for j := max(y-1, 0); j <= min(y+1, p.Height-1); j++ {
		for _, c := range p.Cov[j*p.Width+x0 : j*p.Width+x1+1] {
			most = max(most, c)
		}
	}
	return most
}

// parallel calls f for parts of 0 … n−1 at once.
func parallel(n int, f func(lo, hi int)) {
	workers := min(runtime.GOMAXPROCS(0), n)
	var wg sync.WaitGroup
	for k := range workers {
		wg.Go(func() { f(n*k/workers, n*(k+1)/workers) })
	}
	wg.Wait()
}
