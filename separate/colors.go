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
	k     int
	shift int    // of a hash, to an index of slot
	slot  []slot // by hash; a color is at the first free place from there
	cov   []uint16
}

// slot is a color of 48 bits, taken where it has a color, and its place in cov.
type slot struct {
	key uint64
	at  uint32
}

const taken = 1 << 63

func newExactTable(colors [][3]uint16, k int) *exactTable {
	length := bits.Len(uint(4 * len(colors)))
	t := &exactTable{k: k, shift: 64 - length, slot: make([]slot, 1<<length), cov: make([]uint16, k*len(colors))}
	for i, c := range colors {
		key := uint64(c[0])<<32 | uint64(c[1])<<16 | uint64(c[2]) | taken
		h := t.hash(key)
		for t.slot[h].key != 0 {
			h = (h + 1) & (len(t.slot) - 1)
		}
		t.slot[h] = slot{key, uint32(k * i)}
	}
	return t
}

// hash multiplies by the golden ratio (Knuth, The Art of Computer Programming
// 3, 6.4): the upper bits depend on all of the color.
func (t *exactTable) hash(key uint64) int { return int(key * 0x9E3779B97F4A7C15 >> t.shift) }

// find returns the coverages of a color that is in the table.
func (t *exactTable) find(r, g, b uint64) []uint16 {
	key := r<<32 | g<<16 | b | taken
	h := t.hash(key)
	for {
		h &= len(t.slot) - 1
		if s := &t.slot[h]; s.key == key {
			return t.cov[s.at:][:t.k]
		}
		h++
	}
}

func (t *exactTable) row8(pix []uint8, planes [][]uint16, bare bareSet) {
	var k pixels
	n := len(planes[0])
	for i := 0; i < n; i += block {
		m := min(block, n-i)
		if same := k.read(pix[3*i : 3*(i+m)]); same > m/2 {
			t.runs(k[:m], planes, i)
		} else {
			t.singles(k[:m], planes, i)
		}
		bare.clear8(&k, planes, i, m)
	}
}

func (t *exactTable) find8(key uint32) []uint16 {
	return t.find(uint64(uint8(key))*257, uint64(uint8(key>>8))*257, uint64(uint8(key>>16))*257)
}

// runs writes colors to planes from pixel x on, run by run, plane by plane.
func (t *exactTable) runs(k []uint32, planes [][]uint16, x int) {
	for i := 0; i < len(k); {
		j := i + 1
		for j < len(k) && k[j] == k[i] {
			j++
		}
		for ink, v := range t.find8(k[i]) {
			run := planes[ink][x+i : x+j]
			for y := range run {
				run[y] = v
			}
		}
		i = j
	}
}

// singles is runs where there are few.
func (t *exactTable) singles(k []uint32, planes [][]uint16, x int) {
	n := len(k)
	if t.k == 4 {
		p0, p1, p2, p3 := planes[0][x:x+n], planes[1][x:x+n], planes[2][x:x+n], planes[3][x:x+n]
		for i, key := range k {
			c := (*[4]uint16)(t.find8(key))
			p0[i], p1[i], p2[i], p3[i] = c[0], c[1], c[2], c[3]
		}
		return
	}
	for i, key := range k {
		for ink, v := range t.find8(key) {
			planes[ink][x+i] = v
		}
	}
}

func (t *exactTable) row16(pix []uint16, planes [][]uint16) {
	var last [3]uint16
	var cov []uint16
	for i := range planes[0] {
		if p := [3]uint16(pix[3*i:]); i == 0 || p != last {
			last = p
			cov = t.find(uint64(p[0]), uint64(p[1]), uint64(p[2]))
		}
		for ink, v := range cov {
			planes[ink][i] = v
		}
	}
}
