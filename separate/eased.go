package separate

import (
	"platewright/composite"
	"platewright/composite/spectrum"
)

// Eased returns what Separate goes for with m in place of each of the wanted
// colors when Options.OutOfReach is Ease.
func Eased(m *composite.Model, want []spectrum.Lab) []spectrum.Lab {
	e := newEasing(m)
	out := make([]spectrum.Lab, len(want))
	for i, c := range want {
		out[i] = e.ease(c)
	}
	return out
}
