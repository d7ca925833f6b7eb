package film

import (
	"encoding/binary"
	"math/bits"
)

// bitWriter gathers codes from the highest bit down.
type bitWriter struct {
	out []byte
	acc uint64
	n   uint // bits in acc, under 8 between calls
}

// put adds the n lowest bits of code, n ≤ 32.
func (b *bitWriter) put(code uint32, n uint) {
	b.acc = b.acc<<n | uint64(code)
	b.n += n
	for b.n >= 8 {
		b.n -= 8
		b.out = append(b.out, byte(b.acc>>b.n))
	}
}

// bitLen is how many bits have been put.
func (b *bitWriter) bitLen() int { return len(b.out)*8 + int(b.n) }

// flush fills the last byte with 0.
func (b *bitWriter) flush() {
	if b.n > 0 {
		b.put(0, 8-b.n)
	}
}

// join adds the first n bits of packed bytes.
func (b *bitWriter) join(p []byte, n int) {
	full := n / 8
	if b.n == 0 {
		b.out = append(b.out, p[:full]...)
	} else {
		for _, v := range p[:full] {
			b.put(uint32(v), 8)
		}
	}
	if r := uint(n % 8); r > 0 {
		b.put(uint32(p[full]>>(8-r)), r)
	}
}

// endOfBlock is EOFB of ITU-T T.6: two end-of-line codes.
func (b *bitWriter) endOfBlock() {
	b.put(1, 12)
	b.put(1, 12)
}

// group4Row codes a row of w pixels against the row above it (ITU-T T.6, 2.2);
// above is nil for white. 1 bits are black.
func (b *bitWriter) group4Row(row, above []byte, w int) {
	// a0 starts on an imaginary white pixel left of the row.
	// a0 starts on an imaginary white pixel left of the row, where a change at
	// pixel 0 still counts as one to its right.
	a0, black := 0, false
	for start := true; start || a0 < w; start = false {
		b1 := a0
		if !start && bitAt(above, a0) != black {
			b1 = runEnd(above, a0, w, !black) // this run began at a0 or left of it
		}
		b1 = runEnd(above, b1, w, black)
		a1 := runEnd(row, a0, w, black)
		if b2 := runEnd(above, b1, w, !black); b2 < a1 {
			b.put(1, 4) // pass
			a0 = b2
			continue
		}
		if d := a1 - b1; d >= -3 && d <= 3 {
			v := vertical[d+3]
			b.put(v.code, v.n)
			a0, black = a1, !black
			continue
		}
		a2 := runEnd(row, a1, w, !black)
		b.put(1, 3) // horizontal
		b.run(a1-a0, black)
		b.run(a2-a1, !black)
		a0 = a2
	}
}

func bitAt(row []byte, x int) bool {
	return row != nil && row[x>>3]>>(7-x&7)&1 == 1
}

// runEnd is the first pixel from x on that is not of the color, w at most. A nil
// row is white.
func runEnd(row []byte, x, w int, black bool) int {
	if row == nil {
		if black {
			return min(x, w)
		}
		return w
	}
	var flip byte
	if black {
		flip = 0xff
	}
	if x >= w {
		return w
	}
	i := x >> 3
	if v := (row[i] ^ flip) << (x & 7); v != 0 {
		return min(w, x+bits.LeadingZeros8(v))
	}
	i++
	n := (w + 7) >> 3
	var flip8 uint64
	if black {
		flip8 = ^uint64(0)
	}
	for ; i+8 <= n; i += 8 {
		if v := binary.BigEndian.Uint64(row[i:]) ^ flip8; v != 0 {
			return min(w, i*8+bits.LeadingZeros64(v))
		}
	}
	for ; i < n; i++ {
		if v := row[i] ^ flip; v != 0 {
			return min(w, i*8+bits.LeadingZeros8(v))
		}
	}
	return w
}

// run codes a run length: make-up codes of 2560 as often as needed, one of the
// rest, and a terminating code (ITU-T T.4, tables 2 and 3).
func (b *bitWriter) run(n int, black bool) {
	for ; n >= 2560; n -= 2560 {
		b.put(longUp[12].code, longUp[12].n)
	}
	term, up := &whiteTerm, &whiteUp
	if black {
		term, up = &blackTerm, &blackUp
	}
	if k := n / 64; k > len(up) {
		b.put(longUp[k-len(up)-1].code, longUp[k-len(up)-1].n)
	} else if k > 0 {
		b.put(up[k-1].code, up[k-1].n)
	}
	b.put(term[n%64].code, term[n%64].n)
}
