package job

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"strings"

	"platewright/cmd/platewright/internal/sheet"
	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

// maxShelf is the largest shelf file that is read.
const maxShelf = 8 << 20

// shelfHere is the shelf file that is taken from where the program stands.
const shelfHere = "shelf.toml"

// Stock is the shelf a job takes its inks from.
type Stock struct {
	*ink.Shelf
	From string // a path, or BuiltIn
	Copy string // the shelf as TOML
	Here bool   // nobody named it; it lies where the program stands
}

// OpenStock reads the shelf of a job: its own copy, the file it names,
// ./shelf.toml, or else the built-in example inks.
func (j *Job) OpenStock() (*Stock, error) {
	switch {
	case j.ShelfCopy != "":
		s, err := ink.Load(strings.NewReader(j.ShelfCopy), "shelf-copy")
		if err != nil {
			return nil, err
		}
		return &Stock{Shelf: s, From: j.Shelf, Copy: j.ShelfCopy}, nil
	case j.Shelf == BuiltIn:
		return builtIn()
	case j.Shelf != "":
		return readStock(j.Shelf)
	}
	s, err := readStock(shelfHere)
	if errors.Is(err, fs.ErrNotExist) {
		return builtIn()
	}
	if err != nil {
		return nil, err
	}
	s.Here = true
	return s, nil
}

// builtIn is the example shelf, read from its copy so that a rerun reads the
// same.
func builtIn() (*Stock, error) {
	var text strings.Builder
	if err := ink.BuiltIn().Write(&text); err != nil {
		return nil, err
	}
	s, err := ink.Load(strings.NewReader(text.String()), BuiltIn)
	if err != nil {
		return nil, err
	}
	return &Stock{Shelf: s, From: BuiltIn, Copy: text.String()}, nil
}

// Findings say that the inks are examples, where they are.
func (s *Stock) Findings() []Finding {
	if s.From != BuiltIn {
		return nil
	}
	return []Finding{{Code: "example-inks", Level: Warning,
		Message: "no shelf was given: these are invented example inks, and no tin holds them",
		Mend:    "describe your own inks: platewright inks --new shelf.toml"}}
}

func readStock(path string) (*Stock, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxShelf+1))
	if err != nil {
		return nil, err
	}
	s, err := ink.Load(strings.NewReader(string(data)), path)
	if err != nil {
		return nil, err
	}
	return &Stock{Shelf: s, From: path, Copy: string(data)}, nil
}

// Choice is the paper and the inks of a print, in print order.
type Choice struct {
	Paper *ink.Paper
	Uses  []composite.Use
	Model *composite.Model
}

// Named returns the inks that a job names, nil where it leaves the choice. All
// that is wrong with the names is a *SettingError.
func (s *Stock) Named(j *Job) (paper *ink.Paper, inks []*ink.Ink, err error) {
	if paper, err = s.Paper(j.Paper); err != nil {
		return nil, nil, mistyped("paper", err)
	}
	for _, name := range j.Inks {
		if strings.HasPrefix(name, "@") {
			set, err := s.Set(name)
			if err != nil {
				return nil, nil, mistyped("inks", err)
			}
			inks = append(inks, set...)
			continue
		}
		i, err := s.Ink(name)
		if err != nil {
			return nil, nil, mistyped("inks", err)
		}
		inks = append(inks, i)
	}
	if len(inks) > 0 {
		if inks, err = s.withUnderbase(j, inks); err != nil {
			return nil, nil, err
		}
	}
	if len(inks) > composite.MaxInks {
		return nil, nil, &SettingError{"inks", strings.Join(j.Inks, ","), fmt.Sprintf("%d inks are too many for one print: name 1 to %d", len(inks), composite.MaxInks)}
	}
	seen := make(map[*ink.Ink]bool)
	for _, i := range inks {
		if seen[i] {
			return nil, nil, &SettingError{"inks", strings.Join(j.Inks, ","), fmt.Sprintf("%q is named twice: print it once", i.Name)}
		}
		seen[i] = true
	}
	return paper, inks, nil
}

// mistyped is an error that holds the value already.
func mistyped(key string, err error) error { return &SettingError{key, "", err.Error()} }

// Choose makes the model of a print with the given inks. Numbers for inks that
// are not in it are a *SettingError.
func (s *Stock) Choose(j *Job, paper *ink.Paper, inks []*ink.Ink) (*Choice, error) {
	c := &Choice{Paper: paper}
	for _, i := range inks {
		base, ok := j.Base.Of(i.Name)
		switch {
		case !ok:
			base = math.NaN()
		case base < 0 || base >= 100:
			return nil, &SettingError{"base", string(j.Base), "give percents from 0 to below 100"}
		}
		c.Uses = append(c.Uses, composite.Use{Ink: i, Base: base})
	}
	for key, p := range map[string]PerInk{"base": j.Base, "angle": j.Angle} {
		for _, name := range p.Names() {
			if _, err := c.index(name); err != nil {
				return nil, mistyped(key, err)
			}
		}
	}
	for _, name := range j.Ruling.Names() {
		if _, err := c.index(name); err != nil {
			return nil, mistyped("ruling", err)
		}
	}
	var err error
	c.Model, err = composite.New(s.Shelf, paper, c.Uses)
	return c, err
}

// Names are the inks' names in print order.
func (c *Choice) Names() []string {
	names := make([]string, len(c.Uses))
	for i, u := range c.Uses {
		names[i] = u.Ink.Name
	}
	return names
}

// index returns the place of an ink in the print order, from 0.
func (c *Choice) index(name string) (int, error) {
	for i, u := range c.Uses {
		if strings.EqualFold(u.Ink.Name, strings.TrimSpace(name)) {
			return i, nil
		}
	}
	names := c.Names()
	if near := Nearest(name, names); near != "" {
		return 0, fmt.Errorf("no ink %q in this print: did you mean %q?", name, near)
	}
	return 0, fmt.Errorf("no ink %q in this print, which has %s", name, strings.Join(names, ", "))
}

// Solid is the color of one ink alone, solid on the paper.
func (c *Choice) Solid(i int) spectrum.XYZ { return c.Model.Overprint(1 << i) }

// base is the percent of transparent base that an ink is printed with.
func (c *Choice) base(s *Stock, i int) float64 {
	if u := c.Uses[i]; u.Base >= 0 {
		return u.Base
	}
	f, err := s.Film(c.Uses[i].Ink)
	if err != nil {
		return 0
	}
	return f.Base
}

// darkness is how dark each ink's solid is, 0 … 100.
func (c *Choice) darkness() []float64 {
	out := make([]float64, len(c.Uses))
	for i := range out {
		out[i] = 100 - c.Solid(i).Lab()[0]
	}
	return out
}

// HexCode is a color as a display shows it, #2f6d58.
func HexCode(c spectrum.XYZ) string {
	rgb := c.RGB().Clamp()
	return fmt.Sprintf("#%02x%02x%02x", int(math.Round(rgb[0]*255)), int(math.Round(rgb[1]*255)), int(math.Round(rgb[2]*255)))
}

// Check refuses colors and inks of settings that the print does not have.
func (c *Choice) Check(j *Job) error {
	if err := c.checkKnockOut(j); err != nil {
		return err
	}
	if err := c.checkTones(j); err != nil {
		return err
	}
	_, err := j.options(c)
	return err
}

// RoundLab is a color in CIELAB under D50 with two decimals.
func RoundLab(c spectrum.XYZ) [3]float64 {
	lab := c.Lab()
	return [3]float64{Round(lab[0], 2), Round(lab[1], 2), Round(lab[2], 2)}
}

// Swatches are the inks of the shelf as they print on a paper and over a black,
// whose color is returned with them.
func (s *Stock) Swatches(paper *ink.Paper) ([]sheet.Swatch, spectrum.XYZ, error) {
	black := &ink.Paper{Name: "black", Finish: paper.Finish, Color: spectrum.Lab{18, 0, 0}.XYZ()}
	var out []sheet.Swatch
	for _, i := range s.Inks {
		on, err := composite.New(s.Shelf, paper, composite.AsMeasured(i))
		if err != nil {
			return nil, black.Color, err
		}
		over, err := composite.New(s.Shelf, black, composite.AsMeasured(i))
		if err != nil {
			return nil, black.Color, err
		}
		out = append(out, sheet.Swatch{Name: i.Name, Solid: on.Overprint(1), OverBlack: over.Overprint(1), KnownBy: i.KnownBy()})
	}
	return out, black.Color, nil
}
