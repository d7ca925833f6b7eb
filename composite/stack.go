package composite

import (
	"fmt"
	"math"
	"math/bits"

	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

// A Use is an ink as it goes into a print.
type Use struct {
	Ink  *ink.Ink
	Base float64 // percent of transparent base to print with; NaN or negative: as measured
}

// AsMeasured returns the uses of inks printed in this order with the base that
// each was measured with.
func AsMeasured(inks ...*ink.Ink) []Use {
	uses := make([]Use, len(inks))
	for i := range inks {
		uses[i] = Use{inks[i], math.NaN()}
	}
	return uses
}

// New returns the model of a print: uses in print order, first printed first,
// 1 to MaxInks. The papers of the shelf and its inks should be ready (Load and
// Prepare see to it), or each call works them out anew.
func New(shelf *ink.Shelf, paper *ink.Paper, uses []Use) (*Model, error) {
	if len(uses) < 1 || len(uses) > MaxInks {
		return nil, fmt.Errorf("composite: %d inks: a print takes 1 to %d", len(uses), MaxInks)
	}
	st := stack{shelf: shelf, paper: paper, sheet: shelf.Sheet(paper)}
	tones := make([]*[3]Tone, len(uses))
	for i, u := range uses {
		for _, v := range uses[:i] {
			if v.Ink == u.Ink {
				return nil, fmt.Errorf("composite: %q is there twice; print it once", u.Ink.Name)
			}
		}
		f, err := shelf.Film(u.Ink)
		if err != nil {
			return nil, fmt.Errorf("composite: %w", err)
		}
		st.uses = append(st.uses, u.Ink)
		st.films = append(st.films, f.WithBase(u.Base))
		st.own = append(st.own, !(u.Base >= 0) || u.Base == f.Base)
		if tones[i], err = inkTones(shelf, u.Ink); err != nil {
			return nil, fmt.Errorf("composite: %w", err)
		}
	}
	prim := st.predict()
	st.measured(prim)
	return newModel(len(uses), prim, st.sheet.N, tones)
}

// stack is the layers of a print in print order.
type stack struct {
	shelf *ink.Shelf
	paper *ink.Paper
	sheet *ink.Sheet
	uses  []*ink.Ink
	films []*ink.Film
	own   []bool // printed with the base that was measured
}

// predict lays the films over each other and returns the 2^k colors by mask.
func (st *stack) predict() []spectrum.XYZ {
	k := len(st.films)
	layers := make([]*ink.Layer, k)
	glows := false
	for i, f := range st.films {
		layers[i] = ink.NewLayer(f)
		glows = glows || f.Glow != spectrum.XYZ{}
	}
	prim := make([]spectrum.XYZ, 1<<k)
	inside := make([]spectrum.Reflectance, 1<<k)
	glow := make([]spectrum.XYZ, 1<<k)
	var nothing spectrum.Reflectance
	prim[0], inside[0] = st.paper.Color, st.sheet.Inside
	for mask := 1; mask < len(prim); mask++ {
		top := bits.Len(uint(mask)) - 1
		below := mask &^ (1 << top)
		inside[mask] = layers[top].Over(&inside[below])
		prim[mask] = st.sheet.Surface.XYZ(&inside[mask])
		if !glows {
			continue
		}
		// Of what glows below, the layer lets through the share that it lets
		// through of the light from below.
		from, through := inside[below].XYZ(), inside[mask].XYZ()
		own := layers[top].Over(&nothing)
		haze := own.XYZ()
		for c := range prim[mask] {
			glow[mask][c] = st.films[top].Glow[c]
			if from[c] > 0 {
				glow[mask][c] += glow[below][c] * min(1, (through[c]-haze[c])/from[c])
			}
			prim[mask][c] = max(0, prim[mask][c]+glow[mask][c])
		}
	}
	return prim
}

// measured puts measured colors in the place of predicted ones. What contains
// a measured overprint keeps its predicted ratio to it, in each of X, Y and Z.
func (st *stack) measured(prim []spectrum.XYZ) {
	k := len(st.uses)
	known := make([]*spectrum.XYZ, len(prim))
	for i, u := range st.uses {
		if p, err := st.shelf.Paper(u.On); err == nil && p == st.paper && st.own[i] {
			c := u.Color
			known[1<<i] = &c
		}
	}
	for n := range st.shelf.Overprints {
		o := &st.shelf.Overprints[n]
		if mask, ok := st.mask(o); ok {
			known[mask] = &o.Color
		}
	}
	// part[m] is what measuring m says beyond what measuring parts of m said;
	// a mask takes the parts of all it contains, in logarithms.
	part := make([][3]float64, len(prim))
	for size := 1; size <= k; size++ {
		for mask := 1; mask < len(prim); mask++ {
			if bits.OnesCount(uint(mask)) != size {
				continue
			}
			var sum [3]float64
			for sub := (mask - 1) & mask; sub > 0; sub = (sub - 1) & mask {
				for c := range sum {
					sum[c] += part[sub][c]
				}
			}
			if m := known[mask]; m != nil {
				for c := range sum {
					part[mask][c] = math.Log(max(m[c], .01)/max(prim[mask][c], .01)) - sum[c]
				}
				prim[mask] = *m
				continue
			}
			for c := range sum {
				if sum[c] != 0 {
					prim[mask][c] *= math.Exp(sum[c])
				}
			}
		}
	}
}

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
