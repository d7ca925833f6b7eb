package ink

import (
	"fmt"
	"math"
	"strings"
)

// KnownBy says in plain words what is measured of the ink and what is assumed.
func (i *Ink) KnownBy() string {
	var b strings.Builder
	solid := "a color"
	if i.Spectrum != nil {
		solid = "a spectrum"
	}
	switch {
	case i.OverBlackSpectrum != nil:
		b.WriteString("spectra over paper and over black")
	case i.OverBlack != nil:
		fmt.Fprintf(&b, "%s over paper and one over black", solid)
	case !math.IsNaN(i.Opacity):
		fmt.Fprintf(&b, "%s and an opacity of %.2g", solid, i.Opacity)
	default:
		fmt.Fprintf(&b, "%s alone, taken as clear", solid)
	}
	switch {
	case len(i.Tints) == 1:
		b.WriteString(", with 1 tint")
	case len(i.Tints) > 1:
		fmt.Fprintf(&b, ", with %d tints", len(i.Tints))
	case len(i.ToneCurve) > 0:
		b.WriteString(", with a tone curve")
	}
	if i.Base > 0 {
		fmt.Fprintf(&b, ", at %g %% base", i.Base)
	}
	var from []string
	for _, s := range []string{i.By, i.When, i.Mesh} {
		if s != "" {
			from = append(from, s)
		}
	}
	if len(from) > 0 {
		fmt.Fprintf(&b, " (%s)", strings.Join(from, ", "))
	}
	return b.String()
}

// OpacityKnown reports whether the ink's opacity is measured or stated. Where
// it is not, overlaps stand on a guess.
func (i *Ink) OpacityKnown() bool {
	return !math.IsNaN(i.Opacity) || i.OverBlack != nil || i.OverBlackSpectrum != nil
}
