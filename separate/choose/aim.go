package choose

import (
	"platewright/composite"
	"platewright/composite/spectrum"
	"platewright/separate"
)

// aims returns what a print by m goes for in place of the colors of p: with
// Ease they are drawn into what m prints. The difference counts from the
// colors of the artwork all the same, as in separate.Fit: by their own aims
// the inks that print least would come out best.
func (s *search) aims(m *composite.Model, p *palette) []spectrum.Lab {
	if s.opt.OutOfReach != separate.Ease {
		return p.want
	}
	return separate.Eased(m, p.want)
}

// targets returns the aims of each model as targets.
func (s *search) targets(p *palette) func(*composite.Model) *separate.Targets {
	if s.opt.OutOfReach == separate.Ease {
		return func(m *composite.Model) *separate.Targets { return separate.NewTargets(s.aims(m, p)) }
	}
	all := separate.NewTargets(p.want)
	return func(*composite.Model) *separate.Targets { return all }
}
