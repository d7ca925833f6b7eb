package composite

import (
	"errors"

	"platewright/composite/spectrum"
)

// OverFirst returns the model of all inks but the first, printed over the first
// one's solid as if that were the paper: what prints over an underbase.
// Measured tints of overlaps are left out of it.
func (m *Model) OverFirst() (*Model, error) {
	if m.k < 2 {
		return nil, errors.New("composite: nothing is printed over the first ink: name another one")
	}
	prim := make([]spectrum.XYZ, 1<<(m.k-1))
	for mask := range prim {
		prim[mask] = m.prim[mask<<1|1]
	}
	return newModel(m.k-1, prim, m.n, m.tones[1:])
}
