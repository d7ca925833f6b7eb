package job

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"

	"platewright/halftone"
	"platewright/halftone/film"
)

// FilmSet is the films of one print on the sheet that they share.
type FilmSet struct {
	Print    Print
	Findings []Finding
	Mesh     *MeshReport // nil where no mesh is named

	job     *Job
	names   []string           // of the inks in print order
	screens []*halftone.Screen // nil where nothing is screened
	ahead   map[halftone.Spec]screenMaker
	layout  *film.Layout // nil for a duplicator
	pages   []*film.Page
	master  *film.Master // of a duplicator
	plates  []halftone.Tone
	inks    []film.Ink        // for colorPDF
	curves  []*halftone.Curve // what films of each ink print, in place of the job's; nil: of none
}

// newFilmSet lays out the sheet for a print of the given size.
func (j *Job) newFilmSet(names []string, wMM, hMM float64) (*FilmSet, error) {
	s := &FilmSet{job: j, names: names, screens: make([]*halftone.Screen, len(names))}
	p := &s.Print
	p.WidthMM, p.HeightMM, p.FilmDPI = Round(wMM, 4), Round(hMM, 4), j.Resolution()
	if j.duplicator() {
		return s, s.layMaster(wMM, hMM)
	}
	layout, err := film.New(film.Sheet{WidthMM: wMM, HeightMM: hMM, DPI: j.Resolution(), Film: string(j.FilmSize),
		BleedMM: j.Bleed.MM(), NoMarks: j.NoMarks, Mirror: j.Mirror, Negative: j.Negative})
	if err != nil {
		return nil, err
	}
	s.layout = layout
	p.OriginPx[0], p.OriginPx[1] = layout.Origin()
	p.SizePx[0], p.SizePx[1] = layout.Area()
	p.FilmPx[0], p.FilmPx[1] = layout.Size()
	return s, nil
}

// What a stencil duplicator cannot print of an A3 sheet, in mm: it prints 393 by
// 271, from 5 behind the leading edge (common practice).
const (
	leadMM = 5
	tailMM = 420 - 393 - leadMM
	sideMM = (297 - 271) / 2
)

// layMaster lays out the page of a duplicator. The leading edge is the short
// one: above an upright picture, left of a wide one.
func (s *FilmSet) layMaster(wMM, hMM float64) error {
	paper := string(s.job.FilmSize)
	if paper == "" {
		paper = "A3"
	}
	w, h, err := film.ParseSize(paper)
	if err != nil {
		return err
	}
	lead, side, tail, ok := s.job.Margins.mm()
	if !ok {
		lead, side, tail = leadMM, sideMM, tailMM
	}
	m := &film.Master{WidthMM: wMM, HeightMM: hMM, DPI: s.job.Resolution(), MarginsMM: [4]float64{lead, side, tail, side}}
	w, h = min(w, h), max(w, h)
	if wMM > hMM {
		w, h = h, w
		m.MarginsMM = [4]float64{side, tail, side, lead}
	}
	m.Paper = fmt.Sprintf("%gx%gmm", w, h)
	s.master = m
	px := func(mm float64) int { return int(math.Floor(mm*m.DPI/25.4 + .5)) }
	top, right, bottom, left := m.MarginsMM[0], m.MarginsMM[1], m.MarginsMM[2], m.MarginsMM[3]
	p := &s.Print
	p.OriginPx = [2]int{px(left + (w-left-right-wMM)/2), px(top + (h-top-bottom-hMM)/2)}
	p.SizePx = [2]int{px(wMM), px(hMM)}
	p.FilmPx = [2]int{px(w), px(h)}
	// An artwork that does not fit is found now, on a plate of nothing, and not
	// after the work.
	var fit *film.FitError
	if err := film.WriteMasterPNG(io.Discard, *m, &halftone.Plate{}, film.Info{}); errors.As(err, &fit) {
		return err
	}
	return nil
}

// label is what stands on an ink's film.
func (s *FilmSet) label(i int) film.Label {
	return film.Label{Ink: s.names[i], Pull: i + 1, Of: len(s.names), Job: s.job.Name, Paper: s.job.Paper, Date: s.job.Date.Time(), Mesh: string(s.job.Mesh), Dot: "none"}
}

// addLines adds the film of an ink that is solids and nothing else.
func (s *FilmSet) addLines(i int, bits film.Bits) error {
	page, err := s.layout.Page(bits, s.label(i), nil)
	s.pages = append(s.pages, page)
	return err
}

// table is what coverage of an ink becomes on its film; nil as it is.
func (s *FilmSet) table(i int) (*halftone.Table, error) {
	if s.curves != nil && s.curves[i] != nil {
		return s.job.tableOf(s.curves[i])
	}
	return s.job.table(s.names[i])
}

// addPage adds the gray page of a duplicator's drum.
func (s *FilmSet) addPage(i int, tone halftone.Tone) error {
	table, err := s.table(i)
	if table != nil {
		tone = compensated{tone, table}
	}
	s.plates = append(s.plates, tone)
	return err
}

// compensated is a plate with its tones as they go on film.
type compensated struct {
	halftone.Tone
	table *halftone.Table
}

func (c compensated) Row(dst []uint16, y int) {
	c.Tone.Row(dst, y)
	w, _ := c.Size()
	for x, v := range dst[:w] {
		dst[x] = c.table[v]
	}
}

// addScreened adds the film of an ink with tints.
func (s *FilmSet) addScreened(i int, tone halftone.Tone) error {
	screen := s.screens[i]
	w, h := s.layout.Area()
	table, err := s.table(i)
	if err != nil {
		return err
	}
	raster, err := halftone.NewRaster(tone, w, h, screen, halftone.Options{Compensate: table})
	if err != nil {
		return err
	}
	label := s.label(i)
	label.RulingLPI, label.AngleDeg, label.Dot = screen.Ruling(), screen.Angle(), screen.Spec().Dot.String()
	steps := wedge(screen)
	if screen.Spec().Dot == halftone.None {
		steps = nil
	}
	page, err := s.layout.Page(raster, label, steps)
	s.pages = append(s.pages, page)
	return err
}

// colorPDF is the format of a PDF whose pages are in the inks' colors.
const colorPDF = "color-pdf"

// Write writes the film of an ink, counted from 0, as tiff or png, or all films
// as pdf or colorPDF whatever i is. pace is nil for a file written alone.
func (s *FilmSet) Write(ctx context.Context, f *os.File, format string, i int, pace *film.Pace) error {
	info := film.Info{Title: s.job.Name + ", films", Date: s.job.Date.Time()}
	if format != "pdf" && format != colorPDF {
		info.Title = fmt.Sprintf("%s, %d of %d: %s", s.job.Name, i+1, len(s.names), s.names[i])
	}
	if pace != nil {
		info = pace.Info(info, i)
	}
	w := Guard(ctx, f)
	switch {
	case s.master != nil && format == "pdf":
		return film.WriteMasterPDF(w, *s.master, s.plates, info)
	case s.master != nil:
		return film.WriteMasterPNG(w, *s.master, s.plates[i], info)
	case format == "png":
		return film.WritePNG(w, s.pages[i], info)
	}
	if s.screens[i] == nil || s.job.Dot == "none" {
		info.Compression = film.Group4 // solids pack best so, dots do not
	}
	switch s.job.Packing {
	case "deflate":
		info.Compression = film.Deflate
	case "group4":
		info.Compression = film.Group4
	}
	switch format {
	case "pdf":
		return film.WritePDF(w, s.pages, info)
	case colorPDF:
		return film.WriteColorPDF(w, s.pages, s.inks, info)
	}
	return film.WriteTIFF(w, s.pages[i], info)
}

// FilmEnding is the ending of a film's file name.
func FilmEnding(format string) string {
	if format == "tiff" {
		return ".tif"
	}
	return "." + format
}

// screenAngles returns an angle for each ink: as the job says, else by how dark
// the inks are. darkness is nil where it is not known; then the first ink counts
// as the darkest.
func (j *Job) screenAngles(names []string, darkness []float64) []float64 {
	if darkness == nil {
		darkness = make([]float64, len(names))
	}
	out := halftone.Angles(darkness)
	if j.duplicator() {
		out = halftone.DuplicatorAngles(darkness)
	}
	for i, name := range names {
		if v, ok := j.Angle.Of(name); ok {
			out[i] = v
		}
	}
	return out
}

// add adds findings of package halftone.
func (s *FilmSet) add(found []halftone.Finding) {
	for _, f := range found {
		s.Findings = addFinding(s.Findings, Finding{Code: f.Code, Level: Warning, Message: f.Message, Mend: f.Mend})
	}
}

// ScreenError is a halftone that cannot be made.
type ScreenError struct{ Err error }

func (e *ScreenError) Error() string { return e.Err.Error() }
func (e *ScreenError) Unwrap() error { return e.Err }

// wedge makes the steps of the tone wedge through a screen.
func wedge(s *halftone.Screen) film.Tint {
	return func(percent float64, w, h int) film.Bits {
		tint := halftone.Plate{Width: 1, Height: 1, Cov: []uint16{uint16(math.Round(percent / 100 * halftone.Full))}}
		r, err := halftone.NewRaster(&tint, w, h, s, halftone.Options{})
		if err != nil {
			return nil // a patch without pixels stays empty
		}
		return r
	}
}

// addFinding adds a finding that is not there yet.
func addFinding(list []Finding, f Finding) []Finding {
	for _, g := range list {
		if g.Code == f.Code && g.Message == f.Message {
			return list
		}
	}
	return append(list, f)
}
