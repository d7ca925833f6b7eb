package halftone

// mask is one bit for each source column, column x in bit x mod 64 of word
// x/64 + 1. The word before and the bits behind repeat the first and last
// column.
type mask []uint64

func newMask(w int) mask { return make(mask, w/64+3) }

// from returns the 64 columns from lo on.
func (m mask) from(lo int) uint64 {
	i, s := lo>>6+1, lo&63
	return m[i]>>s | m[i+1]<<1<<(63-s)
}

// any reports whether a bit of columns lo … hi is set.
func (m mask) any(lo, hi int) bool { return m.test(lo, hi, 0) }

// all reports whether all bits of columns lo … hi are set.
func (m mask) all(lo, hi int) bool { return !m.test(lo, hi, ^uint64(0)) }

func (m mask) test(lo, hi int, flip uint64) bool {
	a, b := lo>>6+1, hi>>6+1
	first, last := ^uint64(0)<<(lo&63), ^uint64(0)>>(63-hi&63)
	if a == b {
		return (m[a]^flip)&first&last != 0
	}
	found := (m[a]^flip)&first | (m[b]^flip)&last
	for i := a + 1; i < b; i++ {
		found |= m[i] ^ flip
	}
	return found != 0
}

// spread repeats the first and last of w columns outward.
func (m mask) spread(w int) {
	m[0] = -(m[1] & 1)
	last := (w-1)>>6 + 1
	lastBit := m[last] >> ((w - 1) & 63) & 1
	if used := w & 63; used != 0 {
		m[last] = m[last]&(1<<used-1) | -lastBit<<used
	}
	for i := last + 1; i < len(m); i++ {
		m[i] = -lastBit
	}
}

// shifted returns word i of the mask moved so that bit x is column x + dx,
// |dx| < 64.
func (m mask) shifted(i, dx int) uint64 {
	switch {
	case dx > 0:
		return m[i]>>dx | m[i+1]<<(64-dx)
	case dx < 0:
		return m[i]<<-dx | m[i-1]>>(64+dx)
	}
	return m[i]
}
