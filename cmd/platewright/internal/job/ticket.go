package job

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"
	"path/filepath"
	"sort"
	"strings"

	"platewright/cmd/platewright/internal/sheet"
	"platewright/composite"
	"platewright/composite/spectrum"
	"platewright/separate"
	"platewright/separate/artwork"
)

const (
	sheetPicture = 900 // longest side on the job sheet, pixels
	sheetColors  = 12  // colors shown beside what prints for them
	colorSample  = 200000
)

// look is what the job sheet shows of the artwork.
type look struct {
	art    *image.NRGBA
	colors []seen
}

// seen is one color of the artwork.
type seen struct {
	color spectrum.XYZ
	share float64 // percent of the artwork
	at    []int   // pixels that have it, at least one
}

// look takes what the sheet shows before the picture is let go.
func (r *run) look() *look {
	if r.Only != "" {
		return nil
	}
	small := r.pic.Preview(sheetPicture)
	art := image.NewNRGBA(small.Rect)
	draw.Draw(art, art.Rect, image.NewUniform(displayed(r.choice.Paper.Color)), image.Point{}, draw.Src)
	draw.Draw(art, art.Rect, small, image.Point{}, draw.Over)
	return &look{art, r.commonColors()}
}

func displayed(c spectrum.XYZ) color.NRGBA {
	rgb := c.RGB().Clamp()
	code := func(v float64) uint8 { return uint8(math.Round(v * 255)) }
	return color.NRGBA{code(rgb[0]), code(rgb[1]), code(rgb[2]), 255}
}

// commonColors are the artwork's most frequent colors, from pixels spread
// evenly over it.
func (r *run) commonColors() []seen {
	found := make(map[[3]float64][]int)
	pixels := r.pic.Width * r.pic.Height
	step := max(1, pixels/colorSample) | 1
	n := 0
	for at := 0; at < pixels; at += step {
		x, y := at%r.pic.Width, at/r.pic.Width
		if r.pic.Bare(x, y) {
			continue
		}
		n++
		red, green, blue := r.pic.At(x, y)
		key := [3]float64{red, green, blue}
		found[key] = append(found[key], at)
	}
	var out []seen
	for key, at := range found {
		if share := 100 * float64(len(at)) / float64(n); share >= .5 {
			out = append(out, seen{r.pic.Space.XYZ(key[0], key[1], key[2]), share, at})
		}
	}
	sort.Slice(out, func(a, b int) bool {
		if out[a].share != out[b].share {
			return out[a].share > out[b].share
		}
		return out[a].at[0] < out[b].at[0]
	})
	return out[:min(sheetColors, len(out))]
}

func (r *run) writeSheet(l *look) error {
	m := r.choice.Model
	small := reduce(r.res, len(r.Inks), sheetPicture)
	proof, err := small.render(m, len(r.Inks))
	if err != nil {
		return err
	}
	d := sheet.Data{
		Job: r.Name, Date: string(r.Date), WidthMM: r.wMM, HeightMM: r.hMM,
		Artwork: sheet.File{Name: r.report.Artwork.File, SHA256: r.SHA256},
		Pixels:  [2]int{r.res.Width, r.res.Height},
		Paper:   sheet.Paper{Name: r.Paper, Finish: string(r.choice.Paper.Finish), Color: r.choice.Paper.Color},
		Art:     l.art,
		Proof:   opaque(proof),
		Fit: &sheet.Fit{Mean: r.res.Fit.MeanDE, P95: r.res.Fit.P95DE, Max: r.res.Fit.MaxDE, InReach: r.res.Fit.InReach,
			PlusMinus: r.report.Fit.PlusMinus},
		Next: r.report.Next(""),
	}
	if d.Difference, err = r.difference(l.art, proof, small); err != nil {
		return err
	}
	d.Facts = []sheet.Fact{
		{Name: "Tints", Value: string(r.Tints)},
		{Name: "Shelf", Value: r.report.Shelf},
	}
	if err := r.addEdition(&d); err != nil {
		return err
	}
	for i := range r.Inks {
		after, err := small.render(m, i+1)
		if err != nil {
			return err
		}
		d.After = append(d.After, opaque(after))
		d.Plates = append(d.Plates, r.sheetPlate(i, small))
	}
	measured, err := composite.Measured(r.stock.Shelf, r.choice.Paper, r.choice.Uses)
	if err != nil {
		return err
	}
	for mask := range uint(1) << len(r.Inks) {
		d.Overprints = append(d.Overprints, sheet.Overprint{Color: m.Overprint(mask), Measured: measured[mask]})
	}
	if d.Colors, err = r.matches(l.colors); err != nil {
		return err
	}
	for _, f := range r.folder.Files() {
		if strings.HasPrefix(f.Path, "films/") {
			d.Films = append(d.Films, sheet.File{Name: filepath.Base(f.Path), SHA256: f.SHA256})
		}
	}
	d.FilmFacts = r.filmFacts()
	for _, f := range r.report.Findings {
		d.Findings = append(d.Findings, sheetFinding(f))
	}
	return r.create("sheet.html", func(f *Guarded) error { return sheet.Write(f, d) })
}

func (r *run) filmFacts() []sheet.Fact {
	p := r.report.Print
	mm := func(px int) float64 { return float64(px) / p.FilmDPI * 25.4 }
	facts := []sheet.Fact{{Name: "Size", Value: fmt.Sprintf("%.1f × %.1f mm, %s dpi", mm(p.FilmPx[0]), mm(p.FilmPx[1]), number(p.FilmDPI))}}
	add := func(given bool, name, value string) {
		if given {
			facts = append(facts, sheet.Fact{Name: name, Value: value})
		}
	}
	add(r.duplicator(), "Process", "stencil duplicator: gray pages, the machine makes the dots")
	add(r.Mesh != "", "Mesh", string(r.Mesh))
	add(r.MinDot != "", "Smallest dot", string(r.MinDot))
	add(r.Bleed != "", "Bleed", string(r.Bleed))
	add(r.Mirror, "Reading", "mirrored")
	add(r.Negative, "Tone", "negative: black where no ink prints")
	add(r.report.TrapMM > 0, "Trap", fmt.Sprintf("%g mm", r.report.TrapMM))
	if r.report.Mesh != nil {
		for _, line := range r.report.Mesh.words() {
			add(true, line[0], line[1])
		}
	}
	return append(facts, r.toneFacts()...)
}

func (r *run) sheetPlate(i int, small *reduced) sheet.Plate {
	in := r.report.Inks[i]
	gray := image.NewGray(image.Rect(0, 0, small.w, small.h))
	for k, v := range small.plates[i] {
		gray.Pix[k] = 255 - uint8((uint32(v)+128)/257)
	}
	file := in.Film
	if file == "" {
		file = in.Plate
	}
	return sheet.Plate{Ink: in.Name, Color: r.choice.Solid(i), Coverage: 100 * in.MeanCoverage, Base: r.choice.Uses[i].Base,
		RulingLPI: in.RulingLPI, AngleDeg: in.AngleDeg, Dot: in.Dot, KnownBy: in.KnownBy,
		Opacity: r.choice.Uses[i].Ink.Opacity, File: filepath.Base(file), Mesh: string(r.Mesh), Picture: gray}
}

func sheetFinding(f Finding) sheet.Finding {
	level := f.Level
	if level == Fault {
		level = "stop"
	}
	out := sheet.Finding{Level: level, Message: f.Message, Mend: f.Mend}
	if f.Where != nil {
		out.Where = &sheet.Place{X: f.Where.XMM, Y: f.Where.YMM, W: f.Where.WMM, H: f.Where.HMM}
	}
	return out
}

// opaque is a print as a picture.
func opaque(p *composite.Print) *image.NRGBA {
	m := image.NewNRGBA(image.Rect(0, 0, p.Width, p.Height))
	for i := range p.Width * p.Height {
		copy(m.Pix[4*i:], p.Pix[3*i:3*i+3])
		m.Pix[4*i+3] = 255
	}
	return m
}

// difference draws where the print differs from the artwork. Bare paper is as
// it should be.
func (r *run) difference(art *image.NRGBA, proof *composite.Print, small *reduced) (image.Image, error) {
	if art.Rect.Dx() != proof.Width || art.Rect.Dy() != proof.Height {
		return nil, nil
	}
	want, err := r.wanted()
	if err != nil {
		return nil, err
	}
	rgb := func(p []uint8) [3]float64 {
		return [3]float64{float64(p[0]) / 255, float64(p[1]) / 255, float64(p[2]) / 255}
	}
	n := proof.Width * proof.Height
	wanted, printed := make([]spectrum.Lab, n), make([]spectrum.Lab, n)
	for i := range n {
		printed[i] = spectrum.RGB(rgb(proof.Pix[3*i:])).XYZ().Lab()
		wanted[i] = want(rgb(art.Pix[4*i:]))
	}
	return sheet.Differences(wanted, printed, proof.Width)
}

// wanted says which color the print should have where the artwork has an sRGB
// color: white and unprinted colors ask for bare paper.
func (r *run) wanted() (func(rgb [3]float64) spectrum.Lab, error) {
	opt, err := r.options(r.choice)
	if err != nil {
		return nil, err
	}
	return separate.Wanted(artwork.Space{}, r.choice.Paper.Color, &opt), nil
}

// matches are the artwork's common colors beside what prints for them.
func (r *run) matches(colors []seen) ([]sheet.Match, error) {
	want, err := r.wanted()
	if err != nil {
		return nil, err
	}
	var out []sheet.Match
	for _, c := range colors {
		cov, usual := make([]float64, len(r.Inks)), r.usual(c.at)
		var words []string
		for i := range cov {
			cov[i] = float64(usual[i]) / 65535
			if percent := math.Round(100 * cov[i]); percent > 0 {
				words = append(words, fmt.Sprintf("%s %g %%", r.Inks[i], percent))
			}
		}
		m := sheet.Match{Asked: c.color, Printed: r.choice.Model.XYZ(cov), Share: c.share, Inks: strings.Join(words, " + ")}
		if len(words) == 0 {
			m.Inks = "bare paper"
		}
		m.DeltaE = spectrum.DeltaE(want(m.Asked.RGB()), m.Printed.Lab())
		out = append(out, m)
	}
	return out, nil
}

// usual is the coverage, an ink each, that most of the pixels have: one pixel
// alone may lie at an edge, where traps and underbases end.
func (r *run) usual(at []int) []uint16 {
	count := make(map[string]int)
	key := make([]byte, len(r.Inks))
	cov, best := make([]uint16, len(r.Inks)), make([]uint16, len(r.Inks))
	most := 0
	for _, p := range at {
		r.res.At(p%r.res.Width, p/r.res.Width, cov)
		for i, v := range cov {
			key[i] = byte(v >> 8)
		}
		count[string(key)]++
		if n := count[string(key)]; n > most {
			most = n
			copy(best, cov)
		}
	}
	return best
}

// Next is the command that comes after a separation, typed where the folder has
// the given path, "" being the folder itself. Where plates were made it is the
// print predicted from them, as they may be worked on by hand; where only a part
// was made it is the whole job.
func (r *Report) Next(folder string) string {
	at := filepath.ToSlash(folder)
	if at != "" {
		at += "/"
	}
	file, plates := at+"job.toml", at+"plates/*.png"
	if strings.ContainsAny(at, " \t'\"$&|;<>()*?[]#~`\\!{}") {
		file, plates = `"`+file+`"`, "PLATES"
	}
	if r.Inks[0].Plate == "" {
		to := FileName(r.Name) + "-plates"
		if at != "" && filepath.Clean(folder) == to {
			to += " --force" // it takes the place of the part
		}
		return "platewright separate --job " + file + " --only all -o " + to
	}
	return "platewright proof " + plates + " --job " + file + " -o print.png"
}
