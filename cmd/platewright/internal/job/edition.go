package job

import (
	"fmt"
	"math"

	"platewright/cmd/platewright/internal/sheet"
	"platewright/separate/choose"
)

// EditionSettings are the size of the edition.
func (j *Job) EditionSettings() []Setting {
	return []Setting{{"copies", "N", "prints to make, to count ink and sheets on the job sheet", &j.Copies}}
}

// Edition is how much an edition takes.
type Edition struct {
	Copies      int        `json:"copies"`
	Assumptions string     `json:"assumptions"`
	Quantities  []Quantity `json:"quantities"` // by ink, in print order
}

// Quantity is what an edition takes of one ink.
type Quantity struct {
	Ink       string  `json:"ink"`
	Grams     float64 `json:"grams"`
	PlusMinus float64 `json:"plus_minus_grams"`
	Parts     []Part  `json:"parts"`
}

// Part is one component of what is mixed.
type Part struct {
	Name    string  `json:"name"`
	Percent float64 `json:"percent"` // of the total weight
	Grams   float64 `json:"grams"`
}

// addEdition puts on the job sheet and into the report what the edition takes: sheets, and of each
// ink the recipe and the grams. A stencil duplicator fills itself from a drum.
func (r *run) addEdition(d *sheet.Data) error {
	if r.duplicator() {
		return nil
	}
	run := choose.Run{WidthMM: r.wMM, HeightMM: r.hMM, Copies: r.Copies, Mesh: math.Round(float64(r.Mesh.Count())/2.54*10) / 10} // halftone counts threads per inch
	r.report.Edition = &Edition{Copies: r.Copies, Assumptions: run.Assumptions()}
	d.Facts = append(d.Facts, sheet.Fact{Name: "Edition", Value: fmt.Sprintf("%d prints: %s", r.Copies, run.Assumptions())})
	for i, name := range r.Inks {
		base := r.choice.base(r.stock, i)
		recipe := choose.BasePart(name, base)
		need, err := run.Need(r.report.Inks[i].MeanCoverage, recipe)
		if err != nil {
			return err
		}
		d.Quantities = append(d.Quantities, sheet.Quantity{Ink: name, Grams: math.Ceil(need.Grams), Note: fmt.Sprintf("± %.0f g", need.PlusMinus)})
		q := Quantity{Ink: name, Grams: math.Ceil(need.Grams), PlusMinus: math.Round(need.PlusMinus)}
		mix := sheet.Recipe{Ink: name, Color: r.choice.Solid(i)}
		if base == 0 {
			mix.Note = "as it is in the tin"
		}
		for _, p := range need.Parts {
			mix.Parts = append(mix.Parts, sheet.Part{Name: p.Name, Percent: p.Percent, Grams: math.Ceil(p.Grams)})
			q.Parts = append(q.Parts, Part{p.Name, Round(p.Percent, 1), math.Ceil(p.Grams)})
		}
		r.report.Edition.Quantities = append(r.report.Edition.Quantities, q)
		d.Recipes = append(d.Recipes, mix)
	}
	return nil
}
