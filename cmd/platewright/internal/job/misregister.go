package job

import (
	"fmt"
	"strings"

	"platewright/halftone"
	"platewright/halftone/spread"
)

// Misregister is what becomes of a print whose plates lie out of register.
type Misregister struct {
	Name   string        `json:"name"` // "worst", "random 1"
	Proof  string        `json:"proof"`
	Shifts []PlateShift  `json:"shifts"`
	Before OpeningsFound `json:"before_trap"`
	After  OpeningsFound `json:"after_trap"` // the same where no trap was asked for

	moved []spread.Shift
}

// PlateShift is how far one plate lies to the right and down.
type PlateShift struct {
	Ink string  `json:"ink"`
	XMM float64 `json:"x_mm"`
	YMM float64 `json:"y_mm"`
}

// OpeningsFound is the bare paper that shows between inks that touched.
type OpeningsFound struct {
	Count   int       `json:"count"`
	AreaMM2 float64   `json:"area_mm2"`
	Largest []Opening `json:"largest"`
}

// Opening is one place of it.
type Opening struct {
	Between [2]string `json:"between"`
	WidthMM float64   `json:"width_mm"`
	AreaMM2 float64   `json:"area_mm2"`
	Where   Where     `json:"where"`
}

// openingsListed is how many places are listed; more tell no more.
const openingsListed = 12

// Misregistered tries plates, no two further apart than mm, in the worst way
// and in some random ones, and says what opens as they are and with a trap. The
// trapped plates are returned, those given without a trap.
func (c *Choice) Misregistered(s *Stock, plates []*Plate, mm, trap float64, random int, seed uint64) ([]*Misregister, []*Plate, error) {
	inks, err := c.trapInks(s)
	if err != nil {
		return nil, nil, err
	}
	was := make([]*halftone.Plate, len(plates))
	for i, p := range plates {
		was[i] = &p.Plate
	}
	ppi := plates[0].PPI()
	now, err := spread.Trap(was, inks, trap, ppi)
	if err != nil {
		return nil, nil, err
	}
	before, err := spread.NewRegister(was, was, ppi)
	if err != nil {
		return nil, nil, err
	}
	after, err := spread.NewRegister(was, now, ppi)
	if err != nil {
		return nil, nil, err
	}
	tries := []*Misregister{{Name: "worst", moved: before.Worst(mm)}}
	for i := range random {
		tries = append(tries, &Misregister{Name: fmt.Sprintf("random %d", i+1), moved: spread.Scatter(len(plates), mm, seed+uint64(i))})
	}
	names := c.Names()
	for _, t := range tries {
		for i, by := range t.moved {
			t.Shifts = append(t.Shifts, PlateShift{names[i], Round(by.X, 3), Round(by.Y, 3)})
		}
		for _, side := range []struct {
			r   *spread.Register
			out *OpeningsFound
		}{{before, &t.Before}, {after, &t.After}} {
			found, err := side.r.Open(t.moved)
			if err != nil {
				return nil, nil, err
			}
			*side.out = openings(found, names)
		}
	}
	trapped := make([]*Plate, len(plates))
	for i, p := range plates {
		q := *p
		q.Plate = *now[i]
		trapped[i] = &q
	}
	return tries, trapped, nil
}

func openings(found []spread.Opening, names []string) OpeningsFound {
	out := OpeningsFound{Count: len(found), Largest: []Opening{}}
	for i, o := range found {
		out.AreaMM2 += o.Area
		if i < openingsListed {
			out.Largest = append(out.Largest, Opening{[2]string{names[o.Inks[0]], names[o.Inks[1]]}, Round(o.Width, 2), Round(o.Area, 3),
				Where{Round(o.X, 2), Round(o.Y, 2), Round(o.Wd, 2), Round(o.Ht, 2)}})
		}
	}
	out.AreaMM2 = Round(out.AreaMM2, 3)
	return out
}

// Moved are the coverages of plates as they lie.
func (m *Misregister) Moved(plates []*Plate) [][]uint16 {
	out := make([][]uint16, len(plates))
	for i, p := range plates {
		out[i] = p.Shifted(Shift(m.moved[i]))
	}
	return out
}

// Words say which plates lie where.
func (m *Misregister) Words() string {
	var parts []string
	for _, s := range m.Shifts {
		if s.XMM != 0 || s.YMM != 0 {
			parts = append(parts, fmt.Sprintf("%s %+.2f mm right, %+.2f mm down", s.Ink, s.XMM, s.YMM))
		}
	}
	if len(parts) == 0 {
		return "nothing moved"
	}
	return strings.Join(parts, "; ")
}

// Words say what opens.
func (o OpeningsFound) Words() string {
	if o.Count == 0 {
		return "no bare paper opens"
	}
	l := o.Largest[0]
	places := "1 place"
	if o.Count > 1 {
		places = fmt.Sprintf("%d places", o.Count)
	}
	return fmt.Sprintf("bare paper opens in %s, %.1f mm² in all, the largest between %s and %s, %.2f mm wide (%.0f mm from the left, %.0f mm from the top)",
		places, o.AreaMM2, l.Between[0], l.Between[1], l.WidthMM, l.Where.XMM, l.Where.YMM)
}
