package job

import (
	"fmt"
	"slices"
	"strings"

	"platewright/composite/ink"
	"platewright/halftone"
	"platewright/halftone/spread"
	"platewright/separate"
)

// UnderbaseSettings are what is printed first on dark paper.
func (j *Job) UnderbaseSettings() []Setting {
	return []Setting{
		{"underbase", "NAME", "on dark paper the white ink that lies solid beneath all others and is printed first; where it shows it is the picture's white", &j.Underbase},
		{"choke", "LENGTH", "how far the underbase stays within the inks over it; without it as wide as the trap, else the register", &j.Choke},
	}
}

// lightestDark is the lightness from which paper needs no underbase.
const lightestDark = 70

// withUnderbase puts the underbase of a job before its other inks.
func (s *Stock) withUnderbase(j *Job, inks []*ink.Ink) ([]*ink.Ink, error) {
	if j.Underbase == "" {
		return inks, nil
	}
	base, err := s.Ink(j.Underbase)
	if err != nil {
		return nil, mistyped("underbase", err)
	}
	inks = append([]*ink.Ink{base}, slices.DeleteFunc(slices.Clone(inks), func(i *ink.Ink) bool { return i == base })...)
	if len(inks) < 2 {
		return nil, &SettingError{"underbase", base.Name, "name an ink to print over it with --inks"}
	}
	return inks, nil
}

// checkUnderbase says when it is hardly needed.
func (r *run) checkUnderbase() {
	if l := r.choice.Paper.Color.Lab()[0]; r.Underbase != "" && l >= lightestDark {
		r.find(Finding{Code: "underbase-on-light", Level: Note, Message: fmt.Sprintf("%s is light (L* %.0f) and hardly needs an underbase", r.choice.Paper.Name, l),
			Mend: "leave --underbase out, or name the dark paper with --paper"})
	}
}

// chokeMM is how far the underbase stays within the inks over it.
func (r *run) chokeMM() float64 {
	if mm := r.Choke.MM(); mm > 0 {
		return mm
	}
	register := r.registerMM()
	if mm := r.Trap.MM(register); mm > 0 {
		return mm
	}
	return register
}

// choke draws the underbase back beneath the inks over it.
func (r *run) choke() error {
	if r.Underbase == "" {
		return nil
	}
	mm := r.chokeMM()
	if mm == 0 {
		r.find(Finding{Code: "underbase-unchoked", Level: Warning, Message: fmt.Sprintf("%s is as large as the inks over it and shows beside them when plates lie out of register", r.Inks[0]),
			Mend: "draw it back with --choke, such as 0.3mm, or say how far plates lie out of register with --register"})
		return nil
	}
	over := make([]*halftone.Plate, 0, len(r.Inks))
	for i := 1; i < len(r.Inks); i++ {
		over = append(over, r.plate(i))
	}
	base, err := spread.ChokeUnder(r.plate(0), over, mm, r.dpi)
	if err != nil {
		return err
	}
	if r.res.Labels != nil && r.films != nil {
		w, h := r.films.Print.SizePx[0], r.films.Print.SizePx[1]
		f, err := spread.NewFlats(labelRows{r.res.Labels, w, h}, r.res.Labels.Cov, make([]spread.Ink, len(r.Inks)), 0, r.Resolution())
		if err != nil {
			return err
		}
		if r.base, err = f.Choked(0, mm, r.Resolution()); err != nil {
			return err
		}
	}
	whole := r.plate(0)
	lost, err := lostMM2(whole, base, mm, r.dpi)
	if err != nil {
		return err
	}
	if lost >= 1 {
		r.find(Finding{Code: "underbase-lost", Level: Warning, Message: fmt.Sprintf("%.0f mm² of lines narrower than %g mm lose their underbase", lost, Round(2*mm, 3)),
			Mend: "draw it back less with --choke, or print larger"})
	}
	r.res.Ink[0] = base.Cov
	r.report.ChokeMM = Round(mm, 3)
	r.opt.Say("underbase: %s, drawn back %g mm beneath the inks over it", r.Inks[0], Round(mm, 3))
	return nil
}

// lostMM2 is the area where a choked plate is gone altogether, and not only near
// its edge.
func lostMM2(whole, choked *halftone.Plate, mm, ppi float64) (float64, error) {
	back, err := spread.Spread(choked, mm+mmPerInch/ppi, ppi)
	if err != nil {
		return 0, err
	}
	n := 0
	for i, v := range whole.Cov {
		if v >= 0x8000 && back.Cov[i] < 0x8000 {
			n++
		}
	}
	pixel := mmPerInch / ppi
	return float64(n) * pixel * pixel, nil
}

// underbaseOptions adds the underbase to what package separate is asked.
func (j *Job) underbaseOptions(opt *separate.Options, c *Choice) {
	opt.Underbase = j.Underbase != "" && c != nil && len(c.Uses) > 1 && strings.EqualFold(c.Uses[0].Ink.Name, strings.TrimSpace(j.Underbase))
}

// solids are a one-bit picture as coverage.
type solids struct{ halftone.Bits }

func (s solids) Row(dst []uint16, y int) {
	w, _ := s.Size()
	packed := make([]byte, (w+7)/8)
	s.Rows(packed, len(packed), y, y+1)
	for x := range dst[:w] {
		dst[x] = uint16(packed[x>>3]>>(7-x&7)&1) * halftone.Full
	}
}
