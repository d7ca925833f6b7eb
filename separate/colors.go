package separate

import (
	"math/bits"
	"slices"

	"platewright/separate/artwork"
)

// A palette is the set of distinct colors of a picture, as 16-bit values in
// rising order. It is cut off where a 16-bit picture has more than its limit;
// over says that there are more than the limit.
type palette struct {
	colors [][3]uint16
	over   bool
	// cells marks, for a lattice of side cellSide+1, the cells that the
	// picture's colors fall in.
	cells []bool
}

const cellSide = 32

// newPalette reads the colors of p, up to limit of them.
func newPalette(p *artwork.Picture, limit int) *palette {
	pal := &palette{cells: make([]bool, cellSide*cellSide*cellSide)}
	if p.Pix != nil {
		pal.read8(p.Pix, limit)
	} else {
		pal.read16(p.Pix16, limit)
	}
	return pal
}

func (pal *palette) mark(r, g, b uint16) {
	c := func(v uint16) int { return min(int(v)*cellSide/65535, cellSide-1) }
	pal.cells[(c(r)*cellSide+c(g))*cellSide+c(b)] = true
}

func (pal *palette) read8(pix []uint8, limit int) {
	seen := make([]uint64, 1<<24/64)
	last := uint32(1 << 31)
	for i := 0; i+2 < len(pix); i += 3 {
		if key := uint32(pix[i])<<16 | uint32(pix[i+1])<<8 | uint32(pix[i+2]); key != last {
			last = key
			seen[key>>6] |= 1 << (key & 63)
		}
	}
	n := 0
	for _, w := range seen {
		n += bits.OnesCount64(w)
	}
	pal.over = n > limit
	pal.colors = make([][3]uint16, 0, n)
	for i, w := range seen {
		for ; w != 0; w &= w - 1 {
			key := uint32(i<<6 + bits.TrailingZeros64(w))
			r, g, b := uint16(key>>16)*257, uint16(key>>8&255)*257, uint16(key&255)*257
			pal.mark(r, g, b)
			pal.colors = append(pal.colors, [3]uint16{r, g, b})
		}
	}
}

func (pal *palette) read16(pix []uint16, limit int) {
	seen := map[[3]uint16]struct{}{}
	var last [3]uint16
	for i := 0; i+2 < len(pix); i += 3 {
		c := [3]uint16(pix[i : i+3])
		if i > 0 && c == last {
			continue
		}
		last = c
		pal.mark(c[0], c[1], c[2])
		if _, ok := seen[c]; ok {
			continue
		}
		if len(seen) < limit {
			seen[c] = struct{}{}
		} else {
			pal.over = true
		}
	}
	for c := range seen {
		pal.colors = append(pal.colors, c)
	}
	slices.SortFunc(pal.colors, func(a, b [3]uint16) int { return slices.Compare(a[:], b[:]) })
}

// An exactTable holds the refined coverages of each distinct color.
type exactTable struct {
	k    int
	mask uint64
	slot []int32  // hash to entry + 1
	key  []uint64 // 48 bits
	cov  []uint16 // k an entry
}

func newExactTable(colors [][3]uint16, k int) *exactTable {
	size := 1 << bits.Len(uint(4*len(colors)))
	t := &exactTable{k: k, mask: uint64(size - 1), slot: make([]int32, size), key: make([]uint64, len(colors)), cov: make([]uint16, k*len(colors))}
	for i, c := range colors {
		key := uint64(c[0])<<32 | uint64(c[1])<<16 | uint64(c[2])
		t.key[i] = key
		h := hash48(key) & t.mask
		for t.slot[h] != 0 {
			h = (h + 1) & t.mask
		}
		t.slot[h] = int32(i + 1)
	}
	return t
}

func hash48(key uint64) uint64 { return key * 0x9E3779B97F4A7C15 >> 24 }

// find returns the entry of a color that is in the table.
func (t *exactTable) find(key uint64) int {
	h := hash48(key) & t.mask
	for {
		if i := t.slot[h]; i != 0 && t.key[i-1] == key {
			return int(i - 1)
		}
		h = (h + 1) & t.mask
	}
}

func (t *exactTable) row8(pix []uint8, planes [][]uint16) {
	last := uint32(1 << 31)
	var cov []uint16
	n := len(planes[0])
	pix = pix[:3*n]
	for i := 0; i < n; i++ {
		r, g, b := pix[3*i], pix[3*i+1], pix[3*i+2]
		if key := uint32(r)<<16 | uint32(g)<<8 | uint32(b); key != last {
			last = key
			e := t.find(uint64(r)*257<<32 | uint64(g)*257<<16 | uint64(b)*257)
			cov = t.cov[e*t.k : e*t.k+t.k]
		}
		// The run of one color, plane by plane.
		j := i + 1
		for j < n && pix[3*j] == r && pix[3*j+1] == g && pix[3*j+2] == b {
			j++
		}
		for ink, v := range cov {
			run := planes[ink][i:j]
			for x := range run {
				run[x] = v
			}
		}
		i = j - 1
	}
}

func (t *exactTable) row16(pix []uint16, planes [][]uint16) {
	last := ^uint64(0)
	var cov []uint16
	for i := range planes[0] {
		if key := uint64(pix[3*i])<<32 | uint64(pix[3*i+1])<<16 | uint64(pix[3*i+2]); key != last {
			last = key
			e := t.find(key)
			cov = t.cov[e*t.k : e*t.k+t.k]
		}
		for ink, v := range cov {
			planes[ink][i] = v
		}
	}
}
