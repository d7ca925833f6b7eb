package separate

import (
	"slices"
	"sync/atomic"
)

// A labeler makes Labels, in steps that each see only what the step before
// has finished, so that the outcome is the same for any number of goroutines.
type labeler struct {
	pix     []uint8
	w, h    int
	workers int
	label   []uint16 // of core pixels at first, in the end of all
	core    []uint8  // 0, coreEdge or coreFull
	flats   []flatColor
	lines   []flatColor // colors that only thin lines have
	asked   labelCache

	mix    [][]mixed      // by rows
	odd    [][]int32      // by rows, pixels that no mixture of cores explains
	toward [][]*flatColor // by rows, the uniform color that an odd pixel is a step to

	tol  *tolerance
	hard bool // edges are not antialiased: see hardShare
	busy bool // the picture is no drawing: odd pixels simply get their own label
}

// bandRows is the number of rows that a goroutine takes at a time.
const bandRows = 64

// busyShare is the share of odd pixels beyond which a picture counts as a
// photograph or dither, where thin lines cannot be told from texture; drawings
// of nothing but hatching stay below. plainShare is the share of uniform areas
// below which it does, too.
const (
	busyShare  = 0.4
	plainShare = 0.15
)

// noisyShare is the share of uniform patches that are not exactly so beyond
// which a picture counts as having been compressed with loss.
const noisyShare = 0.015

// run labels the picture.
func (b *labeler) run(l *Labels) {
	b.findCores()
	b.dropFalseCores()
	b.asked.flats, b.asked.snap = b.flats, b.tol.snap
	bands(b.h, bandRows, b.workers, func(_, y0, y1 int) {
		last, label := [3]uint8{}, b.asked.label([3]uint8{})
		for i := y0 * b.w; i < y1*b.w; i++ {
			if b.core[i] != 0 {
				if p := [3]uint8(b.pix[3*i:]); p != last {
					last, label = p, b.asked.label(p)
				}
				b.label[i] = label
			}
		}
	})
	b.hard = b.isHard()
	b.mix, b.odd = make([][]mixed, b.h), make([][]int32, b.h)
	bands(b.h, bandRows, b.workers, func(_, y0, y1 int) {
		m := mixer{tol: b.tol}
		for y := y0; y < y1; y++ {
			b.mixRow(&m, y)
		}
	})
	odd := 0
	for _, r := range b.odd {
		odd += len(r)
	}
	plain := 0
	for i := range b.flats {
		if b.flats[i].uniform {
			plain += b.flats[i].count
		}
	}
	all := float64(b.w) * float64(b.h)
	b.busy = float64(odd) > busyShare*all || float64(plain) < plainShare*all
	if b.busy {
		bands(b.h, bandRows, b.workers, func(_, y0, y1 int) {
			for y := y0; y < y1; y++ {
				for _, x := range b.odd[y] {
					i := y*b.w + int(x)
					b.label[i] = b.asked.label([3]uint8(b.pix[3*i:]))
				}
			}
		})
	} else {
		b.findLineColors()
		done := make([][]mixed, b.h)
		bands(b.h, bandRows, b.workers, func(_, y0, y1 int) { b.mixLines(y0, y1, done) })
		b.mix = done
	}
	b.gather(l)
	if b.busy {
		l.strokeStart = make([]int, b.h+1)
	} else {
		l.findStrokes(b.workers, b.tol.strict)
	}
	// Mixed pixels print, at the artwork's own size, what the film has there.
	winner := make([][]uint16, b.h)
	bands(b.h, bandRows, b.workers, func(_, y0, y1 int) {
		row := make([]uint16, b.w)
		for y := y0; y < y1; y++ {
			mix := l.mixedRow(y)
			if len(mix) == 0 {
				continue
			}
			l.FilmRow(row, y, b.w, b.h)
			win := make([]uint16, len(mix))
			for i := range mix {
				win[i] = row[mix[i].x]
			}
			winner[y] = win
		}
	})
	for y, win := range winner {
		for i, m := range l.mixedRow(y) {
			l.Map[y*b.w+int(m.x)] = win[i]
		}
	}
}

// A picture has hard edges, each pixel meant as it is, if most of the pixels
// beside its uniform areas have uniform colors of the picture, too (with
// antialiased edges a third at most), or if it is dithered, so that many pixels
// stand alone (in drawings one in 500 at most).
const (
	hardShare = 0.85
	loneShare = 0.01
)

func (b *labeler) isHard() bool {
	counts := make([][3]int, (b.h+bandRows-1)/bandRows)
	bands(b.h, bandRows, b.workers, func(band, y0, y1 int) {
		for i := y0 * b.w; i < y1*b.w; i++ {
			if b.core[i] == 0 {
				counts[band][0]++
				if b.flatAt(i) != nil {
					counts[band][1]++
				}
				if b.lone([3]uint8(b.pix[3*i:]), i%b.w, i/b.w) {
					counts[band][2]++
				}
			}
		}
	})
	all, flat, lone := 0, 0, 0
	for _, c := range counts {
		all, flat, lone = all+c[0], flat+c[1], lone+c[2]
	}
	return float64(flat) > hardShare*float64(all) || float64(lone) > loneShare*float64(b.w)*float64(b.h)
}

// flatAt returns the uniform color of the picture that pixel i has, or nil.
func (b *labeler) flatAt(i int) *flatColor {
	rgb := [3]uint8(b.pix[3*i:])
	for j := range b.flats {
		if f := &b.flats[j]; f.uniform && maxDistance(f.rgb, rgb) <= 1 {
			return f
		}
	}
	return nil
}

// gather puts the mixed pixels of all rows together.
func (b *labeler) gather(l *Labels) {
	l.mixStart = make([]int, b.h+1)
	for y, r := range b.mix {
		l.mixStart[y+1] = l.mixStart[y] + len(r)
	}
	l.mix = make([]mixed, l.mixStart[b.h])
	for y, r := range b.mix {
		copy(l.mix[l.mixStart[y]:], r)
		for i := range r {
			l.Map[y*b.w+int(r[i].x)] = r[i].label[0]
		}
		b.mix[y] = nil
	}
}

// A labelCache remembers what assign said, by color. Two goroutines may ask
// for the same color at once, which is harmless: the answer is the same.
type labelCache struct {
	assign func([3]uint8) uint16
	flats  []flatColor
	snap   int32 // see tolerance
	// pages by the upper four bits of each channel; an entry by the lower
	// four, the label + 1, 0 for not yet asked.
	pages [4096]atomic.Pointer[[4096]atomic.Uint32]
}

// label returns the label of a color or, if it is within snap of a
// uniform color of the picture, of that one.
func (c *labelCache) label(rgb [3]uint8) uint16 {
	slot := &c.pages[int(rgb[0]>>4)<<8|int(rgb[1]>>4)<<4|int(rgb[2]>>4)]
	page := slot.Load()
	if page == nil {
		slot.CompareAndSwap(nil, new([4096]atomic.Uint32))
		page = slot.Load()
	}
	e := &page[int(rgb[0]&15)<<8|int(rgb[1]&15)<<4|int(rgb[2]&15)]
	if v := e.Load(); v != 0 {
		return uint16(v - 1)
	}
	ask, near := rgb, c.snap+1
	for i := range c.flats {
		f := &c.flats[i]
		if d := maxDistance(rgb, f.rgb); f.uniform && d < near {
			ask, near = f.rgb, d
		}
	}
	v := c.assign(ask)
	e.Store(uint32(v) + 1)
	return v
}

// maxDistance returns the largest difference in any channel.
func maxDistance(a, b [3]uint8) int32 {
	d := int32(0)
	for i := range a {
		e := int32(a[i]) - int32(b[i])
		d = max(d, e, -e)
	}
	return d
}

// byX sorts mixed pixels.
func byX(m []mixed) { slices.SortFunc(m, func(a, b mixed) int { return int(a.x - b.x) }) }
