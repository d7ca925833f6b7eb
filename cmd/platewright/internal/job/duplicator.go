package job

import (
	"fmt"
	"strings"

	"platewright/separate"
)

// What a stencil duplicator takes (common practice): rulings between these, more
// to be tested first; heavy paper for many inks; lines and type at full black.
const (
	drumRulingLow  = 38
	drumRulingTest = 120
	drumBlack      = .9 // the least darkest coverage of a plate of lines
)

// checkDrums says what is unwise about the pages of a duplicator.
func (r *run) checkDrums() {
	if !r.duplicator() {
		return
	}
	if r.screened() {
		for _, name := range append([]string{""}, r.Ruling.Names()...) {
			switch lpi := r.Ruling.Of(name); {
			case lpi > drumRulingTest:
				r.find(Finding{Code: "drum-ruling", Level: Note, Message: fmt.Sprintf("%.0f lines per inch are fine for a stencil duplicator: dots may run together", lpi),
					Mend: fmt.Sprintf("try it on one sheet first, or set the machine to %d or less", drumRulingTest)})
			case lpi < drumRulingLow:
				r.find(Finding{Code: "drum-ruling", Level: Note, Message: fmt.Sprintf("%.0f lines per inch are coarser than most stencil duplicators make", lpi),
					Mend: fmt.Sprintf("set the machine to %d or more", drumRulingLow)})
			}
		}
	}
	var weak []string
	for i, name := range r.Inks {
		most := uint16(0)
		for _, v := range r.res.Ink[i] {
			most = max(most, v)
		}
		if share := float64(most) / 65535; share > 0 && share < drumBlack {
			weak = append(weak, fmt.Sprintf("%s at most %.0f %%", name, 100*share))
		}
	}
	if len(weak) > 0 && r.res.Tints != separate.TintsList {
		r.find(Finding{Code: "drum-not-black", Level: Note, Message: fmt.Sprintf("pages that are nowhere black come out weak, their lines and type as dots: %s", strings.Join(weak, ", ")),
			Mend: "draw type and lines at full strength, print with more transparent base and a stronger plate, or pin their color with --pin"})
	}
	if c := r.report.Coverage; c != nil && c.Total.Most > 200 {
		r.find(Finding{Code: "drum-wet", Level: Note, Message: fmt.Sprintf("up to %.0f %% of ink lies in one spot: it dries slowly, and the next drum's rollers mark it", c.Total.Most),
			Mend: "let sheets dry between drums, or lower --inks-per-spot"})
	}
	paper := "one or two light colors go on paper of about 216 g/m²"
	if len(r.Inks) >= 3 {
		paper = "three colors and more want paper of 270 to 300 g/m²"
	}
	r.find(Finding{Code: "drum-paper", Level: Note, Message: paper + " (common practice), within what the machine feeds", Mend: "let it lie open in the room for a day or two, and test one sheet"})
}
