package choose

import (
	"fmt"
	"math"
)

// A Run is an edition to be printed. Zero values take the starting values named
// at each field; all are rules of thumb that a first run overrides.
type Run struct {
	WidthMM, HeightMM float64
	Copies            int
	Overs             float64 // percent of further sheets; 0: 15, NaN: none (10–20 for hand editions, common practice)

	// Mesh in threads per cm and Thread in µm give the theoretical ink volume,
	// open area × mesh thickness; or Volume gives it in cm³/m², as mesh makers
	// print it. All 0: 25 cm³/m², that of 90/cm with 40 µm thread (NBC handbook).
	Mesh, Thread, Volume float64

	Transfer float64 // share of the volume that reaches the paper; 0: 0.85
	Density  float64 // of the ink in g/cm³; 0: 1.2
	Charge   float64 // grams to charge a frame; 0: 150, NaN: none (100–200, common practice)
}

// A Need is how much of one ink an edition takes.
type Need struct {
	Grams     float64 // as a run usually takes
	PlusMinus float64 // grams
	Parts     []Part  // the same by part of its recipe
}

const (
	// yieldSpread is how far, as a share, real runs are from a computed yield:
	// 20 … 40 m²/kg is common practice for what 25 cm³/m² of ink computes to
	// 39 m²/kg.
	yieldSpread = 1.0 / 3
	// chargeSpread is the same for what charges a frame, 100 … 200 g.
	chargeSpread = 50.0
	// threadFactor is the mesh thickness in thread diameters: 90/cm with 40 µm
	// has 25 cm³/m² through 42 % of open area (NBC handbook), so a thickness of
	// 59.5 µm [calc].
	threadFactor = 1.49
	// areaCopies bounds an edition.
	mostCopies = 1000000
)

// threads are usual thread diameters in µm by mesh count per cm [common
// practice].
var threads = [...][2]float64{{21, 140}, {32, 100}, {43, 80}, {55, 64}, {62, 60}, {77, 55}, {90, 40}, {100, 40}, {120, 34}, {140, 34}, {150, 31}}

func (r *Run) thread() float64 {
	if r.Thread > 0 {
		return r.Thread
	}
	best := threads[0]
	for _, t := range threads {
		if math.Abs(t[0]-r.Mesh) < math.Abs(best[0]-r.Mesh) {
			best = t
		}
	}
	return best[1]
}

// InkVolume returns the theoretical ink volume in cm³/m²: open area × mesh
// thickness (Spörl).
func (r *Run) InkVolume() (float64, error) {
	switch {
	case r.Volume < 0 || r.Volume > 1000:
		return 0, wrong("an ink volume of %g cm³/m²: give 5 to 200, as the mesh maker states it", r.Volume)
	case r.Volume > 0:
		return r.Volume, nil
	case r.Mesh == 0:
		return 25, nil
	case r.Mesh < 5 || r.Mesh > 250:
		return 0, wrong("a mesh of %g threads per cm: give 10 to 200", r.Mesh)
	}
	pitch, d := 1e4/r.Mesh, r.thread() // µm
	if d >= pitch {
		return 0, wrong("threads of %g µm leave no opening in a mesh of %g/cm: give the thread diameter in µm", d, r.Mesh)
	}
	open := (pitch - d) / pitch
	return open * open * threadFactor * d, nil
}

// Sheets is the number of sheets with overs.
func (r *Run) Sheets() int {
	return r.Copies + int(math.Ceil(float64(r.Copies)*orDefault(r.Overs, 15)/100-1e-9))
}

// orDefault is v, def for 0 and 0 for NaN.
func orDefault(v, def float64) float64 {
	switch {
	case v == 0:
		return def
	case math.IsNaN(v):
		return 0
	}
	return v
}

func (r *Run) check() error {
	switch {
	case !(r.WidthMM > 0 && r.HeightMM > 0 && r.WidthMM < 1e5 && r.HeightMM < 1e5):
		return wrong("a print of %g × %g mm: give its size", r.WidthMM, r.HeightMM)
	case r.Copies < 1 || r.Copies > mostCopies:
		return wrong("an edition of %d: give 1 or more copies", r.Copies)
	case r.Overs < 0 || r.Overs > 1000:
		return wrong("overs of %g %%: give 0 or more, 15 is usual by hand", r.Overs)
	case r.Transfer < 0 || r.Transfer > 1:
		return wrong("a transfer share of %g: give 0 to 1", r.Transfer)
	case r.Density < 0 || r.Density > 10:
		return wrong("an ink of %g g/cm³: give about 1.2", r.Density)
	case r.Charge < 0:
		return wrong("a charge of %g g: give 0 or more, 150 is usual", r.Charge)
	}
	return nil
}

// Need returns what an ink takes whose plate has the mean coverage, 0 … 1, and
// which is mixed by the recipe; nil: as it is.
//
//	grams = coverage · area · sheets · volume · transfer · density + charge
//
// The ± is that of rules of thumb, a third of what is printed and 50 g of what
// charges the frame, added as independent.
func (r *Run) Need(coverage float64, recipe *Recipe) (*Need, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	if !(coverage >= 0 && coverage <= 1) {
		return nil, wrong("a mean coverage of %g: give 0 to 1", coverage)
	}
	volume, err := r.InkVolume()
	if err != nil {
		return nil, err
	}
	area := r.WidthMM * r.HeightMM / 1e6
	printed := coverage * area * float64(r.Sheets()) * volume * orDefault(r.Transfer, .85) * orDefault(r.Density, 1.2)
	charge := orDefault(r.Charge, 150)
	n := &Need{Grams: printed + charge}
	n.PlusMinus = math.Hypot(yieldSpread*printed, math.Min(chargeSpread, charge))
	if recipe != nil {
		for _, p := range recipe.Parts {
			p.Grams = n.Grams * p.Percent / 100
			n.Parts = append(n.Parts, p)
		}
	}
	return n, nil
}

// Assumptions says in one line what the figures rest on.
func (r *Run) Assumptions() string {
	volume, err := r.InkVolume()
	if err != nil {
		return ""
	}
	from := "as given"
	switch {
	case r.Volume > 0:
	case r.Mesh > 0:
		from = fmt.Sprintf("mesh %g/cm with %g µm thread", r.Mesh, r.thread())
	default:
		from = "as of mesh 90/cm with 40 µm thread"
	}
	return fmt.Sprintf("%d sheets with %g %% overs; ink volume %.0f cm³/m² (%s), %.0f %% of it on the paper, %.2g g/cm³; %.0f g to charge the frame; rules of thumb: weigh what your first run takes",
		r.Sheets(), orDefault(r.Overs, 15), volume, from, 100*orDefault(r.Transfer, .85), orDefault(r.Density, 1.2), orDefault(r.Charge, 150))
}

// BasePart returns the recipe of an ink that is thinned with base only, in
// percent: what Use.Base says beyond what the tin holds.
func BasePart(name string, base float64) *Recipe {
	r := &Recipe{Parts: []Part{{Name: name, Percent: 100 - base}}}
	if base > 0 {
		r.Parts = append(r.Parts, Part{Name: BaseName, Percent: base})
	}
	return r
}
