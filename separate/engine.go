package separate

import (
	"context"
	"errors"
	"fmt"
	"math"

	"platewright/composite"
	"platewright/separate/artwork"
)

// exactColors is the number of distinct colors up to which SolveAuto refines
// each: about a second's work on one core.
const exactColors = 20000

// paletteLimit is the number of distinct colors a palette keeps and counts.
const paletteLimit = 1 << 18

// Separate splits a flattened picture into one plate per ink of m, in print
// order. Picture.Flatten must have laid transparency over the paper; pixels
// that it marked transparent are bare.
//
// The coverages of each color minimize the squared CIEDE2000 distance (in its
// form for small differences) to the wanted color, plus small terms for ink
// and for many inks in one spot, within 0 … 1. See the package comment for the
// neighbor term that keeps plates smooth.
func Separate(ctx context.Context, p *artwork.Picture, m *composite.Model, opt Options) (*Result, error) {
	if err := opt.check(m.Inks()); err != nil {
		return nil, err
	}
	if p.Width < 1 || p.Height < 1 {
		return nil, errors.New("separate: the picture has no pixels")
	}
	e := &engine{ctx: ctx, p: p, m: m, opt: &opt, read: newReading(p.Space, m, &opt)}
	return e.run()
}

type engine struct {
	ctx  context.Context
	p    *artwork.Picture
	m    *composite.Model
	opt  *Options
	read *reading
	pal  *palette
	fs   *fieldSolver
	res  *Result

	starts *startTable
}

func (e *engine) run() (*Result, error) {
	k := e.m.Inks()
	e.res = &Result{Width: e.p.Width, Height: e.p.Height, inks: k}
	e.pal = newPalette(e.p, paletteLimit)
	e.res.Distinct = len(e.pal.colors)
	e.starts = newStartTable(e.m)
	e.fs = &fieldSolver{m: e.m, inksPerSpot: e.opt.inksPerSpot(), smooth: e.opt.smooth(), target: e.read.target, cells: e.pal.cells, starts: e.starts, workers: e.opt.Workers}

	e.res.Tints, e.res.Why = e.rule()
	if err := e.ctx.Err(); err != nil {
		return nil, err
	}
	var err error
	switch {
	case e.res.Tints != TintsAny:
		err = e.labels()
	case e.opt.Underbase:
		err = e.overBase()
	default:
		err = e.continuous()
	}
	if err != nil {
		return nil, err
	}
	e.findings()
	return e.res, e.ctx.Err()
}

// rule decides which tints the plates may hold.
func (e *engine) rule() (TintRule, string) {
	if e.opt.Tints != TintsAuto {
		return e.opt.Tints, "as asked"
	}
	f := e.flatness()
	if f.Flat {
		return TintsNone, fmt.Sprintf("flat artwork: %.0f %% of it lies in %d plain colors", 100*f.Share, f.Colors)
	}
	return TintsAny, fmt.Sprintf("continuous tone: only %.0f %% of it lies in plain colors", 100*f.Share)
}

// continuous fills the plates where every coverage is allowed.
func (e *engine) continuous() error {
	solve := e.opt.Solve
	if solve == SolveAuto {
		solve = SolveLattice
		if !e.pal.over && len(e.pal.colors) <= exactColors {
			solve = SolveExact
		}
	}
	if solve == SolveExact && e.pal.over {
		return fmt.Errorf("separate: the picture has %d distinct colors or more: refine at most %d of them exactly, or use the lattice", len(e.pal.colors), paletteLimit)
	}
	e.res.Solve = solve
	f := e.fs.solve(2)
	if err := e.ctx.Err(); err != nil {
		return err
	}
	var look rower
	if solve == SolveExact {
		look = e.refineAll(f)
	} else {
		t := newTable(f, e.opt.inksPerSpot())
		e.subdivide(f, t)
		look = t
		e.latticeError(f, t)
	}
	if err := e.ctx.Err(); err != nil {
		return err
	}
	e.res.rows = &rows{p: e.p, look: look, bare: e.bareSet()}
	if !e.opt.ByRows || len(e.opt.Pins) > 0 {
		e.res.Hold(e.opt.Workers)
	}
	e.pin()
	e.fitPlanes()
	return nil
}

// A rower turns runs of pixels into coverages.
type rower interface {
	// row8 takes three bytes a pixel; what is bare gets no ink.
	row8(pix []uint8, planes [][]uint16, bare bareSet)
	row16(pix []uint16, planes [][]uint16)
}

// bareSet is the encoded colors that print nothing.
type bareSet [][3]uint16

func (e *engine) bareSet() bareSet {
	full := 255.0
	if e.p.Pix == nil {
		full = 65535
	}
	return e.read.bareCodes(e.opt, full)
}

func (b bareSet) has(r, g, bl uint16) bool {
	for _, c := range b {
		if c[0] == r && c[1] == g && c[2] == bl {
			return true
		}
	}
	return false
}

// clear8 takes the ink from bare pixels of a block of n that lies from pixel from
// on. Nearly always there are one or two bare colors.
func (b bareSet) clear8(k *pixels, planes [][]uint16, from, n int) {
	for c := 0; c < len(b); c += 2 {
		one, other := b.key(c), b.key(min(c+1, len(b)-1))
		for i, key := range k[:n] {
			if key == one || key == other {
				for _, p := range planes {
					p[from+i] = 0
				}
			}
		}
	}
}

// key is bare color c, of 8 bits, as pixels hold it.
func (b bareSet) key(c int) uint32 {
	return uint32(b[c][0]) | uint32(b[c][1])<<8 | uint32(b[c][2])<<16
}

func (b bareSet) clear16(pix []uint16, planes [][]uint16) {
	for x := range planes[0] {
		if b.has(pix[3*x], pix[3*x+1], pix[3*x+2]) {
			for i := range planes {
				planes[i][x] = 0
			}
		}
	}
}

// weightRefine holds a refined color to the lattice's answer in directions
// that color does not decide, in ΔE00² per unit of coverage squared: noise of
// the artwork does not reach the plates there.
const weightRefine = 150

// refineAll solves every distinct color from the field's branch.
func (e *engine) refineAll(f *field) *exactTable {
	k := f.k
	t := newExactTable(e.pal.colors, k)
	parallel(len(e.pal.colors), e.opt.Workers, func() func(int) {
		s := newSolver(e.m, e.opt.inksPerSpot(), e.starts)
		if e.opt.smooth() > 0 {
			s.hold()
		}
		c := make([]float64, k)
		return func(i int) {
			e.refine(s, f, e.pal.colors[i], c)
			for j, v := range c {
				if e.opt.smooth() > 0 {
					v = clean(v)
				}
				t.cov[i*k+j] = uint16(math.Round(v * 65535))
			}
		}
	})
	return t
}

// specks is the coverage up to which a refined color keeps no dot, nor a hole
// in a solid: dots that would neither show nor hold on a stencil.
const specks = .012

// clean takes coverage within specks of nothing or solid to it, and makes up
// for it, without a step, by three times that.
func clean(v float64) float64 {
	switch {
	case v < 3*specks:
		return math.Max(0, v-specks) * 1.5
	case v > 1-3*specks:
		return 1 - math.Max(0, 1-v-specks)*1.5
	}
	return v
}

// refine writes the coverages of one color to c.
func (e *engine) refine(s *solver, f *field, rgb [3]uint16, c []float64) {
	v := unit(rgb)
	t := e.read.target(v)
	if e.opt.smooth() == 0 {
		copy(c, s.candidates(&t, globalStarts, globalSteps)[0].c[:s.k])
		return
	}
	f.interpolate(v, c)
	p := pull{weight: weightRefine * e.opt.smooth()}
	copy(p.to[:], c)
	s.descend(c, &t, &p, 12)
	s.thin(c, &t, p.weight)
}

func unit(rgb [3]uint16) [3]float64 {
	return [3]float64{float64(rgb[0]) / 65535, float64(rgb[1]) / 65535, float64(rgb[2]) / 65535}
}

// parallelChunks runs do for 0 … n−1, one call at a time a worker.
func parallelChunks(n, workers int, do func(int)) {
	next := make(chan int, n)
	for i := 0; i < n; i++ {
		next <- i
	}
	close(next)
	parallelWorkers(workers, func() {
		for i := range next {
			do(i)
		}
	})
}
