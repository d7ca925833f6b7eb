package job

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"platewright/halftone"
	"platewright/halftone/spread"
)

// RegisterSettings are what is done about plates that do not lie exactly.
func (j *Job) RegisterSettings() []Setting {
	return []Setting{
		{"register", "LENGTH", "how far plates lie out of register, for the choice of inks and to check that the trap covers it: 0.5mm", &j.Register},
		{"trap", "LENGTH", "how far one of two inks that touch is spread under the other, the lighter one or the one beneath an opaque one: 0.5mm, or auto for the register", &j.Trap},
		{"knock-out", "NAMES", "inks beneath which nothing prints but the trap, such as opaque and metallic ones, with commas between", &j.KnockOut},
	}
}

// Trap is how far inks are spread under each other: a length, or auto.
type Trap string

func (t Trap) String() string { return string(t) }

// widestMM is the widest trap, and the most that plates may lie out of register.
const widestMM = 5

// UnmarshalText takes auto or a length up to widestMM.
func (t *Trap) UnmarshalText(b []byte) error {
	if string(b) != "auto" {
		var l Length
		if err := l.UnmarshalText(b); err != nil {
			return fmt.Errorf("%w, or auto", err)
		}
		if l.MM() > widestMM {
			return fmt.Errorf("a trap is as wide as plates lie out of register, and shows beyond a millimeter or two: give at most %dmm, or auto", widestMM)
		}
	}
	*t = Trap(b)
	return nil
}

// MM returns the width in millimetres, 0 when there is no trap. auto is as wide
// as plates lie out of register.
func (t Trap) MM(register float64) float64 {
	if t == "auto" {
		return register
	}
	return Length(t).MM()
}

// registerMM is how far plates of c lie out of register, as stated, else the
// most that test prints of the inks measured; 0 where nobody knows.
func (j *Job) registerMM(c *Choice) float64 {
	mm := j.Register.MM()
	if mm == 0 {
		for _, u := range c.Uses {
			mm = max(mm, u.Ink.Register)
		}
	}
	return mm
}

func (r *run) registerMM() float64 { return r.Job.registerMM(r.choice) }

// checkTrap refuses a trap of which nobody knows how wide it is.
func (j *Job) checkTrap(c *Choice) error {
	if j.Trap == "auto" && j.registerMM(c) == 0 {
		return &SettingError{"trap", "auto", "say how far plates lie out of register with --register, such as 0.5mm, as no test print of these inks has measured it"}
	}
	return nil
}

// settleTrap refuses what cannot be done before the work.
func (r *run) settleTrap() error {
	if err := r.checkTrap(r.choice); err != nil {
		return err
	}
	r.checkUnderbase()
	return r.choice.Check(r.Job)
}

// trapInks are the inks as trapping knows them.
func (c *Choice) trapInks(s *Stock) ([]spread.Ink, error) {
	inks := make([]spread.Ink, len(c.Uses))
	darkness := c.darkness()
	for i, u := range c.Uses {
		f, err := s.Film(u.Ink)
		if err != nil {
			return nil, err
		}
		inks[i] = spread.Ink{Darkness: darkness[i], Opacity: f.WithBase(u.Base).Opacity}
	}
	return inks, nil
}

// trap knocks out, spreads inks under each other where they touch, and draws
// the underbase back beneath them.
func (r *run) trap() error {
	r.knockOut()
	if err := r.spreadInks(); err != nil {
		return err
	}
	return r.choke()
}

// spreadInks spreads inks under each other where they touch. Where they do and
// the trap is less than the register, it says so.
func (r *run) spreadInks() error {
	if r.Trap.MM(r.registerMM()) == 0 && r.registerMM() == 0 {
		return nil
	}
	r.opt.Step("trapping")
	inks, err := r.choice.trapInks(r.stock)
	if err != nil {
		return err
	}
	plates := make([]*halftone.Plate, len(r.Inks))
	for i := range plates {
		plates[i] = r.plate(i)
	}
	t, err := r.spreadPlates(r.choice, plates, inks, r.dpi, r.res.Labels != nil)
	if err != nil {
		return err
	}
	if t.mm > 0 {
		for i, p := range t.plates {
			r.res.Ink[i] = p.Cov
		}
		r.report.TrapMM = Round(t.mm, 3)
		t.say(r.opt.Say)
		if r.res.Labels != nil && r.films != nil {
			w, h := r.films.Print.SizePx[0], r.films.Print.SizePx[1]
			if r.flats, err = spread.NewFlats(labelRows{r.res.Labels, w, h}, r.res.Labels.Cov, inks, t.mm, r.Resolution()); err != nil {
				return err
			}
		}
	}
	for _, f := range t.findings {
		r.find(f)
	}
	r.lap(&r.report.Seconds.Separate)
	return nil
}

// spreading is plates with their inks spread under each other.
type spreading struct {
	plates   []*halftone.Plate // as they were where mm is 0
	mm       float64           // how far
	auto     bool
	under    []string // inks that are spread, or would be
	findings []Finding
}

// spreadPlates spreads inks of plates, dpi pixels an inch, under each other where
// they touch. smooth is whether their outlines are finer than the pixels.
func (j *Job) spreadPlates(c *Choice, plates []*halftone.Plate, inks []spread.Ink, dpi float64, smooth bool) (*spreading, error) {
	register := j.registerMM(c)
	t := &spreading{plates: plates, mm: j.Trap.MM(register), auto: j.Trap == "auto"}
	try := t.mm
	if try == 0 {
		try = register
	}
	if try == 0 {
		return t, nil
	}
	trapped, err := spread.Trap(plates, inks, try, dpi)
	if err != nil {
		return nil, err
	}
	for i, p := range trapped {
		if p != plates[i] {
			t.under = append(t.under, c.Uses[i].Ink.Name)
		}
	}
	if t.mm > 0 {
		t.plates = trapped
	}
	if len(t.under) > 0 && t.mm < register {
		message := fmt.Sprintf("inks touch with a trap of %g mm: plates %g mm out of register leave bare paper between them", t.mm, register)
		if t.mm == 0 {
			message = fmt.Sprintf("inks touch without a trap: plates %g mm out of register leave bare paper between them", register)
		}
		t.findings = append(t.findings, Finding{Code: "trap-below-register", Level: Warning, Message: message, Mend: fmt.Sprintf("spread one under the other with --trap %gmm", register)})
	}
	if pixel := mmPerInch / dpi; t.mm > 0 && t.mm < pixel && !smooth {
		t.findings = append(t.findings, Finding{Code: "trap-below-pixel", Level: Note, Message: fmt.Sprintf("the trap of %g mm is narrower than the picture's pixels of %.2g mm", t.mm, pixel),
			Mend: "take a picture of higher resolution, or a wider trap"})
	}
	return t, nil
}

// say tells what is spread.
func (t *spreading) say(say func(string, ...any)) {
	if t.auto {
		say("trap: %g mm, as far as plates lie out of register", Round(t.mm, 3))
	}
	if t.mm > 0 && len(t.under) > 0 {
		say("trap: %s spread where they touch inks that hide them", strings.Join(t.under, ", "))
	}
}

const mmPerInch = 25.4

// labelRows are the labels of each film pixel.
type labelRows struct {
	labels interface {
		FilmRow(dst []uint16, y, w, h int)
	}
	w, h int
}

func (l labelRows) Size() (w, h int) { return l.w, l.h }

func (l labelRows) Row(dst []uint16, y int) { l.labels.FilmRow(dst, y, l.w, l.h) }

// knockOut takes away what prints beneath the inks that knock out. The trap
// leaves a rim of it.
func (r *run) knockOut() {
	for _, name := range r.KnockOut {
		over, err := r.choice.index(name)
		if err != nil {
			continue // refused before
		}
		for i := range over {
			for k, v := range r.res.Ink[over] {
				r.res.Ink[i][k] = min(r.res.Ink[i][k], math.MaxUint16-v)
			}
		}
		if l := r.res.Labels; l != nil {
			for _, cov := range l.Cov {
				for i := range over {
					cov[i] = min(cov[i], math.MaxUint16-cov[over])
				}
			}
		}
	}
}

// checkKnockOut refuses names of inks that do not print, or have nothing
// beneath them.
func (c *Choice) checkKnockOut(j *Job) error {
	for _, name := range j.KnockOut {
		i, err := c.index(name)
		if err == nil && i == 0 {
			err = errors.New(c.Uses[0].Ink.Name + " is printed first and has nothing beneath it: name an ink that is printed later")
		}
		if err != nil {
			return mistyped("knock-out", err)
		}
	}
	return nil
}
