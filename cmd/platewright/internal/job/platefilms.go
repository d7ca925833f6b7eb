package job

import "platewright/halftone"

// PlateFilms makes the films of plates read from files. names are those of the
// inks, in print order.
func (j *Job) PlateFilms(plates []*Plate, names []string) (*FilmSet, error) {
	s, err := j.newFilmSet(names, plates[0].WidthMM, plates[0].HeightMM)
	if err != nil {
		return nil, err
	}
	return s, s.addPlates(plates, nil)
}

// addPlates adds the film of each plate. darkness may be nil, as in screenAngles.
func (s *FilmSet) addPlates(plates []*Plate, darkness []float64) error {
	if s.master != nil {
		for i, plate := range plates {
			if err := s.addPage(i, plate); err != nil {
				return err
			}
		}
		return nil
	}
	if err := s.makeScreens(s.job.screenAngles(s.names, darkness)); err != nil {
		return err
	}
	for i, plate := range plates {
		if err := s.addScreened(i, plate); err != nil {
			return err
		}
	}
	return nil
}

// PlateInk is what a shelf did for the film of a plate.
type PlateInk struct {
	Name    string     `json:"name"`
	KnownBy string     `json:"known_by"`
	Tones   []ToneStep `json:"tones,omitempty"` // where the shelf knows its tints
}

// CheckPlates refuses settings that films of plates in the inks of c cannot have.
func (c *Choice) CheckPlates(j *Job) error {
	if err := c.checkCurves(j, "its film gets what prints as the plate says"); err != nil {
		return err
	}
	return j.checkTrap(c)
}

// InkedFilms makes the films of plates whose tints are meant as printed, as they
// are when made by hand: where the shelf knows the tints of an ink its film gets
// those that print the plate's, inks that touch are spread under each other where
// the job has a trap, and angles go by how dark the inks are.
func (j *Job) InkedFilms(plates []*Plate, stock *Stock, c *Choice, say func(string, ...any)) (*FilmSet, []PlateInk, error) {
	s, err := j.newFilmSet(c.Names(), plates[0].WidthMM, plates[0].HeightMM)
	if err != nil {
		return nil, nil, err
	}
	inks, err := c.trapInks(stock)
	if err != nil {
		return nil, nil, err
	}
	bare := make([]*halftone.Plate, len(plates))
	for i := range plates {
		bare[i] = &plates[i].Plate
	}
	t, err := j.spreadPlates(c, bare, inks, plates[0].PPI(), false)
	if err != nil {
		return nil, nil, err
	}
	t.say(say)
	trapped := make([]*Plate, len(plates))
	for i, p := range plates {
		q := *p
		q.Plate = *t.plates[i]
		trapped[i] = &q
	}
	s.curves = make([]*halftone.Curve, len(plates))
	known := make([]PlateInk, len(plates))
	for i, u := range c.Uses {
		known[i] = PlateInk{Name: u.Ink.Name, KnownBy: u.Ink.KnownBy()}
		if len(u.Ink.Tints) == 0 && len(u.Ink.ToneCurve) == 0 {
			continue
		}
		if s.curves[i], err = c.curve(i); err != nil {
			return nil, nil, err
		}
		table, err := s.table(i)
		if err != nil {
			return nil, nil, err
		}
		known[i].Tones = steps(table, func(print float64) float64 { return print })
	}
	if err := s.addPlates(trapped, c.darkness()); err != nil {
		return nil, nil, err
	}
	for _, f := range t.findings {
		s.Findings = addFinding(s.Findings, f)
	}
	return s, known, nil
}

// curve is what films of an ink print, as the model has it.
func (c *Choice) curve(i int) (*halftone.Curve, error) {
	points := make([][2]float64, 0, 99)
	last := 0.
	for film := 1.; film < 100; film++ {
		last = min(100, max(last, 100*c.Model.Tone(i, film/100))) // never falls by rounding
		points = append(points, [2]float64{film, last})
	}
	return halftone.NewCurve(points)
}
