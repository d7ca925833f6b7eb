// Package preflight looks at a picture the way a print shop does before it
// takes a job: is it large enough, are its edges hard, do its lines and tints
// survive the press, does it fit.
//
// Call [Picture] before transparency is flattened, and [Plates] with the plates
// that were made from it. Both return findings: what is so, where on the print
// in millimetres, the mend in the printer's words and the same in the client's.
// [Mark] draws them on the picture and [Letter] writes them to the client.
//
// Limits are common practice, starting values that the printer's own test print
// overrides; see [Rules]. Lines, gaps and dots come from package spread.
package preflight

import (
	"cmp"
	"slices"
)

// A Level says how much a finding matters.
type Level string

// The levels, rising.
const (
	Note    Level = "note"    // good to know
	Warning Level = "warning" // prints, but hardly as meant
	Fault   Level = "fault"   // does not print as asked
)

// Rank orders levels; what is no level comes before all.
func (l Level) Rank() int {
	return slices.Index([]Level{Note, Warning, Fault}, l)
}

// A Finding is one thing that the printer should know.
type Finding struct {
	Code    string // stable, in kebab case
	Level   Level
	Message string
	Mend    string  // what to do, in the printer's words
	Client  string  // what to ask the client for, without words of the trade
	Places  []Place // where, the worst first; none: all over
}

// A Place is a rectangle on the artwork in millimetres from its top left
// corner.
type Place struct{ X, Y, W, H float64 }

// Rules are what a press, a paper and a hand can hold. The zero value looks
// for nothing that needs one.
type Rules struct {
	LineMM, GapMM     float64 // least width of a line of ink, and of a bare line in ink
	LowTone, HighTone float64 // percents between which tints hold
	RulingLPI         float64 // of the halftone
	BleedMM           float64 // cut off on each side
	SheetMM           [2]float64
	FrameMM           [2]float64 // what a frame, a bed or a drum prints at most
	Duplicator        bool       // a stencil duplicator
	SizeStated        bool       // the print size was asked for or stands in the file
}

// Practice returns common practice for printing by hand: positive lines from
// 0.35 mm, reversed ones from 0.7 mm, tints from 5 to 95 %.
func Practice() Rules {
	return Rules{LineMM: .35, GapMM: .7, LowTone: 5, HighTone: 95}
}

// Sort puts the gravest findings first and keeps the order among equals.
func Sort(f []Finding) {
	slices.SortStableFunc(f, func(a, b Finding) int { return cmp.Compare(b.Level.Rank(), a.Level.Rank()) })
}

// Worst returns the gravest level among findings, "" for none.
func Worst(f []Finding) Level {
	worst := Level("")
	for _, g := range f {
		if g.Level.Rank() > worst.Rank() {
			worst = g.Level
		}
	}
	return worst
}
