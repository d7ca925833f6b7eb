package separate

import (
	"sync"

	"platewright/separate/artwork"
)

// rows makes the coverages of any part of the picture from its colors, or from
// its labels where they are not nil.
type rows struct {
	p      *artwork.Picture
	look   rower
	bare   bareSet
	labels *Labels
}

// part writes the coverages of pixels x0 … x1−1 of row y, a plane an ink.
func (s *rows) part(y, x0, x1 int, planes [][]uint16) {
	from, to := y*s.p.Width+x0, y*s.p.Width+x1
	if s.labels != nil {
		for x, l := range s.labels.Map[from:to] {
			for i, v := range s.labels.Cov[l] {
				planes[i][x] = v
			}
		}
		return
	}
	if s.p.Pix != nil {
		s.look.row8(s.p.Pix[3*from:3*to], planes, s.bare)
	} else {
		pix := s.p.Pix16[3*from : 3*to]
		s.look.row16(pix, planes)
		s.bare.clear16(pix, planes)
	}
	if s.p.Alpha != nil {
		for x, a := range s.p.Alpha[from:to] {
			if a == 0 {
				for i := range planes {
					planes[i][x] = 0
				}
			}
		}
	}
}

// Inks returns the number of plates.
func (r *Result) Inks() int {
	if r.Ink != nil {
		return len(r.Ink)
	}
	return r.inks
}

// Row writes row y of every plate, coverage 0 … 65535, to one slice an ink of at
// least the width. It may be called by several goroutines at once.
func (r *Result) Row(dst [][]uint16, y int) {
	if r.Ink == nil {
		r.rows.part(y, 0, r.Width, sliced(dst, 0, r.Width))
		return
	}
	for i, plane := range r.Ink {
		copy(dst[i], plane[y*r.Width:(y+1)*r.Width])
	}
}

// At writes the coverages of one pixel to dst, one an ink.
func (r *Result) At(x, y int, dst []uint16) {
	if r.Ink == nil {
		r.rows.part(y, x, x+1, spread(dst[:r.inks]))
		return
	}
	for i, plane := range r.Ink {
		dst[i] = plane[y*r.Width+x]
	}
}

// spread cuts one pixel's coverages into planes of a pixel.
func spread(c []uint16) [][]uint16 {
	planes := make([][]uint16, len(c))
	for i := range c {
		planes[i] = c[i : i+1]
	}
	return planes
}

// sliced is planes from pixel x0 to x1.
func sliced(planes [][]uint16, x0, x1 int) [][]uint16 {
	out := make([][]uint16, len(planes))
	for i := range planes {
		out[i] = planes[i][x0:x1]
	}
	return out
}

// Hold makes the plates of a Result that was made with Options.ByRows and has
// none, on so many goroutines, one a core for 0.
func (r *Result) Hold(workers int) {
	if r.Ink != nil {
		return
	}
	ink := make([][]uint16, r.inks)
	for i := range ink {
		ink[i] = make([]uint16, r.Width*r.Height)
	}
	const step = 16
	parallelChunks((r.Height+step-1)/step, workers, func(chunk int) {
		for y := chunk * step; y < min((chunk+1)*step, r.Height); y++ {
			r.rows.part(y, 0, r.Width, sliced(ink, y*r.Width, (y+1)*r.Width))
		}
	})
	r.Ink, r.rows = ink, nil
}

// A Plate is the coverage of one ink, row by row. It is safe for concurrent use.
type Plate struct {
	r    *Result
	ink  int
	kept *kept
}

// Plates returns the plates in print order. They keep the rows that they made
// last, together: it is best to use them at the same place at the same time.
func (r *Result) Plates() []*Plate {
	out := make([]*Plate, r.Inks())
	b := &kept{r: r}
	for i := range out {
		out[i] = &Plate{r, i, b}
	}
	return out
}

// Size returns width and height in pixels.
func (p *Plate) Size() (w, h int) { return p.r.Width, p.r.Height }

// Row writes row y, coverage 0 … 65535.
func (p *Plate) Row(dst []uint16, y int) {
	if p.r.Ink != nil {
		copy(dst, p.r.Ink[p.ink][y*p.r.Width:(y+1)*p.r.Width])
		return
	}
	plane := p.kept.at(y / keptRows)[p.ink]
	from := y % keptRows * p.r.Width
	copy(dst, plane[from:from+p.r.Width])
}

// kept are the last rows made of a picture, all inks of them.
type kept struct {
	r    *Result
	mu   sync.Mutex
	ring [keptBands]*band
}

const (
	keptRows  = 16
	keptBands = 24 // what two strips of film in work look at, and some more
)

type band struct {
	at     int
	once   sync.Once
	planes [][]uint16
}

func (b *kept) at(at int) [][]uint16 {
	slot := &b.ring[at%keptBands]
	b.mu.Lock()
	if *slot == nil || (*slot).at != at {
		*slot = &band{at: at}
	}
	one := *slot
	b.mu.Unlock()
	one.once.Do(func() {
		n := min(keptRows, b.r.Height-at*keptRows)
		one.planes = make([][]uint16, b.r.inks)
		for i := range one.planes {
			one.planes[i] = make([]uint16, n*b.r.Width)
		}
		for y := range n {
			b.r.Row(sliced(one.planes, y*b.r.Width, (y+1)*b.r.Width), at*keptRows+y)
		}
	})
	return one.planes
}
