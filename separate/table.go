package separate

import "math"

// A table is a field packed for looking up pixels: each node holds the
// coverages of four inks in one word, 16 bits each, and interpolation by
// tetrahedra adds two lanes of 32 bits at a time. Weights are whole parts of
// 65536 and sum to it, so a lane never overflows and every machine gets the
// same bits.
type table struct {
	n, k  int
	words int      // words a node: one for up to four inks, else two
	node  []uint64 // nodes in the order of field
	// axis[c][v] holds for value v of channel c the lower node's offset (high
	// half) and fraction<<stepBits | offset to the upper node (low half).
	axis [3][256]uint64
	// sub[cell] is one plus the index of a subdivided cell, by its lower node;
	// nil where none is.
	sub  []uint16
	fine []uint64 // fineNodes nodes for each subdivided cell
}

const (
	divide    = 4 // parts a side of a subdivided cell
	fineSide  = divide + 1
	fineNodes = fineSide * fineSide * fineSide
	stepBits  = 12 // (n²)·words < 4096
	stepMask  = 1<<stepBits - 1
	lanes     = 0x0000FFFF0000FFFF
	laneHalf  = 0x0000800000008000
)

func newTable(f *field) *table {
	t := &table{n: f.n, k: f.k, words: (f.k + 3) / 4}
	nodes := f.n * f.n * f.n
	t.node = make([]uint64, nodes*t.words)
	for i := 0; i < nodes; i++ {
		pack(f.at(i), t.node[i*t.words:(i+1)*t.words])
	}
	for c := range t.axis {
		for v := range t.axis[c] {
			t.axis[c][v] = t.place(c, uint64(v)*257)
		}
	}
	return t
}

func pack(c []float64, out []uint64) {
	for w := range out {
		out[w] = 0
	}
	for i, v := range c {
		out[i/4] |= uint64(math.Round(math.Max(0, math.Min(1, v))*65535)) << (16 * (i % 4))
	}
}

// place returns the axis entry of a 16-bit value of channel c.
func (t *table) place(c int, v uint64) uint64 {
	cells := uint64(t.n - 1)
	q := (v*cells<<16 + 32767) / 65535
	cell := min(q>>16, cells-1)
	step := uint64(t.words)
	for i := c; i < 2; i++ {
		step *= uint64(t.n)
	}
	return cell*step<<32 | (q-cell<<16)<<stepBits | step
}

// look writes the coverages at the three axis entries as words of four 16-bit
// values.
func (t *table) look(r, g, b uint64, out *[2]uint64) {
	off := uint32(r>>32) + uint32(g>>32) + uint32(b>>32)
	x, y, z := uint32(r), uint32(g), uint32(b)
	node := t.node
	if t.sub != nil {
		if s := t.sub[off/uint32(t.words)]; s != 0 {
			node = t.fine
			off = uint32(s-1) * fineNodes * uint32(t.words)
			w := uint32(t.words)
			x = finer(x, fineSide*fineSide*w, &off)
			y = finer(y, fineSide*w, &off)
			z = finer(z, w, &off)
		}
	}
	// Largest fraction first: the path of the tetrahedron through the cell.
	top, low := max(x, y), min(x, y)
	hi := max(top, z)
	top = min(top, z)
	mid, lo := max(low, top), min(low, top)
	fh, fm, fl := uint64(hi>>stepBits), uint64(mid>>stepBits), uint64(lo>>stepBits)
	w0, w1, w2 := 1<<16-fh, fh-fm, fm-fl
	n1 := off + hi&stepMask
	n2 := n1 + mid&stepMask
	n3 := n2 + lo&stepMask
	a, p, q, d := node[off], node[n1], node[n2], node[n3]
	even := (a&lanes)*w0 + (p&lanes)*w1 + (q&lanes)*w2 + (d&lanes)*fl + laneHalf
	odd := (a>>16&lanes)*w0 + (p>>16&lanes)*w1 + (q>>16&lanes)*w2 + (d>>16&lanes)*fl + laneHalf
	out[0] = even>>16&lanes | odd&^lanes
	if t.words == 2 {
		a, p, q, d = node[off+1], node[n1+1], node[n2+1], node[n3+1]
		even = (a&lanes)*w0 + (p&lanes)*w1 + (q&lanes)*w2 + (d&lanes)*fl + laneHalf
		odd = (a>>16&lanes)*w0 + (p>>16&lanes)*w1 + (q>>16&lanes)*w2 + (d>>16&lanes)*fl + laneHalf
		out[1] = even>>16&lanes | odd&^lanes
	}
}

// finer splits an axis entry's fraction into a node of a subdivided cell,
// added to off, and the fraction there.
func finer(x, step uint32, off *uint32) uint32 {
	f := x >> stepBits * divide
	cell := min(f>>16, divide-1)
	*off += cell * step
	return (f-cell<<16)<<stepBits | step
}

// row8 writes the coverages of a run of pixels, three bytes each, to one plane
// an ink, all of the same length.
func (t *table) row8(pix []uint8, planes [][]uint16) {
	if t.words == 1 && t.sub == nil && t.k >= 3 {
		t.row8plain(pix, planes)
		return
	}
	var out [2]uint64
	last := uint32(1 << 31)
	for i := range planes[0] {
		p := pix[3*i : 3*i+3 : 3*i+3]
		if key := uint32(p[0])<<16 | uint32(p[1])<<8 | uint32(p[2]); key != last {
			last = key
			t.look(t.axis[0][p[0]], t.axis[1][p[1]], t.axis[2][p[2]], &out)
		}
		put(&out, planes, i)
	}
}

// row8plain is row8 for three or four inks without subdivided cells.
func (t *table) row8plain(pix []uint8, planes [][]uint16) {
	n := len(planes[0])
	p0, p1, p2 := planes[0][:n], planes[1][:n], planes[2][:n]
	p3 := p0
	if t.k == 4 {
		p3 = planes[3][:n]
	}
	four := t.k == 4
	pix = pix[:3*n]
	node := t.node
	var word uint64
	last := uint32(1 << 31)
	for i := 0; i < n; i++ {
		r, g, b := pix[3*i], pix[3*i+1], pix[3*i+2]
		if key := uint32(r)<<16 | uint32(g)<<8 | uint32(b); key != last {
			last = key
			er, eg, eb := t.axis[0][r], t.axis[1][g], t.axis[2][b]
			off := uint32(er>>32) + uint32(eg>>32) + uint32(eb>>32)
			x, y, z := uint32(er), uint32(eg), uint32(eb)
			top, low := max(x, y), min(x, y)
			hi := max(top, z)
			top = min(top, z)
			mid, lo := max(low, top), min(low, top)
			fh, fm, fl := uint64(hi>>stepBits), uint64(mid>>stepBits), uint64(lo>>stepBits)
			w0, w1, w2 := 1<<16-fh, fh-fm, fm-fl
			n1 := off + hi&stepMask
			n2 := n1 + mid&stepMask
			n3 := n2 + lo&stepMask
			a, p, q, d := node[off], node[n1], node[n2], node[n3]
			even := (a&lanes)*w0 + (p&lanes)*w1 + (q&lanes)*w2 + (d&lanes)*fl + laneHalf
			odd := (a>>16&lanes)*w0 + (p>>16&lanes)*w1 + (q>>16&lanes)*w2 + (d>>16&lanes)*fl + laneHalf
			word = even>>16&lanes | odd&^lanes
		}
		p0[i], p1[i], p2[i] = uint16(word), uint16(word>>16), uint16(word>>32)
		if four {
			p3[i] = uint16(word >> 48)
		}
	}
}

// row16 is row8 for pixels of three 16-bit values.
func (t *table) row16(pix []uint16, planes [][]uint16) {
	var out [2]uint64
	var last [3]uint16
	for i := range planes[0] {
		p := [3]uint16(pix[3*i : 3*i+3])
		if i == 0 || p != last {
			last = p
			t.look(t.place(0, uint64(p[0])), t.place(1, uint64(p[1])), t.place(2, uint64(p[2])), &out)
		}
		put(&out, planes, i)
	}
}

func put(words *[2]uint64, planes [][]uint16, i int) {
	for j, p := range planes {
		p[i] = uint16(words[j>>2] >> (16 * (j & 3)))
	}
}

// at returns the coverages at a 16-bit color.
func (t *table) at(rgb [3]uint16, out []float64) {
	var words [2]uint64
	t.look(t.place(0, uint64(rgb[0])), t.place(1, uint64(rgb[1])), t.place(2, uint64(rgb[2])), &words)
	for j := range out {
		out[j] = float64(uint16(words[j>>2]>>(16*(j&3)))) / 65535
	}
}
