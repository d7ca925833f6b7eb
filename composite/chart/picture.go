package chart

import (
	"math"

	"platewright/composite/spectrum"
)

// A Picture is a scan or a photo, read row by row so that a large scan need not
// be held twice.
type Picture struct {
	Name          string
	Width, Height int
	PPI           float64 // pixels per inch of a scan; 0: not known, as of a photo
	// Row writes row y in linear light, X, Y and Z of each pixel, D50, Y of white
	// = 1: three numbers a pixel, 3·Width in all.
	Row func(y int, dst []float32)
}

const (
	workPPI  = 200.0 // scans are reduced to about this
	workSide = 2600  // photos to so many pixels on the longer side
)

// plane is a picture in linear light of the primaries of sRGB, reduced by whole
// numbers: the channels that come nearest to what a sensor sees.
type plane struct {
	w, h    int
	by      int // pixels of the file to one of the plane
	ch      [3][]float32
	channel int     // in which targets are searched
	clip    float64 // share of pixels at the upper end
	ppi     float64 // of the plane; 0: not known
	name    string
	paper   []float32 // the paper's light in the channel searched, a cell each
	cells   int       // cells in a row
	cellPx  int
}

// reduce averages blocks of pixels in linear light.
func reduce(p *Picture) *plane {
	by := 1
	if p.PPI > 0 && float64(max(p.Width, p.Height))/p.PPI > 2 {
		by = int(math.Max(1, math.Floor(p.PPI/workPPI+.25)))
	}
	for max(p.Width, p.Height)/by > 2*workSide {
		by++
	}
	if p.PPI == 0 {
		by = max(by, (max(p.Width, p.Height)+workSide/2)/workSide)
	}
	q := &plane{w: p.Width / by, h: p.Height / by, by: by, name: p.Name}
	if p.PPI > 0 {
		q.ppi = p.PPI / float64(by)
	}
	for c := range q.ch {
		q.ch[c] = make([]float32, q.w*q.h)
	}
	row := make([]float32, 3*p.Width)
	sum := make([]float32, 3*q.w)
	for y := range q.h {
		clear(sum)
		for k := range by {
			p.Row(y*by+k, row)
			for x := range q.w {
				for j := range by {
					i := 3 * (x*by + j)
					sum[3*x] += row[i]
					sum[3*x+1] += row[i+1]
					sum[3*x+2] += row[i+2]
				}
			}
		}
		f := 100 / float64(by*by)
		for x := range q.w {
			l := spectrum.XYZ{float64(sum[3*x]) * f, float64(sum[3*x+1]) * f, float64(sum[3*x+2]) * f}.Linear()
			for c, v := range l {
				q.ch[c][y*q.w+x] = float32(v)
			}
			if math.Max(l[0], math.Max(l[1], l[2])) > .995 {
				q.clip += 1 / float64(q.w*q.h)
			}
		}
	}
	return q
}

// at is channel c at a place between pixels; pixel centers are at .5.
func (q *plane) at(c int, x, y float64) float64 {
	x, y = x-.5, y-.5
	ix, iy := int(math.Floor(x)), int(math.Floor(y))
	fx, fy := x-float64(ix), y-float64(iy)
	ix, iy = min(max(ix, 0), q.w-2), min(max(iy, 0), q.h-2)
	s := q.ch[c][iy*q.w+ix:]
	up := float64(s[0]) + fx*float64(s[1]-s[0])
	down := float64(s[q.w]) + fx*float64(s[q.w+1]-s[q.w])
	return up + fy*(down-up)
}

// inside reports whether a place lies in the picture with d pixels around it.
func (q *plane) inside(p point, d float64) bool {
	return p.x >= d && p.y >= d && p.x <= float64(q.w)-d && p.y <= float64(q.h)-d
}
