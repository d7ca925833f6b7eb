package separate

import (
	"cmp"
	"slices"
)

// A flatColor is a color that covers uniform patches of a picture.
type flatColor struct {
	rgb     [3]uint8
	count   int  // pixels
	uniform bool // stands alone: not one step of a gradient
}

// coreRange is the largest difference within a patch of 2 × 2 pixels that
// counts as uniform.
const coreRange = 6

// A flatBin collects the uniform patches whose colors agree in the upper five
// bits of each channel; sum is of the lower three. vote is the color that holds
// the majority, if one does (Boyer and Moore 1991), and lead is by how many
// votes at least.
type flatBin struct {
	index int32
	count int32
	sum   [3]uint32
	vote  [3]uint8
	lead  int32
}

func binOf(rgb [3]uint8) int {
	return int(rgb[0]>>3)<<10 | int(rgb[1]>>3)<<5 | int(rgb[2]>>3)
}

func (f *flatBin) add(rgb [3]uint8, n int32) {
	f.count += n
	for i := range f.sum {
		f.sum[i] += uint32(n) * uint32(rgb[i]&7)
	}
	f.cast(rgb, n)
}

// merge adds another bin of the same colors.
func (f *flatBin) merge(o *flatBin) {
	f.index = o.index
	f.count += o.count
	for i := range f.sum {
		f.sum[i] += o.sum[i]
	}
	f.cast(o.vote, o.lead)
}

func (f *flatBin) cast(rgb [3]uint8, n int32) {
	switch {
	case f.vote == rgb:
		f.lead += n
	case f.lead >= n:
		f.lead -= n
	default:
		f.vote, f.lead = rgb, n-f.lead
	}
}

// findCores sets core, and flats from the colors of the cores.
func (b *labeler) findCores() {
	b.core = make([]uint8, b.w*b.h)
	if b.w < 2 || b.h < 2 {
		return
	}
	rows := max(bandRows, 1<<20/b.w)
	parts := make([][]flatBin, (b.h+rows-1)/rows)
	sums := make([][2]int, len(parts))
	bands(b.h, rows, b.workers, func(band, y0, y1 int) {
		bins := make([]flatBin, 1<<15)
		before := make([]bool, b.w+1) // patch x−1, row before
		here := make([]bool, b.w+1)
		if y0 > 0 {
			b.patches(before, y0-1)
		}
		exact, nearly := 0, 0
		for y := y0; y < y1; y++ {
			clear(here)
			if y < b.h-1 {
				e, n := b.patches(here, y)
				exact, nearly = exact+e, nearly+n
			}
			b.coreRow(y, before, here, bins)
			before, here = here, before
		}
		var used []flatBin
		for i := range bins {
			if bins[i].count > 0 {
				bins[i].index = int32(i)
				used = append(used, bins[i])
			}
		}
		parts[band] = used
		sums[band] = [2]int{exact, nearly}
	})
	all := make([]flatBin, 1<<15)
	for _, used := range parts {
		for _, f := range used {
			all[f.index].merge(&f)
		}
	}
	b.flats = flatColors(all)
	exact, nearly := 0, 0
	for _, s := range sums {
		exact, nearly = exact+s[0], nearly+s[1]
	}
	if float64(nearly) > noisyShare*float64(exact+nearly) {
		b.tol = lossy()
	}
}

// patches sets even[x+1] where the 2 × 2 pixels from x, y on are uniform, and
// counts those that are exactly so and those that are nearly.
func (b *labeler) patches(even []bool, y int) (exact, nearly int) {
	r0 := b.pix[3*y*b.w : 3*(y+1)*b.w]
	r1 := b.pix[3*(y+1)*b.w : 3*(y+2)*b.w]
	for i := 0; i+5 < len(r0); i += 3 {
		p, q := r0[i:i+6], r1[i:i+6]
		c := [3]uint8(p)
		if c == [3]uint8(p[3:]) && c == [3]uint8(q) && c == [3]uint8(q[3:]) {
			even[i/3+1] = true
			exact++
		} else if within(p, q) {
			even[i/3+1] = true
			nearly++
		}
	}
	return exact, nearly
}

// coreRow marks the cores of row y from the uniform patches above and below
// it, and counts the colors of pixels amid 3 × 3 uniform ones.
func (b *labeler) coreRow(y int, before, here []bool, bins []flatBin) {
	row := b.core[y*b.w : (y+1)*b.w]
	pix := b.pix[3*y*b.w:]
	var color [3]uint8
	n := int32(0)
	count := func() {
		if n > 0 {
			bins[binOf(color)].add(color, n)
		}
	}
	for x := range row {
		p, q, r, s := before[x], before[x+1], here[x], here[x+1]
		switch {
		case p && q && r && s:
			row[x] = coreFull
			if c := [3]uint8(pix[3*x:]); c != color {
				count()
				color, n = c, 0
			}
			n++
		case p || q || r || s:
			row[x] = coreEdge
		}
	}
	count()
}

// Kinds of core pixels. Those at the picture's border are never full.
const (
	coreEdge = 1 // in a uniform patch of 2 × 2 pixels
	coreFull = 2 // amid 3 × 3 uniform pixels
)

// dropFalseCores takes back cores that are a thin line's antialiased flanks: a
// patch two pixels across, away from anything thicker, whose color is no uniform
// color of the picture but a step from the ground towards one. After lossy
// compression any such patch may be noise.
func (b *labeler) dropFalseCores() {
	rows := make([][]int, b.h)
	bands(b.h, bandRows, b.workers, func(_, y0, y1 int) {
		m := mixer{tol: b.tol}
		for y := y0; y < y1; y++ {
			row := b.core[y*b.w : (y+1)*b.w]
			for x, k := range row {
				if k == coreEdge && b.falseCore(&m, x, y) {
					rows[y] = append(rows[y], y*b.w+x)
				}
			}
		}
	})
	for _, r := range rows {
		for _, i := range r {
			b.core[i] = 0
		}
	}
}

func (b *labeler) falseCore(m *mixer, x, y int) bool {
	m.ends = m.ends[:0]
	rgb := [3]uint8(b.pix[3*(y*b.w+x):])
	for ring := 1; ring <= 3; ring++ {
		for yy := max(0, y-ring); yy <= min(b.h-1, y+ring); yy++ {
			for xx := max(0, x-ring); xx <= min(b.w-1, x+ring); xx++ {
				i := yy*b.w + xx
				if b.core[i] != coreFull {
					continue
				}
				c := [3]uint8(b.pix[3*i:])
				if maxDistance(c, rgb) <= coreRange {
					return false
				}
				b.addEnd(m, c, 0, xx, yy)
			}
		}
	}
	if len(m.ends) == 0 {
		return false
	}
	for i := range b.flats {
		if b.flats[i].uniform && maxDistance(b.flats[i].rgb, rgb) <= b.tol.snap {
			return false
		}
	}
	if !b.tol.strict {
		return true
	}
	p := vecOf(rgb)
	for j := range m.ends {
		r := newRay(p, m.ends[j].rgb)
		for i := range b.flats {
			if d2, fit := r.towards(vecOf(b.flats[i].rgb)); b.flats[i].uniform && d2 > 0 && fit > misses {
				return true
			}
		}
	}
	return false
}

func within(p, q []uint8) bool {
	for i := range 3 {
		a, b, c, d := p[i], p[i+3], q[i], q[i+3]
		if max(a, b, c, d)-min(a, b, c, d) > coreRange {
			return false
		}
	}
	return true
}

// maxFlats limits the uniform colors that are looked for.
const maxFlats = 256

// flatColors finds the uniform colors among the bins, largest first.
func flatColors(bins []flatBin) []flatColor {
	total := 0
	var used []flatBin
	for i := range bins {
		if bins[i].count > 0 {
			total += int(bins[i].count)
			used = append(used, bins[i])
		}
	}
	slices.SortFunc(used, func(a, b flatBin) int {
		return cmp.Or(cmp.Compare(b.count, a.count), cmp.Compare(a.index, b.index))
	})
	const merge, shell = 12, 28
	var out []flatColor
	colors := make([][3]uint8, len(used))
	for i, f := range used {
		colors[i] = f.color()
	}
	least := max(12, total/100000)
next:
	for i, f := range used {
		for j := range out {
			if maxDistance(out[j].rgb, colors[i]) <= merge {
				out[j].count += int(f.count)
				continue next
			}
		}
		if int(f.count) < least || len(out) == maxFlats {
			continue
		}
		out = append(out, flatColor{rgb: colors[i], count: int(f.count), uniform: 2*f.lead > f.count})
	}
	// A color without a majority is uniform if its surroundings are empty.
	for j := range out {
		if out[j].uniform {
			continue
		}
		around := 0
		for i := range used {
			if d := maxDistance(out[j].rgb, colors[i]); d > merge && d <= shell {
				around += int(used[i].count)
			}
		}
		out[j].uniform = 4*around < out[j].count
	}
	slices.SortStableFunc(out, func(a, b flatColor) int { return cmp.Compare(b.count, a.count) })
	return out
}

func (f *flatBin) color() [3]uint8 {
	if 4*f.lead > f.count {
		return f.vote
	}
	var c [3]uint8
	for i := range c {
		c[i] = f.vote[i]&^7 + uint8((f.sum[i]+uint32(f.count)/2)/uint32(f.count))
	}
	return c
}
