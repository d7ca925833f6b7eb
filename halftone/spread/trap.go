package spread

import (
	"fmt"
	"slices"

	"platewright/halftone"
)

// Ink is what trapping needs to know of an ink.
type Ink struct {
	Darkness float64 // any measure that rises with darkness
	Opacity  float64 // 0 clear … 1 opaque, as a contrast ratio
}

// opaque is the opacity from which an ink hides what lies beneath well enough
// that its edge shows none of it.
const opaque = 0.6

// Under reports which of two inks, first printed before second, is to be
// spread where they touch: the lighter one, under the darker; but beneath an
// opaque ink the one printed earlier.
func Under(first, second Ink) (spreadFirst bool) {
	return second.Opacity >= opaque || first.Darkness <= second.Darkness
}

// touching is how far apart in pixels, along rows and columns, two inks count
// as touching: an anti-aliased seam lies between.
const touching = 2

// Trap returns the plates, in print order, with one of each two that touch
// spread beneath the other by a width in millimetres; see [Under]. Ink spreads
// only where the other prints, and no darker than the other's coverage, and
// only from where it ends alone and the other begins, or prints much more: where
// they lie over each other, outlines stay. Under a tint a solid leaves a rim of
// that tint, which a [halftone.Raster] keeps from 2.5 pixels on and takes for an
// edge below. Plates that do not change are returned as they are. All must have one
// size.
func Trap(plates []*halftone.Plate, inks []Ink, mm, ppi float64) ([]*halftone.Plate, error) {
	radius, err := pixels(mm, ppi)
	if err != nil {
		return nil, err
	}
	if len(plates) != len(inks) {
		return nil, fmt.Errorf("spread: %d plates and %d inks: give one ink for each plate", len(plates), len(inks))
	}
	shapes := make([]*shape, len(plates))
	for i, p := range plates {
		if shapes[i], err = newShape(p, false); err != nil {
			return nil, err
		}
		if p.Width != plates[0].Width || p.Height != plates[0].Height {
			return nil, fmt.Errorf("spread: plate %d is %d × %d pixels, plate 1 %d × %d: make all plates one size", i+1, p.Width, p.Height, plates[0].Width, plates[0].Height)
		}
	}
	out := append([]*halftone.Plate(nil), plates...)
	if radius == 0 {
		return out, nil
	}
	for i := range plates {
		for j := i + 1; j < len(plates); j++ {
			under, over := j, i
			if Under(inks[i], inks[j]) {
				under, over = i, j
			}
			contact := touch(shapes[under], shapes[over], plates[over])
			if contact == nil {
				continue
			}
			if out[under] == plates[under] {
				out[under] = &halftone.Plate{Width: plates[under].Width, Height: plates[under].Height, Cov: append([]uint16(nil), plates[under].Cov...)}
			}
			spreadUnder(out[under], plates[under], plates[over], shapes[under], contact, radius)
		}
	}
	return out, nil
}

// touch returns the part of a that lies where a is alone, against b, and near
// which b begins or prints much more; nil for none. over is the plate of b.
func touch(a, b *shape, over *halftone.Plate) *shape {
	c := &shape{a.w, a.h, make([]uint8, len(a.share))}
	found := make([]bool, a.h)
	parallel(a.h, func(y0, y1 int) {
		most := make([]uint16, a.w) // of b's coverage within touching rows
		for y := y0; y < y1; y++ {
			clear(most)
			for j := max(y-touching, 0); j <= min(y+touching, a.h-1); j++ {
				for x, v := range over.Cov[j*a.w : (j+1)*a.w] {
					most[x] = max(most[x], v)
				}
			}
			row := y * a.w
			for x, s := range a.share[row : row+a.w] {
				if s == 0 || s <= b.share[row+x] && b.share[row+x] < 255 {
					continue
				}
				near := uint16(0)
				for _, v := range most[max(x-touching, 0):min(x+touching+1, a.w)] {
					near = max(near, v)
				}
				if v := over.Cov[row+x]; near > v && near-v >= rise {
					c.share[row+x], found[y] = s, true
				}
			}
		}
	})
	for _, f := range found {
		if f {
			return c.withSeam(a)
		}
	}
	return nil
}

// withSeam adds the partly covered pixels of a beside the shape's: the other
// half of an anti-aliased seam, where a is the lesser.
func (c *shape) withSeam(a *shape) *shape {
	out := &shape{c.w, c.h, append([]uint8(nil), c.share...)}
	parallel(c.h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			for x := range c.w {
				i := y*c.w + x
				if s := a.share[i]; s == 0 || s == 255 || c.share[i] != 0 {
					continue
				}
				for j := max(y-1, 0); j <= min(y+1, c.h-1) && out.share[i] == 0; j++ {
					for _, v := range c.share[j*c.w+max(x-1, 0) : j*c.w+min(x+2, c.w)] {
						if v != 0 {
							out.share[i] = a.share[i]
						}
					}
				}
			}
		}
	})
	return out
}

// behind returns the coverage of from behind its pixel x, y that touches over:
// the middle one among pixels near that it covers by half or more and where
// over prints hardly more. Where those are no more than a seam they do not count
// by themselves: between two tints it may print more than either, and would be
// drawn out to a streak. Specks of a tint, one or two pixels, do not spread.
func behind(from, over *halftone.Plate, a *shape, x, y int) uint16 {
	const side = 2*touching + 1
	const seam = side + side/2 // pixels of a line through the window, with its steps
	const speck, solid = 3, halftone.Full / 10 * 9
	var alone, all [side * side]uint16
	n, m, most := 0, 0, int(over.Cov[y*a.w+x])+rise
	for j := max(y-touching, 0); j <= min(y+touching, a.h-1); j++ {
		for i := j*a.w + max(x-touching, 0); i <= j*a.w+min(x+touching, a.w-1); i++ {
			if a.share[i] < half {
				continue
			}
			all[m] = from.Cov[i]
			m++
			if int(over.Cov[i]) <= most {
				alone[n] = from.Cov[i]
				n++
			}
		}
	}
	near := alone[:n]
	if n <= seam {
		near = all[:m]
	}
	if m < speck {
		if v := inside(from, x, y); v >= solid {
			return v
		}
		return 0
	}
	slices.Sort(near)
	return near[len(near)/2]
}

// spreadUnder spreads from, the ink of a plate that touches over, into out.
// from covers shape a.
func spreadUnder(out, from, over *halftone.Plate, a, contact *shape, radius float64) {
	m := contact.distances(false, radius+2)
	parallel(out.Height, func(y0, y1 int) {
		b := newRowBuffer(out.Width)
		at, value := [2]int32{-1, -1}, 0.0
		for y := y0; y < y1; y++ {
			m.nearest(b, y)
			row := out.Cov[y*out.Width : (y+1)*out.Width]
			for x := range row {
				if b.y[x] < 0 {
					continue
				}
				share := radius + 0.5 - m.toEdge(x, y, b)
				if share <= 0 {
					continue
				}
				if next := [2]int32{b.x[x], b.y[x]}; next != at {
					at, value = next, float64(behind(from, over, a, int(next[0]), int(next[1])))
				}
				v := uint16(float64(min(share, 1)*value) + 0.5)
				row[x] = max(row[x], min(v, inside(over, x, y)))
			}
		}
	})
}
