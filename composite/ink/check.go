package ink

import (
	"slices"
	"strings"

	"platewright/composite/spectrum"
)

// Prepare checks a shelf that was put together or changed in code, and makes
// its papers and films ready, so that New is quick. Load does it by itself.
func (s *Shelf) Prepare() error {
	if len(s.Papers) == 0 {
		_, err := s.Paper("")
		return err
	}
	for n := range s.Papers {
		if err := s.checkPaper(n); err != nil {
			return err
		}
	}
	for n := range s.Inks {
		if err := s.checkInk(n); err != nil {
			return err
		}
	}
	for n := range s.Overprints {
		if err := s.checkOverprint(n); err != nil {
			return err
		}
	}
	for n := range s.Sets {
		if err := s.checkSet(n); err != nil {
			return err
		}
	}
	s.films, s.sheets = nil, nil
	sheets := make(map[*Paper]*Sheet, len(s.Papers))
	for _, p := range s.Papers {
		sheets[p] = s.makeSheet(p)
	}
	s.sheets = sheets
	films := make(map[*Ink]*Film, len(s.Inks))
	for _, i := range s.Inks {
		f, err := s.Film(i)
		if err != nil {
			return err
		}
		films[i] = f
	}
	s.films = films
	return nil
}

func checkName(kind, name string) error {
	switch {
	case fold(name) == "":
		return badKey("name", "%s without a name; add name = \"…\"", kind)
	case strings.ContainsAny(name, ",=@\n\r\t\"") || len(name) > 80:
		return badKey("name", "%s name %q holds a comma, =, @, quote or line break, or is longer than 80 letters; lists of names need those", kind, name)
	}
	return nil
}

func checkColor(kind, name, key string, c spectrum.XYZ) error {
	for _, v := range c {
		if !(v >= 0 && v <= 200) {
			return badKey(key, "%s %q: %s is not a color (X, Y, Z = %.4g)", kind, name, key, c)
		}
	}
	return nil
}

const (
	surfaceMend = "write the share of the light that the bare surface gives back, .001 … .2, or leave it out"
	factorMend  = "the factor of tints goes from 1 to 10; leave it out where it is not measured"
)

func (s *Shelf) checkPaper(n int) error {
	p := s.Papers[n]
	if err := checkName("paper", p.Name); err != nil {
		return err
	}
	for _, q := range s.Papers[:n] {
		if fold(q.Name) == fold(p.Name) {
			return badKey("name", "two papers are called %q; rename one", p.Name)
		}
	}
	if p.Finish != Coated && p.Finish != Uncoated {
		return badKey("finish", "paper %q: finish %q is unknown; write coated or uncoated", p.Name, p.Finish)
	}
	if p.Color[1] < .5 {
		return badKey("color", "paper %q is blacker than any paper (Y = %.2g); a perfect white has Y = 100", p.Name, p.Color[1])
	}
	if p.Surface != 0 && !(p.Surface >= .001 && p.Surface <= .2) {
		return badKey("surface", "paper %q: surface %g; %s", p.Name, p.Surface, surfaceMend)
	}
	if p.N != 0 && !(p.N >= 1 && p.N <= 10) {
		return badKey("yule_nielsen", "paper %q: yule_nielsen %g; %s", p.Name, p.N, factorMend)
	}
	return checkColor("paper", p.Name, "color", p.Color)
}

func (s *Shelf) checkInk(n int) error {
	i := s.Inks[n]
	if err := checkName("ink", i.Name); err != nil {
		return err
	}
	for _, q := range s.Inks[:n] {
		if fold(q.Name) == fold(i.Name) {
			return badKey("name", "two inks are called %q; rename one, or make one a tint or an overprint", i.Name)
		}
	}
	if _, err := s.Paper(i.On); err != nil {
		return badKey("on", "ink %q: %w", i.Name, err)
	}
	if err := checkColor("ink", i.Name, "color", i.Color); err != nil {
		return err
	}
	if i.Opacity < 0 || i.Opacity > 1 {
		return badKey("opacity", "ink %q: opacity %g is not between 0 and 1", i.Name, i.Opacity)
	}
	if i.Base < 0 || i.Base >= 100 {
		return badKey("base", "ink %q: base %g is not a percentage below 100", i.Name, i.Base)
	}
	if !(i.Register >= 0 && i.Register < 100) {
		return badKey("register", "ink %q: register %g is no distance in mm", i.Name, i.Register)
	}
	if (i.Black != nil) && i.OverBlack == nil && i.OverBlackSpectrum == nil {
		return badKey("black", "ink %q: black is the color under over_black; add over_black or leave black out", i.Name)
	}
	if i.OverBlackSpectrum != nil && i.Spectrum == nil {
		return badKey("over_black_spectrum", "ink %q: over_black_spectrum needs spectrum beside it, the solid on paper", i.Name)
	}
	if len(i.Tints) > 0 && len(i.ToneCurve) > 0 {
		return badKey("tone_curve", "ink %q has tints and tone_curve; keep the tints, they say more", i.Name)
	}
	last := 0.0
	for _, t := range i.Tints {
		if !(t.Film > 0 && t.Film < 100) {
			return badKey("tints", "ink %q: a tint of film %g; film percent lies between 0 and 100", i.Name, t.Film)
		}
		if t.Film <= last {
			return badKey("tints", "ink %q: tints must rise in film percent, %g comes after %g", i.Name, t.Film, last)
		}
		last = t.Film
		if err := checkColor("ink", i.Name, "tints", t.Color); err != nil {
			return err
		}
	}
	film, printed := 0.0, 0.0
	for _, p := range i.ToneCurve {
		if !(p[0] >= 0 && p[0] <= 100 && p[1] >= 0 && p[1] <= 100) {
			return badKey("tone_curve", "ink %q: tone_curve point %g, %g is not in percent", i.Name, p[0], p[1])
		}
		if p[0] < film || p[1] < printed || p[0] == film && film > 0 {
			return badKey("tone_curve", "ink %q: tone_curve must rise; %g prints %g after %g printed %g", i.Name, p[0], p[1], film, printed)
		}
		if p[0] == 0 && p[1] != 0 || p[0] == 100 && p[1] != 100 {
			return badKey("tone_curve", "ink %q: tone_curve keeps its ends, 0 prints 0 and 100 prints 100; leave %g, %g out", i.Name, p[0], p[1])
		}
		film, printed = p[0], p[1]
	}
	return nil
}

func (s *Shelf) checkOverprint(n int) error {
	o := &s.Overprints[n]
	if len(o.Inks) < 2 {
		return badKey("inks", "an overprint names two inks or more, first printed first")
	}
	seen := map[string]bool{}
	for _, name := range o.Inks {
		if _, err := s.Ink(name); err != nil {
			return badKey("inks", "overprint: %w", err)
		}
		if seen[fold(name)] {
			return badKey("inks", "overprint: %q is named twice", name)
		}
		seen[fold(name)] = true
	}
	if o.Film != nil && len(o.Film) != len(o.Inks) {
		return badKey("film", "the overprint of %s: film has %d numbers for %d inks; give one for each", strings.Join(o.Inks, ", "), len(o.Film), len(o.Inks))
	}
	for _, v := range o.Film {
		if !(v > 0 && v <= 100) {
			return badKey("film", "the overprint of %s: film %g; film percent goes to 100, and an ink of 0 is left out", strings.Join(o.Inks, ", "), v)
		}
	}
	p, err := s.OverprintPaper(o)
	if err != nil {
		return badKey("on", "overprint: %w", err)
	}
	for m := range s.Overprints[:n] {
		q := &s.Overprints[m]
		if on, _ := s.OverprintPaper(q); on == p && sameFilm(o, q) && strings.EqualFold(strings.Join(q.Inks, ","), strings.Join(o.Inks, ",")) {
			return badKey("inks", "the overprint of %s is there twice; keep one", strings.Join(o.Inks, ", "))
		}
	}
	return checkColor("overprint", strings.Join(o.Inks, ", "), "color", o.Color)
}

func sameFilm(o, q *Overprint) bool {
	return o.Solid() && q.Solid() || slices.Equal(o.Film, q.Film)
}

func (s *Shelf) checkSet(n int) error {
	set := &s.Sets[n]
	if err := checkName("set", set.Name); err != nil {
		return err
	}
	for _, q := range s.Sets[:n] {
		if fold(q.Name) == fold(set.Name) {
			return badKey("name", "two sets are called %q; rename one", set.Name)
		}
	}
	if len(set.Inks) == 0 || len(set.Inks) > 8 {
		return badKey("inks", "set %q has %d inks; a print takes 1 to 8", set.Name, len(set.Inks))
	}
	seen := map[string]bool{}
	for _, name := range set.Inks {
		if _, err := s.Ink(name); err != nil {
			return badKey("inks", "set %q: %w", set.Name, err)
		}
		if seen[fold(name)] {
			return badKey("inks", "set %q names %q twice", set.Name, name)
		}
		seen[fold(name)] = true
	}
	return nil
}
