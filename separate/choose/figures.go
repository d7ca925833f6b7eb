package choose

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"platewright/composite"
	"platewright/composite/spectrum"
	"platewright/separate"
)

// A Choice is a set of inks for a picture, with what speaks for and against it.
type Choice struct {
	Uses []composite.Use // in print order, first printed first

	// MeanDE, P95DE and InReach say how near the print comes to the main colors
	// of the picture, by area, as in separate.Fit.
	MeanDE, P95DE, InReach float64

	InksPerSpot   float64   // mean number of inks, over 2 % of coverage, where anything is printed
	MostInks      int       // most of them in one spot of at least 0.1 % of the area
	Coverage      []float64 // mean coverage of each ink over the whole area, 0 … 1
	TotalCoverage float64   // of all inks together in the fullest spot, in percent

	// RegisterDE is the mean CIEDE2000 over the area between the print in
	// register and that with one plate out of it by Question.Register, the mean
	// of the plates and of all directions. OpacityDE is the mean difference that 10 % more or less of an
	// ink's opacity makes, the most of the inks; OpacityInk is that ink.
	RegisterDE float64
	OpacityDE  float64
	OpacityInk string

	Alike    [][2]string // pairs of inks that pull the paper nearly the same way
	Overlaps []Overlap   // what each ink and overlap makes of the artwork
	Merged   []Merge     // colors of flat artwork that print alike, largest first
	Farthest *Made       // the main color that comes out worst, where that shows
	RuleDE   float64     // MeanDE in the trade's order, opaque and dark inks first

	Tints separate.TintRule // the rule that the fit follows
	Why   string            // how the choice was made, in words
}

// Names are the inks' names in print order.
func (c *Choice) Names() []string {
	names := make([]string, len(c.Uses))
	for i, u := range c.Uses {
		names[i] = u.Ink.Name
	}
	return names
}

// An Overlap is a combination of inks and the colors of the artwork that it
// makes, largest first.
type Overlap struct {
	Inks   []string     // first printed first
	Solid  spectrum.XYZ // the solids over each other
	Colors []Made
}

// Made is a main color of the artwork and what prints for it.
type Made struct {
	RGB     [3]uint8     // as the artwork has it
	Want    spectrum.Lab // as the print should have it
	Printed spectrum.Lab
	DE      float64
	Share   float64 // percent of the area
}

// A Merge is two colors of the artwork that print alike.
type Merge struct {
	RGB  [3]uint8
	With [3]uint8
	Bare bool // it prints as bare paper, and With does not count
}

const (
	// mergedDE is the CIEDE2000 up to which prints look alike, and apartDE the
	// one from which their colors in the artwork do not.
	mergedDE, apartDE = 2, 10
	// mergedShare is the least share of the area of a color whose loss is told.
	mergedShare = .002
	// givenUpDE is the CIEDE2000 from which a color counts as given up.
	givenUpDE = 12

	// inked is the coverage from which an ink counts as being in a spot.
	inked = .02
	// makes is the coverage from which an ink counts as making a color.
	makes = .15
	// alikeCos is the cosine in CIELAB from which two inks count as pulling
	// the paper the same way: within about 11°.
	alikeCos = .982
)

// choice gives an answer its figures.
func (s *search) choice(a answer) (*Choice, error) {
	u := s.answerUses(a)
	m, err := composite.New(s.shelf, s.paper, u)
	if err != nil {
		return nil, err
	}
	k := len(u)
	c := &Choice{Uses: u, Tints: s.rule, Coverage: make([]float64, k)}
	cov := make([]float64, k*len(s.fine.want))
	printed := s.solve(m, s.fine, cov)
	c.MeanDE, c.P95DE, c.InReach = s.fine.figures(printed)
	area := 0.0
	for i, share := range s.fine.share {
		inks, sum := 0, 0.0
		for j, v := range cov[i*k : i*k+k] {
			c.Coverage[j] += v * share
			sum += v
			if v > inked {
				inks++
			}
		}
		area += share
		c.InksPerSpot += share * float64(inks)
		if share >= .001 {
			c.MostInks = max(c.MostInks, inks)
			c.TotalCoverage = max(c.TotalCoverage, 100*sum)
		}
	}
	if area > 0 {
		c.InksPerSpot /= area
	}
	c.Alike = alikeInks(m, c.Names())
	c.Overlaps = s.overlaps(m, c.Names(), printed, cov)
	c.Merged = s.merged(m, printed)
	c.Farthest = s.farthest(printed)
	c.RegisterDE = s.registerDE(m)
	if c.OpacityDE, c.OpacityInk, err = s.opacityDE(u, cov); err != nil {
		return nil, err
	}
	return c, s.explain(c, a)
}

func (s *search) answerUses(a answer) []composite.Use {
	u := s.uses(a.set, a.order)
	if a.base != nil {
		for i, o := range a.order {
			u[i].Base = a.base[o]
		}
	}
	return u
}

// explain sets Why and RuleDE.
func (s *search) explain(c *Choice, a answer) error {
	c.RuleDE = c.MeanDE
	c.Why = fmt.Sprintf("best of %d sets of %d from %d inks over %d main colors; %s; ", s.sets, s.count, len(s.inks), len(s.fine.want), s.why)
	if slices.IsSorted(a.order) {
		c.Why += "printed in the trade's order, opaque and dark inks first"
		return nil
	}
	ruled := a
	ruled.order = rising(s.count)
	m, err := composite.New(s.shelf, s.paper, s.answerUses(ruled))
	if err != nil {
		return err
	}
	c.RuleDE, _, _ = s.fine.figures(s.solve(m, s.fine, nil))
	c.Why += fmt.Sprintf("printed in the order that the model finds best: opaque and dark inks first would give a mean ΔE of %.2f, not %.2f", c.RuleDE, c.MeanDE)
	return nil
}

// alikeInks returns the pairs of inks whose solids lie in nearly one direction
// from the paper: one of them does little that the other does not.
func alikeInks(m *composite.Model, names []string) (out [][2]string) {
	paper := m.Overprint(0).Lab()
	way := func(i int) (d spectrum.Lab, length float64) {
		c := m.Overprint(1 << i).Lab()
		for j := range d {
			d[j] = c[j] - paper[j]
		}
		return d, math.Sqrt(distance2(c, paper))
	}
	for i := range names {
		for j := range i {
			a, la := way(j)
			b, lb := way(i)
			dot := a[0]*b[0] + a[1]*b[1] + a[2]*b[2]
			if la > 0 && lb > 0 && dot/(la*lb) > alikeCos {
				out = append(out, [2]string{names[j], names[i]})
			}
		}
	}
	return out
}

// overlaps sorts the main colors by the inks that make them.
func (s *search) overlaps(m *composite.Model, names []string, printed []spectrum.Lab, cov []float64) []Overlap {
	k := len(names)
	by := make(map[uint][]Made)
	for i, want := range s.fine.want {
		mask := uint(0)
		for j, v := range cov[i*k : i*k+k] {
			if v > makes {
				mask |= 1 << j
			}
		}
		if mask == 0 {
			continue
		}
		by[mask] = append(by[mask], Made{s.fine.rgb[i], want, printed[i], spectrum.DeltaE(want, printed[i]), 100 * s.fine.share[i]})
	}
	var out []Overlap
	for mask := uint(1); mask < 1<<k; mask++ {
		if len(by[mask]) == 0 {
			continue
		}
		o := Overlap{Solid: m.Overprint(mask), Colors: by[mask]}
		for j, n := range names {
			if mask>>j&1 == 1 {
				o.Inks = append(o.Inks, n)
			}
		}
		out = append(out, o)
	}
	share := func(o Overlap) (sum float64) {
		for _, c := range o.Colors {
			sum += c.Share
		}
		return sum
	}
	slices.SortStableFunc(out, func(a, b Overlap) int {
		if d := share(b) - share(a); d != 0 {
			return int(math.Copysign(1, d))
		}
		return strings.Compare(a.Inks[0], b.Inks[0])
	})
	return out
}

// farthest finds the color that is given up the most, nil where none is.
func (s *search) farthest(printed []spectrum.Lab) *Made {
	p := s.fine
	out := Made{DE: givenUpDE}
	for i, want := range p.want {
		if d := spectrum.DeltaE(want, printed[i]); p.share[i] >= mergedShare && d > out.DE {
			out = Made{p.rgb[i], want, printed[i], d, 100 * p.share[i]}
		}
	}
	if out.Share == 0 {
		return nil
	}
	return &out
}

// merged finds the colors of the artwork that cannot be told apart in print.
// In a photograph neighbors among its many main colors always do so.
func (s *search) merged(m *composite.Model, printed []spectrum.Lab) (out []Merge) {
	if !s.flat {
		return nil
	}
	paper := m.Overprint(0).Lab()
	p := s.fine
	for i, want := range p.want {
		if p.share[i] < mergedShare {
			continue
		}
		if spectrum.DeltaE(printed[i], paper) <= mergedDE && spectrum.DeltaE(want, paper) >= apartDE {
			out = append(out, Merge{RGB: p.rgb[i], Bare: true})
			continue
		}
		for j := range i {
			if p.share[j] >= mergedShare && spectrum.DeltaE(printed[i], printed[j]) <= mergedDE && spectrum.DeltaE(want, p.want[j]) >= apartDE {
				out = append(out, Merge{RGB: p.rgb[i], With: p.rgb[j]})
				break
			}
		}
	}
	return out
}

// opacityDE prints the same plates with each ink's opacity 10 % off.
func (s *search) opacityDE(u []composite.Use, cov []float64) (worst float64, name string, err error) {
	k := len(u)
	print := func(at int, by float64) ([]spectrum.Lab, error) {
		v := slices.Clone(u)
		f, err := s.shelf.Film(u[at].Ink)
		if err != nil {
			return nil, err
		}
		// A copy that is known by an opacity alone, so that it can change.
		i := *u[at].Ink
		i.Opacity = min(.995, by*f.Opacity)
		i.OverBlack, i.OverBlackSpectrum, i.Black = nil, nil, nil
		v[at].Ink = &i
		m, err := composite.New(s.shelf, s.paper, v)
		if err != nil {
			return nil, err
		}
		e := m.NewEvaluator()
		out := make([]spectrum.Lab, len(s.fine.want))
		for c := range out {
			out[c] = e.XYZ(cov[c*k : c*k+k]).Lab()
		}
		return out, nil
	}
	for at := range u {
		was, err := print(at, 1)
		if err != nil {
			return 0, "", err
		}
		for _, by := range []float64{.9, 1.1} {
			is, err := print(at, by)
			if err != nil {
				return 0, "", err
			}
			sum := 0.0
			for c := range is {
				sum += s.fine.share[c] * spectrum.DeltaE(was[c], is[c])
			}
			if sum > worst {
				worst, name = sum, u[at].Ink.Name
			}
		}
	}
	return worst, name, nil
}
