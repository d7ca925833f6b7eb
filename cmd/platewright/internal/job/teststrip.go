package job

import (
	"errors"

	"platewright/halftone"
	"platewright/halftone/film"
)

// ExposureStrip makes the film to find an exposure with, of 3 to 12 steps. It
// holds no times: those are the emulsion maker's to give.
func (j *Job) ExposureStrip(steps int) (*FilmSet, error) {
	if j.duplicator() {
		return nil, errors.New("a duplicator exposes nothing: leave --process duplicator out")
	}
	s := &FilmSet{job: j, names: []string{"exposure test strip"}}
	s.screens = make([]*halftone.Screen, 1)
	if err := s.makeScreens(j.screenAngles(s.names, nil)); err != nil {
		return nil, err
	}
	label := film.Label{Job: j.Name, Date: j.Date.Time(), Mesh: string(j.Mesh), Dot: string(j.Dot)}
	tint := wedge(s.screens[0])
	if j.Dot.Screened() {
		label.RulingLPI, label.AngleDeg = s.screens[0].Ruling(), s.screens[0].Angle()
	}
	if j.Dot == "none" {
		tint = nil
	}
	page, err := film.ExposureStrip(j.Resolution(), steps, label, tint)
	if err != nil {
		return nil, err
	}
	s.pages = []*film.Page{page}
	w, h := page.Size()
	s.Print.FilmDPI, s.Print.FilmPx, s.Print.SizePx = j.Resolution(), [2]int{w, h}, [2]int{w, h}
	s.Print.WidthMM, s.Print.HeightMM = Round(float64(w)/j.Resolution()*mmPerInch, 3), Round(float64(h)/j.Resolution()*mmPerInch, 3)
	return s, nil
}
