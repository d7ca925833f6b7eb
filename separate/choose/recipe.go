package choose

import (
	"fmt"
	"math"
	"slices"

	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

// A Recipe is a color mixed from inks and transparent base, in parts by weight.
//
// The film of a mix is the sum of its parts' films by their share of the
// weight, K = Σ cᵢKᵢ and S = Σ cᵢSᵢ (Kubelka and Munk 1931; linear in
// concentration, Duncan 1940). Real mixes depart from it (Nobbs 1997): weigh a
// small trial first, and correct it with Correct.
type Recipe struct {
	Want    spectrum.XYZ
	Parts   []Part       // inks, the most first, then base; percents sum to 100
	Color   spectrum.XYZ // predicted solid on the paper
	Opacity float64      // predicted contrast ratio
	DE      float64      // CIEDE2000 between the two
	InReach bool         // DE is within MixReach; otherwise this is the nearest

	// OnInks is the mix printed over the solid of each ink of the shelf.
	OnInks []OnInk

	Film *ink.Film // of the mix
}

// MixReach is the CIEDE2000 within which a mix counts as the color: about the
// smallest difference seen side by side.
const MixReach = 1.0

// Part is one component of a recipe.
type Part struct {
	Name    string
	Ink     *ink.Ink // nil: transparent base
	Percent float64  // of the total weight
	Grams   float64  // in steps of the scale
}

// OnInk is the color of a mix printed over the solid of another ink.
type OnInk struct {
	Name  string
	Color spectrum.XYZ
}

// BaseName is what a recipe calls transparent base that the shelf does not
// name.
const BaseName = "transparent base"

// Mixing says how a recipe is weighed.
type Mixing struct {
	Grams   float64 // in all; 0: 100
	Step    float64 // of the scale in grams; 0: 0.1
	Inks    int     // most inks beside base; 0: 3
	With    []string
	Without []string

	// Opacity is the wanted contrast ratio, 0 … 1, where it matters; 0: any.
	Opacity float64
}

func (m *Mixing) grams() float64 {
	if m.Grams == 0 {
		return 100
	}
	return m.Grams
}

func (m *Mixing) step() float64 {
	if m.Step == 0 {
		return .1
	}
	return m.Step
}

func (m *Mixing) inks() int {
	if m.Inks == 0 {
		return 3
	}
	return m.Inks
}

func (m *Mixing) check() error {
	switch {
	case !(m.grams() > 0 && m.grams() <= 1e6):
		return wrong("%g g: give the weight of the mix in grams, more than 0 and up to 1,000,000", m.Grams)
	case !(m.step() > 0 && m.step() <= m.grams()/10):
		return wrong("a scale in steps of %g g weighs %g g too roughly: give a finer scale or mix more", m.step(), m.grams())
	case m.inks() < 1 || m.inks() > 3:
		return wrong("%d inks in a recipe: give 1 to 3", m.Inks)
	case m.Opacity < 0 || m.Opacity > 1:
		return wrong("opacity %g: give a contrast ratio from 0 to 1", m.Opacity)
	}
	return nil
}

// weigh sets the grams of the parts to whole steps of the scale that sum to
// the total, and the percents to what is weighed. What rounding leaves over
// goes to the part that it changes least, the heaviest.
func (r *Recipe) weigh(total, step float64) {
	units := math.Round(total / step)
	left := units
	heaviest := 0
	n := make([]float64, len(r.Parts))
	for i, p := range r.Parts {
		n[i] = math.Round(p.Percent / 100 * units)
		left -= n[i]
		if p.Percent > r.Parts[heaviest].Percent {
			heaviest = i
		}
	}
	n[heaviest] += left
	for i := range r.Parts {
		r.Parts[i].Grams = math.Round(n[i]*step*1e6) / 1e6
		r.Parts[i].Percent = 100 * n[i] / units
	}
}

// Scale returns the recipe for another weight in all, in steps of a scale. The
// color it prints is that of the recipe but for rounding.
func (r *Recipe) Scale(grams, step float64) (*Recipe, error) {
	m := Mixing{Grams: grams, Step: step}
	if err := m.check(); err != nil {
		return nil, err
	}
	out := *r
	out.Parts = slices.Clone(r.Parts)
	out.weigh(m.grams(), m.step())
	return &out, nil
}

// ScaleTo returns the recipe for as much as there is of one part.
func (r *Recipe) ScaleTo(name string, grams, step float64) (*Recipe, error) {
	for _, p := range r.Parts {
		if p.Name == name && p.Percent > 0 {
			return r.Scale(grams/p.Percent*100, step)
		}
	}
	return nil, wrong("the recipe has no %q: name one of its parts", name)
}

// Words is the recipe in one line.
func (r *Recipe) Words() string {
	s := ""
	for i, p := range r.Parts {
		if i > 0 {
			s += ", "
		}
		s += fmt.Sprintf("%s %.4g %%", p.Name, math.Round(10*p.Percent)/10)
	}
	return s
}

// Ink returns the mix as an ink of a shelf: what is predicted of it over the
// paper and over black, as spectra, so that it prints as the recipe says
// wherever it is used. The recipe stands in its note.
func (r *Recipe) Ink(name string, shelf *ink.Shelf, paper *ink.Paper) *ink.Ink {
	sheet := shelf.Sheet(paper)
	l := ink.NewLayer(r.Film)
	inside := l.Over(&sheet.Inside)
	on := sheet.Surface.Leave(&inside)
	black := spectrum.XYZ{.03 * 96.422, .03 * 100, .03 * 82.521}
	under, _ := spectrum.Smooth(black)
	under = sheet.Surface.Enter(&under)
	inside = l.Over(&under)
	over := sheet.Surface.Leave(&inside)
	i := ink.NewInk(name, r.Color)
	i.On = paper.Name
	i.Spectrum, i.OverBlackSpectrum, i.Black = &on, &over, &black
	i.By = "a recipe, computed"
	i.Note = "recipe: " + r.Words()
	for _, p := range r.Parts {
		if p.Ink == nil {
			i.Base = math.Round(10*p.Percent) / 10
		}
	}
	return i
}
