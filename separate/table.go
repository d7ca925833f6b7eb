package separate

import (
	"encoding/binary"
	"math"
	"math/bits"
)

// A table is a field packed for looking up pixels. Interpolation by tetrahedra
// adds two inks at a time, lanes of 32 bits of a word. Weights are whole parts
// of 65536, so that every machine gets the same bits.
type table struct {
	n, k int
	// most is how many inks a spot may hold where that is firm and there are four;
	// else 4.
	most int
	// node holds the nodes of the first four inks and of the others, nil where
	// there are none.
	node [2]*nodes
	// axis[c][v] holds for value v of channel c the lower node's offset (high
	// half) and fraction<<stepBits | offset to the upper node (low half).
	axis [3][256]uint64
	// sub[cell] is one plus the index of a subdivided cell, by its lower node,
	// and fine the nodes of each.
	sub  *[1 << 16]uint16
	fine [2][]fineCell
}

// nodes are the nodes of a field in its order, as long as an index of 16 bits
// reaches: coverages of the first and third ink, and of the second and fourth,
// of 16 bits in lanes of 32.
type nodes struct{ even, odd [1 << 16]uint64 }

// fineCell is the fineNodes nodes of a subdivided cell.
type fineCell struct{ even, odd [128]uint64 }

const (
	divide    = 4 // parts a side of a subdivided cell
	fineSide  = divide + 1
	fineNodes = fineSide * fineSide * fineSide
	stepBits  = 12 // n² < 4096
	stepMask  = 1<<stepBits - 1
	laneHalf  = 0x0000800000008000
)

func newTable(f *field, inksPerSpot int) *table {
	t := &table{n: f.n, k: f.k, most: 4, sub: new([1 << 16]uint16)}
	if f.k == 4 && firm(4, inksPerSpot) {
		t.most = inksPerSpot
	}
	for w := range (f.k + 3) / 4 {
		t.node[w] = new(nodes)
		for i := range f.n * f.n * f.n {
			t.node[w].even[i], t.node[w].odd[i] = pack(f.at(i), w)
		}
	}
	for c := range t.axis {
		for v := range t.axis[c] {
			t.axis[c][v] = t.place(c, uint64(v)*257)
		}
	}
	return t
}

// pack returns the lanes of inks 4w … 4w+3.
func pack(c []float64, w int) (even, odd uint64) {
	var v [4]uint64
	for i, x := range c[4*w : min(len(c), 4*w+4)] {
		v[i] = uint64(math.Round(math.Max(0, math.Min(1, x)) * 65535))
	}
	return v[0] | v[2]<<32, v[1] | v[3]<<32
}

// place returns the axis entry of a 16-bit value of channel c.
func (t *table) place(c int, v uint64) uint64 {
	cells := uint64(t.n - 1)
	q := (v*cells<<16 + 32767) / 65535
	cell := min(q>>16, cells-1)
	step := uint64(1)
	for i := c; i < 2; i++ {
		step *= uint64(t.n)
	}
	return cell*step<<32 | (q-cell<<16)<<stepBits | step
}

// ordered returns two axis entries, the larger fraction first, without a
// branch: noise would make it unforeseeable.
func ordered(x, y uint32) (uint32, uint32) {
	d := int32(x) - int32(y)
	d &= d >> 31
	return x - uint32(d), y + uint32(d)
}

// look returns the coverages of inks 4w … 4w+3 at the three axis entries, the
// upper half of each lane. It walks from the lower node of the cell along the
// axes, the largest fraction first. A step may be negative in a lane and borrow
// from the next; no sum is, so that it is paid back. Where branches of different
// inks meet in a subdivided cell, what lies between them would have all inks: it
// takes the nearest node.
func (t *table) look(r, g, b uint64, w int) (even, odd uint64) {
	off := uint32((r + g + b) >> 32)
	x, y, z := uint32(r), uint32(g), uint32(b)
	evens, odds := t.node[w].even[:], t.node[w].odd[:]
	s := t.sub[uint16(off)]
	if s != 0 {
		cell := &t.fine[w][s-1]
		evens, odds = cell.even[:], cell.odd[:]
		off = 0
		x = finer(x, fineSide*fineSide, &off)
		y = finer(y, fineSide, &off)
		z = finer(z, 1, &off)
	}
	x, y = ordered(x, y)
	x, z = ordered(x, z)
	y, z = ordered(y, z)
	n1 := off + x&stepMask
	n2 := n1 + y&stepMask
	n3 := n2 + z&stepMask
	f1, f2, f3 := uint64(x>>stepBits), uint64(y>>stepBits), uint64(z>>stepBits)
	a0, a1, a2, a3 := evens[off], evens[n1], evens[n2], evens[n3]
	b0, b1, b2, b3 := odds[off], odds[n1], odds[n2], odds[n3]
	even = a0<<16 + laneHalf + f1*(a1-a0) + f2*(a2-a1) + f3*(a3-a2)
	odd = b0<<16 + laneHalf + f1*(b1-b0) + f2*(b2-b1) + f3*(b3-b2)
	if s == 0 || t.most == 4 || crowd(even, odd) <= t.most {
		return even, odd
	}
	near, most := off, 1<<16-f1
	for _, p := range [3]struct {
		node   uint32
		weight uint64
	}{{n1, f1 - f2}, {n2, f2 - f3}, {n3, f3}} {
		if p.weight > most {
			near, most = p.node, p.weight
		}
	}
	return evens[near] << 16, odds[near] << 16
}

// crowd returns how many of four coverages are above a trace that shows, 2 %.
func crowd(even, odd uint64) int {
	const (
		low = 0x0000ffff0000ffff
		add = 0x0000fae10000fae1 // 2^16 − 1 − 2 % of it
		out = 0x0001000000010000
	)
	return bits.OnesCount64((even>>16&low+add)&out) + bits.OnesCount64((odd>>16&low+add)&out)
}

// finer splits an axis entry's fraction into a node of a subdivided cell,
// added to off, and the fraction there.
func finer(x, step uint32, off *uint32) uint32 {
	f := x >> stepBits * divide
	cell := f >> 16
	cell -= cell / divide // at the cell's end
	*off += cell * step
	return (f-cell<<16)<<stepBits | step
}

// block is how many pixels are looked up at a time.
const block = 256

// pixels are a block of colors, each red | green<<8 | blue<<16.
type pixels [block]uint32

// read takes up to block pixels of three bytes and returns how many follow one
// of the same color.
func (k *pixels) read(pix []uint8) (same int) {
	n := 0
	for ; n <= block-4 && len(pix) >= 12; n += 4 {
		a, b, c := binary.LittleEndian.Uint32(pix), binary.LittleEndian.Uint32(pix[4:]), binary.LittleEndian.Uint32(pix[8:])
		pix = pix[12:]
		q := (*[4]uint32)(k[n:])
		q[0], q[1], q[2], q[3] = a&0xffffff, (a>>24|b<<8)&0xffffff, (b>>16|c<<16)&0xffffff, c>>8
		if q[0] == q[1] {
			same++
		}
		if q[2] == q[3] {
			same++
		}
	}
	for ; n < block && len(pix) >= 3; n++ {
		k[n] = uint32(pix[0]) | uint32(pix[1])<<8 | uint32(pix[2])<<16
		pix = pix[3:]
	}
	return 2 * same
}

// lanes are the coverages of a block, of inks 1 and 3 and of inks 2 and 4.
type lanes struct{ even, odd [block]uint64 }

// row8 writes the coverages of a run of pixels, three bytes each, to one plane
// an ink, all of the same length.
func (t *table) row8(pix []uint8, planes [][]uint16, bare bareSet) {
	var k pixels
	var l lanes
	n := len(planes[0])
	for i := 0; i < n; i += block {
		m := min(block, n-i)
		same := k.read(pix[3*i : 3*(i+m)])
		for w := range (t.k + 3) / 4 {
			if same > m/4 {
				t.runs(&k, &l, m, w)
			} else {
				t.block(&k, &l, m, w)
			}
			l.part(planes[4*w:min(t.k, 4*w+4)], i, m)
		}
		bare.clear8(&k, planes, i, m)
	}
}

// block looks up the first n pixels. What falls into subdivided cells is looked
// up again at the end: a branch among the others would be guessed wrong as
// often as it is taken. The rest is look, written out.
func (t *table) block(k *pixels, l *lanes, n, w int) {
	var late [block]uint8
	lates := 0
	node, sub := t.node[w], t.sub
	for i, key := range k[:n] {
		r, g, b := t.axis[0][uint8(key)], t.axis[1][uint8(key>>8)], t.axis[2][uint8(key>>16)]
		off := uint32((r + g + b) >> 32)
		late[uint8(lates)] = uint8(i)
		lates += int(-uint32(sub[uint16(off)]) >> 31)
		x, y := ordered(uint32(r), uint32(g))
		x, z := ordered(x, uint32(b))
		y, z = ordered(y, z)
		n1 := off + x&stepMask
		n2 := n1 + y&stepMask
		n3 := n2 + z&stepMask
		f1, f2, f3 := uint64(x>>stepBits), uint64(y>>stepBits), uint64(z>>stepBits)
		a0, a1 := node.even[uint16(off)], node.even[uint16(n1)]
		sum := a0<<16 + laneHalf + f1*(a1-a0)
		a2 := node.even[uint16(n2)]
		sum += f2 * (a2 - a1)
		l.even[uint8(i)] = sum + f3*(node.even[uint16(n3)]-a2)
		a0, a1 = node.odd[uint16(off)], node.odd[uint16(n1)]
		sum = a0<<16 + laneHalf + f1*(a1-a0)
		a2 = node.odd[uint16(n2)]
		sum += f2 * (a2 - a1)
		l.odd[uint8(i)] = sum + f3*(node.odd[uint16(n3)]-a2)
	}
	for _, i := range late[:lates] {
		l.even[i], l.odd[i] = t.look8(k[i], w)
	}
}

// runs is block for pixels many of which are like the one before.
func (t *table) runs(k *pixels, l *lanes, n, w int) {
	last := uint32(1 << 31)
	var even, odd uint64
	for i, key := range k[:n] {
		if key != last {
			last = key
			even, odd = t.look8(key, w)
		}
		l.even[i], l.odd[i] = even, odd
	}
}

func (t *table) look8(key uint32, w int) (even, odd uint64) {
	return t.look(t.axis[0][uint8(key)], t.axis[1][uint8(key>>8)], t.axis[2][uint8(key>>16)], w)
}

// part writes n coverages to up to four planes, from pixel x on.
func (l *lanes) part(planes [][]uint16, x, n int) {
	if len(planes) == 4 {
		p0, p1, p2, p3 := planes[0][x:x+n], planes[1][x:x+n], planes[2][x:x+n], planes[3][x:x+n]
		for i, v := range l.even[:n] {
			o := l.odd[i]
			p0[i], p1[i], p2[i], p3[i] = uint16(v>>16), uint16(o>>16), uint16(v>>48), uint16(o>>48)
		}
		return
	}
	for j, p := range planes {
		from, shift := &l.even, 16+16*(j&2)
		if j&1 != 0 {
			from = &l.odd
		}
		p = p[x : x+n]
		for i, v := range from[:n] {
			p[i] = uint16(v >> shift)
		}
	}
}

// row16 is row8 for pixels of three 16-bit values.
func (t *table) row16(pix []uint16, planes [][]uint16) {
	var last [3]uint16
	var c [maxInks]uint16
	for i := range planes[0] {
		p := [3]uint16(pix[3*i : 3*i+3])
		if i == 0 || p != last {
			last = p
			t.all(p, &c)
		}
		for j, p := range planes {
			p[i] = c[j]
		}
	}
}

// all writes the coverages of all inks at a 16-bit color.
func (t *table) all(p [3]uint16, c *[maxInks]uint16) {
	r, g, b := t.place(0, uint64(p[0])), t.place(1, uint64(p[1])), t.place(2, uint64(p[2]))
	for w := range (t.k + 3) / 4 {
		even, odd := t.look(r, g, b, w)
		c[4*w], c[4*w+1], c[4*w+2], c[4*w+3] = uint16(even>>16), uint16(odd>>16), uint16(even>>48), uint16(odd>>48)
	}
}

// at returns the coverages at a 16-bit color.
func (t *table) at(rgb [3]uint16, out []float64) {
	var c [maxInks]uint16
	t.all(rgb, &c)
	for j := range out {
		out[j] = float64(c[j]) / 65535
	}
}
