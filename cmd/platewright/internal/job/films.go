package job

import (
	"context"
	"fmt"
	"math"
	"os"

	"platewright/halftone"
	"platewright/halftone/film"
)

// FilmSet is the films of one print on the sheet that they share.
type FilmSet struct {
	Print    Print
	Findings []Finding

	job     *Job
	layout  *film.Layout
	names   []string           // of the inks in print order
	screens []*halftone.Screen // nil where nothing is screened
	pages   []*film.Page
}

// newFilmSet lays out the sheet for a print of the given size.
func (j *Job) newFilmSet(names []string, wMM, hMM float64) (*FilmSet, error) {
	layout, err := film.New(film.Sheet{WidthMM: wMM, HeightMM: hMM, DPI: j.FilmDPI, Film: string(j.FilmSize),
		NoMarks: j.NoMarks, Mirror: j.Mirror, Negative: j.Negative})
	if err != nil {
		return nil, err
	}
	s := &FilmSet{job: j, layout: layout, names: names, screens: make([]*halftone.Screen, len(names))}
	p := &s.Print
	p.WidthMM, p.HeightMM, p.FilmDPI = Round(wMM, 4), Round(hMM, 4), j.FilmDPI
	p.OriginPx[0], p.OriginPx[1] = layout.Origin()
	p.SizePx[0], p.SizePx[1] = layout.Area()
	p.FilmPx[0], p.FilmPx[1] = layout.Size()
	return s, nil
}

// PlateFilms makes the films of plates read from files. names are those of the
// inks, in print order.
func (j *Job) PlateFilms(plates []*Plate, names []string) (*FilmSet, error) {
	s, err := j.newFilmSet(names, plates[0].WidthMM, plates[0].HeightMM)
	if err != nil {
		return nil, err
	}
	if err := s.makeScreens(j.screenAngles(names, -1)); err != nil {
		return nil, err
	}
	for i, plate := range plates {
		if err := s.addScreened(i, plate); err != nil {
			return nil, err
		}
	}
	return s, nil
}

// label is what stands on an ink's film.
func (s *FilmSet) label(i int) film.Label {
	return film.Label{Ink: s.names[i], Pull: i + 1, Of: len(s.names), Job: s.job.Name, Paper: s.job.Paper, Date: s.job.Date.Time(), Dot: "none"}
}

// addLines adds the film of an ink that is solids and nothing else.
func (s *FilmSet) addLines(i int, bits film.Bits) error {
	page, err := s.layout.Page(bits, s.label(i), nil)
	s.pages = append(s.pages, page)
	return err
}

// addScreened adds the film of an ink with tints.
func (s *FilmSet) addScreened(i int, tone halftone.Tone) error {
	screen := s.screens[i]
	w, h := s.layout.Area()
	raster, err := halftone.NewRaster(tone, w, h, screen, halftone.Options{})
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

// Write writes the film of an ink, counted from 0, as tiff or png, or all films
// as pdf.
func (s *FilmSet) Write(ctx context.Context, f *os.File, format string, i int) error {
	info := film.Info{Title: s.job.Name + ", films", Date: s.job.Date.Time()}
	if format != "png" && (s.screens[0] == nil || s.job.Dot == "none") {
		info.Compression = film.Group4 // solids pack best so, dots do not
	}
	if format == "pdf" {
		return film.WritePDF(Guard(ctx, f), s.pages, info)
	}
	info.Title = fmt.Sprintf("%s, %d of %d: %s", s.job.Name, i+1, len(s.names), s.names[i])
	if format == "png" {
		return film.WritePNG(Guard(ctx, f), s.pages[i], info)
	}
	return film.WriteTIFF(Guard(ctx, f), s.pages[i], info)
}

// FilmEnding is the ending of a film's file name.
func FilmEnding(format string) string {
	if format == "tiff" {
		return ".tif"
	}
	return "." + format
}

// angles are the halftone angles of up to eight inks: 30° apart as far as they
// go, away from 0, 45 and 90° to the threads (Sefar handbook, article 6566569);
// beyond six only 7.5° are left.
var angles = [...]float64{22.5, 52.5, 82.5, 7.5, 37.5, 67.5, 15, 45}

// screenAngles returns an angle for each ink: as the job says, else from the
// list, the lightest of four inks or more having 7.5°. lightest is −1 where it
// is not known.
func (j *Job) screenAngles(names []string, lightest int) []float64 {
	order := make([]float64, 0, len(angles))
	for i, a := range angles {
		if i != 3 || lightest < 0 || len(names) < 4 {
			order = append(order, a)
		}
	}
	out := make([]float64, len(names))
	for i, name := range names {
		if i == lightest && len(names) >= 4 {
			out[i] = angles[3]
		} else {
			out[i], order = order[0], order[1:]
		}
		if v, ok := j.Angle.Of(name); ok {
			out[i] = v
		}
	}
	return out
}

// makeScreens makes the screen of each ink and says what is unwise about them.
func (s *FilmSet) makeScreens(angles []float64) error {
	j := s.job
	dot, err := halftone.ParseDot(string(j.Dot))
	if err != nil {
		return err
	}
	for i, a := range angles {
		for k := range i { // the same screen serves twice
			if angles[k] == a {
				s.screens[i] = s.screens[k]
			}
		}
		if s.screens[i] != nil {
			continue
		}
		s.screens[i], err = halftone.NewScreen(halftone.Spec{Ruling: j.Ruling.LPI(), Angle: a, Dot: dot, DPI: j.FilmDPI,
			MinDot: j.MinDot.MM(), MinHole: j.MinDot.MM()})
		if err != nil {
			return &ScreenError{err}
		}
		for _, f := range s.screens[i].Findings() {
			s.Findings = addFinding(s.Findings, Finding{Code: f.Code, Level: Warning, Message: f.Message, Mend: f.Mend})
		}
	}
	if !j.Dot.Screened() {
		return nil
	}
	period := 90.0 // dots look the same turned by a right angle
	if j.Dot == "line" || j.Dot == "ellipse" {
		period = 180
	}
	for a := range angles {
		for b := range a {
			d := math.Mod(math.Abs(angles[a]-angles[b]), period)
			if math.Min(d, period-d) < 1 {
				s.Findings = addFinding(s.Findings, Finding{Code: "equal-angles", Level: Warning,
					Message: fmt.Sprintf("the tints of %s and %s are screened at the same angle of %g°: how far their dots overlap, and so their color, drifts with the register", s.names[b], s.names[a], angles[a]),
					Mend:    "give them angles 15° or more apart with --angle"})
			}
		}
	}
	return nil
}

// ScreenError is a halftone that cannot be made.
type ScreenError struct{ Err error }

func (e *ScreenError) Error() string { return e.Err.Error() }
func (e *ScreenError) Unwrap() error { return e.Err }

// even is a patch of one coverage.
type even struct {
	w, h int
	cov  uint16
}

func (e even) Size() (w, h int) { return e.w, e.h }

func (e even) Row(dst []uint16, _ int) {
	for x := range dst[:e.w] {
		dst[x] = e.cov
	}
}

// wedge makes the steps of the tone wedge through a screen.
func wedge(s *halftone.Screen) film.Tint {
	return func(percent float64, w, h int) film.Bits {
		cov := uint16(math.Round(percent / 100 * halftone.Full))
		r, err := halftone.NewRaster(even{w, h, cov}, w, h, s, halftone.Options{})
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
