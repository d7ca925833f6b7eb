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

// UnmarshalText takes auto or a length.
func (t *Trap) UnmarshalText(b []byte) error {
	if string(b) != "auto" {
		var l Length
		if err := l.UnmarshalText(b); err != nil {
			return fmt.Errorf("%w, or auto", err)
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

// registerMM is how far plates lie out of register, as stated, else the most
// that test prints of the inks measured; 0 where nobody knows.
func (r *run) registerMM() float64 {
	mm := r.Register.MM()
	if mm == 0 {
		for _, u := range r.choice.Uses {
			mm = max(mm, u.Ink.Register)
		}
	}
	return mm
}

// settleTrap refuses what cannot be done before the work.
func (r *run) settleTrap() error {
	if r.Trap == "auto" && r.registerMM() == 0 {
		return &SettingError{"trap", "auto", "say how far plates lie out of register with --register, such as 0.5mm, as no test print of these inks has measured it"}
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
	register := r.registerMM()
	mm := r.Trap.MM(register)
	if mm == 0 && register == 0 {
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
	try := mm
	if try == 0 {
		try = register
	}
	trapped, err := spread.Trap(plates, inks, try, r.dpi)
	if err != nil {
		return err
	}
	var under []string
	for i, p := range trapped {
		if p != plates[i] {
			under = append(under, r.Inks[i])
			if mm > 0 {
				r.res.Ink[i] = p.Cov
			}
		}
	}
	if mm > 0 {
		r.report.TrapMM = Round(mm, 3)
		if r.Trap == "auto" {
			r.opt.Say("trap: %g mm, as far as plates lie out of register", Round(mm, 3))
		}
		if len(under) > 0 {
			r.opt.Say("trap: %s spread where they touch inks that hide them", strings.Join(under, ", "))
		}
		if r.res.Labels != nil && r.films != nil {
			w, h := r.films.Print.SizePx[0], r.films.Print.SizePx[1]
			if r.flats, err = spread.NewFlats(labelRows{r.res.Labels, w, h}, r.res.Labels.Cov, inks, mm, r.Resolution()); err != nil {
				return err
			}
		}
	}
	if len(under) > 0 && mm < register {
		message := fmt.Sprintf("inks touch with a trap of %g mm: plates %g mm out of register leave bare paper between them", mm, register)
		if mm == 0 {
			message = fmt.Sprintf("inks touch without a trap: plates %g mm out of register leave bare paper between them", register)
		}
		r.find(Finding{Code: "trap-below-register", Level: Warning, Message: message, Mend: fmt.Sprintf("spread one under the other with --trap %gmm", register)})
	}
	if pixel := mmPerInch / r.dpi; mm > 0 && mm < pixel && r.res.Labels == nil {
		r.find(Finding{Code: "trap-below-pixel", Level: Note, Message: fmt.Sprintf("the trap of %g mm is narrower than the picture's pixels of %.2g mm", mm, pixel),
			Mend: "take a picture of higher resolution, or a wider trap"})
	}
	r.lap(&r.report.Seconds.Separate)
	return nil
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
