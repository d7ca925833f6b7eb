package composite

import (
	"math"

	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

// measured puts measured colors in the place of predicted ones. What contains
// a measured overprint keeps its predicted ratio to it, in each of X, Y and Z
// and inside the surface: what that gives back is no part of what layers change.
func (st *stack) measured(prim []spectrum.XYZ) {
	known := st.known()
	white := spectrum.White()
	inside := func(v float64, c int) float64 {
		return max(st.sheet.Surface.Inside(v/white[c]), inkless)
	}
	// part[m] is what measuring m says beyond what measuring parts of m said;
	// a mask takes the parts of all it contains, in logarithms.
	part := make([][3]float64, len(prim))
	for mask := 1; mask < len(prim); mask++ {
		var sum [3]float64
		for sub := (mask - 1) & mask; sub > 0; sub = (sub - 1) & mask {
			for c := range sum {
				sum[c] += part[sub][c]
			}
		}
		m := known[mask]
		for c := range sum {
			p := inside(prim[mask][c], c)
			if m != nil {
				part[mask][c] = math.Log(inside(m[c], c)/p) - sum[c]
				prim[mask][c] = m[c]
			} else if sum[c] != 0 {
				prim[mask][c] = white[c] * st.sheet.Surface.Outside(min(p*math.Exp(sum[c]), 1))
			}
		}
	}
}

// known returns the colors that were measured on this paper, by mask: solids of
// single inks with their own base, and overprints; nil where none was.
func (st *stack) known() []*spectrum.XYZ {
	known := make([]*spectrum.XYZ, 1<<len(st.uses))
	for i, u := range st.uses {
		if p, err := st.shelf.Paper(u.On); err == nil && p == st.paper && st.own[i] {
			known[1<<i] = &u.Color
		}
	}
	for n := range st.shelf.Overprints {
		o := &st.shelf.Overprints[n]
		if mask, ok := st.mask(o); ok && o.Solid() {
			known[mask] = &o.Color
		}
	}
	return known
}

// Measured says which overprint colors of New stand on a measurement on this
// paper, by mask: the paper, solids printed with the base they were measured
// with, and measured overprints. All others are predicted.
func Measured(shelf *ink.Shelf, paper *ink.Paper, uses []Use) ([]bool, error) {
	st, err := newStack(shelf, paper, uses)
	if err != nil {
		return nil, err
	}
	measured := make([]bool, 1<<len(uses))
	for mask, c := range st.known() {
		measured[mask] = mask == 0 || c != nil
	}
	return measured, nil
}

// inkless is the reflectance inside the sheet below which ratios are noise.
const inkless = 2e-3

// mask returns the bits of a measured overprint that stands for this print:
// same paper, same order, same base.
func (st *stack) mask(o *ink.Overprint) (mask int, ok bool) {
	if p, err := st.shelf.OverprintPaper(o); err != nil || p != st.paper {
		return 0, false
	}
	next := 0
	for _, name := range o.Inks {
		i, err := st.shelf.Ink(name)
		if err != nil {
			return 0, false
		}
		for next < len(st.uses) && st.uses[next] != i {
			next++
		}
		if next == len(st.uses) || !st.own[next] {
			return 0, false
		}
		mask |= 1 << next
		next++
	}
	return mask, true
}

// doubtStep is how far an opacity that nobody stated is taken to be off.
const doubtStep = 0.1

// Doubt says how sure the overprint colors of New are: by mask, the ΔE00 by
// which each moves when the inks of which no opacity is known have one of .1
// instead of 0. Several such inks add up as independent errors do. It is 0 for
// the paper, for solids measured on it and for measured overprints.
func Doubt(shelf *ink.Shelf, paper *ink.Paper, uses []Use) ([]float64, error) {
	st, err := newStack(shelf, paper, uses)
	if err != nil {
		return nil, err
	}
	base := st.overprints()
	doubt := make([]float64, len(base))
	for i, u := range uses {
		if u.Ink.OpacityKnown() {
			continue
		}
		f, err := shelf.FilmWith(u.Ink, doubtStep)
		if err != nil {
			return nil, err
		}
		kept := st.films[i]
		st.films[i] = f.WithBase(u.Base)
		for mask, c := range st.overprints() {
			d := spectrum.DeltaE(c.Lab(), base[mask].Lab())
			doubt[mask] += d * d
		}
		st.films[i] = kept
	}
	for mask := range doubt {
		doubt[mask] = math.Sqrt(doubt[mask])
	}
	return doubt, nil
}
