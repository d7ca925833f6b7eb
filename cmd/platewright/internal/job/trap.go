package job

import (
	"fmt"

	"platewright/halftone"
	"platewright/halftone/spread"
)

// RegisterSettings are what is done about plates that do not lie exactly.
func (j *Job) RegisterSettings() []Setting {
	return []Setting{
		{"register", "LENGTH", "how far plates lie out of register, for the choice of inks and to check that the trap covers it: 0.5mm", &j.Register},
		{"trap", "LENGTH", "how far one of two inks that touch is spread under the other, the lighter one or the one beneath an opaque one: 0.5mm", &j.Trap},
	}
}

// trap spreads inks under each other where they touch. Where they do and the
// trap is less than the register, it says so.
func (r *run) trap() error {
	mm, register := r.Trap.MM(), r.Register.MM()
	if mm == 0 && register == 0 {
		return nil
	}
	r.opt.Step("trapping")
	plates := make([]*halftone.Plate, len(r.Inks))
	inks := make([]spread.Ink, len(r.Inks))
	darkness := r.choice.darkness()
	for i := range plates {
		f, err := r.stock.Film(r.choice.Uses[i].Ink)
		if err != nil {
			return err
		}
		plates[i] = r.plate(i)
		inks[i] = spread.Ink{Darkness: darkness[i], Opacity: f.WithBase(r.choice.Uses[i].Base).Opacity}
	}
	try := mm
	if try == 0 {
		try = register
	}
	trapped, err := spread.Trap(plates, inks, try, r.dpi)
	if err != nil {
		return err
	}
	touch := false
	for i, p := range trapped {
		if p != plates[i] {
			touch = true
			if mm > 0 {
				r.res.Ink[i] = p.Cov
				r.res.Labels = nil // they know of no trap
			}
		}
	}
	if touch && mm < register {
		message := fmt.Sprintf("inks touch with a trap of %g mm: plates %g mm out of register leave bare paper between them", mm, register)
		if mm == 0 {
			message = fmt.Sprintf("inks touch without a trap: plates %g mm out of register leave bare paper between them", register)
		}
		r.find(Finding{Code: "trap-below-register", Level: Warning, Message: message, Mend: fmt.Sprintf("spread one under the other with --trap %gmm", register)})
	}
	r.lap(&r.report.Seconds.Separate)
	return nil
}
