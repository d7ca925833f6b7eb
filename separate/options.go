package separate

import (
	"errors"
	"fmt"

	"platewright/composite/spectrum"
)

// A TintRule says which coverages a plate may hold.
type TintRule int

const (
	// TintsAuto takes TintsNone for flat artwork and TintsAny for all else.
	TintsAuto TintRule = iota
	// TintsAny allows every coverage.
	TintsAny
	// TintsNone gives each spot one of the 2^k solids and overprints.
	TintsNone
	// TintsList allows nothing, solid and the listed percents.
	TintsList
)

func (r TintRule) String() string {
	return [...]string{"auto", "any", "none", "list"}[r]
}

// OutOfReach says what becomes of colors that the inks cannot print.
type OutOfReach int

const (
	// Nearest prints the nearest color that the inks give.
	Nearest OutOfReach = iota
	// Ease lets white be paper and black the darkest overprint, and draws the
	// strong colors together so that the steps between them stay visible.
	Ease
)

func (o OutOfReach) String() string { return [...]string{"nearest", "ease"}[o] }

// Solve says how coverages are found where tints are allowed.
type Solve int

const (
	// SolveAuto is exact for pictures of few colors and a lattice for the rest.
	SolveAuto Solve = iota
	// SolveExact refines every distinct color.
	SolveExact
	// SolveLattice interpolates in the solved color cube.
	SolveLattice
)

func (s Solve) String() string { return [...]string{"auto", "exact", "lattice"}[s] }

// A Pin keeps one color of the artwork on one ink alone, solid.
type Pin struct {
	Color spectrum.XYZ
	Ink   int // index in print order
}

// Options are the choices of a separation. The zero value is the default.
type Options struct {
	Tints    TintRule
	Percents []float64 // for TintsList: 0 < percent < 100, rising

	OutOfReach  OutOfReach
	InksPerSpot int // beyond it each further ink in a spot costs, and from 3 on is taken away; 0 means 3

	// Smooth weighs the neighbor term that keeps plates from jumping between
	// nearly equal answers. nil means 1; 0 solves every color on its own.
	Smooth *float64

	Solve Solve

	Pins      []Pin
	Unprinted []spectrum.XYZ // colors that are bare paper, besides white and transparent

	// Underbase says that the first ink lies solid beneath all others and where
	// it shows itself, as a white does on dark paper. No ink prints beside it.
	Underbase bool

	// ByRows leaves Result.Ink nil, for pictures whose plates are too large to be
	// held: Result.Row and Result.Plates make them again each time from the
	// picture, which must not change. With pins or an underbase tints are held
	// all the same.
	ByRows bool

	Workers int // goroutines; 0 means one a core. It changes no result.
}

func (o *Options) inksPerSpot() int {
	if o.InksPerSpot == 0 {
		return 3
	}
	return o.InksPerSpot
}

func (o *Options) smooth() float64 {
	if o.Smooth == nil {
		return 1
	}
	return *o.Smooth
}

func (o *Options) check(inks int) error {
	if o.Tints == TintsList {
		if len(o.Percents) == 0 {
			return fmt.Errorf("separate: a list of tints needs percents between 0 and 100")
		}
		last := 0.0
		for _, p := range o.Percents {
			if p <= last || p >= 100 {
				return fmt.Errorf("separate: tint %g: list percents between 0 and 100, rising", p)
			}
			last = p
		}
	}
	if o.Underbase && inks < 2 {
		return errors.New("separate: an underbase needs an ink over it")
	}
	if o.InksPerSpot < 0 {
		return fmt.Errorf("separate: %d inks in one spot: give 1 or more", o.InksPerSpot)
	}
	if s := o.smooth(); !(s >= 0 && s <= 100) {
		return fmt.Errorf("separate: a smoothness of %g: give 0 to 100", s)
	}
	for _, p := range o.Pins {
		if p.Ink < 0 || p.Ink >= inks {
			return fmt.Errorf("separate: a color is pinned to ink %d of %d", p.Ink+1, inks)
		}
	}
	return nil
}

// A Result is what a separation gives.
type Result struct {
	Width, Height int
	// Ink holds one plate per ink in print order, row-major: coverage 0 … 65535.
	// It is nil where Options.ByRows left the plates to be made by Row.
	Ink [][]uint16

	inks int
	rows *rows // where Ink is nil
	// Labels stands for the plates at any resolution when tints are none or
	// listed; nil otherwise.
	Labels *Labels
	// Tints is the rule that was followed, and Why says in words why.
	Tints TintRule
	Why   string
	// Solve is how coverages were found: SolveExact or SolveLattice.
	Solve Solve
	// Distinct is the number of distinct colors, counted up to DistinctLimit.
	Distinct int
	Fit      Fit
	Findings []Finding
}

// DistinctLimit is where counting distinct colors ends for 16-bit pictures.
const DistinctLimit = 1 << 20

// A Fit says how near the print comes to the artwork. Differences are
// CIEDE2000 between the wanted color and the predicted print; bare paper
// counts as met.
type Fit struct {
	MeanDE, P95DE, MaxDE float64
	// InReach is the percentage of the area printed within ReachDE.
	InReach float64
	// LatticeDE is the mean difference in color between the lattice and the
	// exact answer, LatticeDE99 its 99th percentile, and LatticePercent the
	// root mean square of the difference in coverage, in percent. Zero when
	// every color was refined.
	LatticeDE, LatticeDE99, LatticePercent float64
	// ManyInks is the percentage of the area in which more inks than
	// Options.InksPerSpot have over 2 % of coverage.
	ManyInks float64
}

// ReachDE is the CIEDE2000 difference within which a color counts as in reach:
// seen only side by side, and within what hand pulls vary by (2 to 5, common
// practice).
const ReachDE = 3

// A Finding is something the printer should know. Level is "note" or "warning";
// Code is stable; Mend says
// what to do.
type Finding struct{ Code, Level, Message, Mend string }
