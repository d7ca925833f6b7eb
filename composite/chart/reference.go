package chart

import (
	"fmt"
	"math"

	"platewright/composite/internal/cholesky"
)

// CardPlace is the upper left corner of where a gray or color card lies on the
// sheet, over the lines to write on, mm.
func (c *Chart) CardPlace() (x, y float64) { return margin + 2*targetR + 3, c.Rows[3] }

// A Reference is colors that are known of what lies in the picture.
type Reference struct {
	card   []Sample
	places [][2]float64
	known  []Sample
}

// NewReference makes a reference of a table. With columns x_mm and y_mm it is a
// gray or color card, its patches' middles measured from CardPlace. Without, it
// is solids and overlaps of this chart, measured with an instrument, with a
// column of film percent for each ink: that also corrects a sensor that sees the
// inks otherwise than the eye does, which a card of other dyes cannot.
func (c *Chart) NewReference(t *Table) (*Reference, error) {
	x, y := t.Column("x_mm"), t.Column("y_mm")
	switch {
	case x != nil && y != nil:
		r := &Reference{card: t.Samples}
		for i := range x {
			r.places = append(r.places, [2]float64{x[i], y[i]})
		}
		if len(r.card) < 3 {
			return nil, fmt.Errorf("%d patches of a card; 3 or more are needed", len(r.card))
		}
		return r, nil
	case x != nil || y != nil:
		return nil, fmt.Errorf("a card needs both x_mm and y_mm, from the upper left of the lines to write on")
	}
	if _, err := t.Order(c.InkNames()); err != nil {
		return nil, fmt.Errorf("%w, or x_mm and y_mm of a card's patches", err)
	}
	r := &Reference{}
	for _, s := range t.Samples {
		if m, solid := s.mask(); solid && m > 0 && !s.OverBlack {
			r.known = append(r.known, s)
		}
	}
	if len(r.known) == 0 {
		return nil, fmt.Errorf("no solid among the reference; measure each ink at 100 percent, and the overlaps")
	}
	return r, nil
}

// correction takes light over paper, as a sensor saw it, to what an instrument
// would have seen. Its zero value changes nothing.
type correction struct {
	gain [3]float64         // powers that make grays gray; 0: 1
	mix  [3][terms3]float64 // of roots
	use  bool
}

// terms3 is the number of terms of roots.
const terms3 = 13

// roots are r, g, b and the roots of their products up to the third degree
// (Finlayson, Mackiewicz and Hurlbert 2015, "Color correction using root-polynomial
// regression"): all of first degree, so that brightness cancels.
func roots(v [3]float64) [terms3]float64 {
	r, g, b := math.Max(v[0], 0), math.Max(v[1], 0), math.Max(v[2], 0)
	cbrt := math.Cbrt
	return [terms3]float64{v[0], v[1], v[2], math.Sqrt(r * g), math.Sqrt(g * b), math.Sqrt(b * r),
		cbrt(r * g * g), cbrt(g * b * b), cbrt(b * r * r), cbrt(g * r * r), cbrt(b * g * g), cbrt(r * b * b), cbrt(r * g * b)}
}

func (f *correction) apply(v [3]float64) [3]float64 {
	for c, p := range f.gain {
		if p != 0 {
			v[c] = math.Pow(math.Max(v[c], 0), p)
		}
	}
	if !f.use {
		return v
	}
	t := roots(v)
	var out [3]float64
	for c := range out {
		for k, x := range t {
			out[c] += f.mix[c][k] * x
		}
	}
	return out
}

// calibrate reads the patches of a card at their places, mm from CardPlace, and
// finds the correction. Colors of a card are absolute; the paper's own color
// is what the light is held against.
func (c *Chart) calibrate(g *page, card []Sample, places [][2]float64) (correction, error) {
	var f correction
	x0, y0 := c.CardPlace()
	paper := c.Paper.xyz.Linear()
	var seen, want [][3]float64
	gray := true
	for i, s := range card {
		const half = 1.5
		x, y := x0+places[i][0], y0+places[i][1]
		mid, _, ok := g.box(x-half, y-half, 2*half, 2*half)
		if !ok {
			return f, &ReadError{g.name, CutOff, fmt.Sprintf("the card's patch %s lies beside the picture; lay the card into its place and scan the whole sheet", s.Name)}
		}
		l, w := g.light.at(x, y), s.Color.Linear()
		for k := range mid {
			mid[k] /= l[k]
			w[k] /= paper[k]
		}
		seen, want = append(seen, mid), append(want, w)
		lab := s.Color.Lab()
		gray = gray && math.Hypot(lab[1], lab[2]) < 8
	}
	off := 0.0
	for i := range seen {
		off += deltaE(c.color(seen[i]), card[i].Color) / float64(len(seen))
	}
	if off > 25 {
		return f, &ReadError{g.name, Wrong, fmt.Sprintf("the card's patches are off by ΔE %.0f from its values; lay it into its place, upright, or give the file of this card", off)}
	}
	if gray {
		// One power a channel, by least squares in logarithms, with the paper as
		// the fixed point.
		for k := range f.gain {
			up, down := 0.0, 1e-9
			for i := range seen {
				if seen[i][k] > .004 && want[i][k] > .004 {
					a, b := math.Log(seen[i][k]), math.Log(want[i][k])
					up += a * b
					down += a * a
				}
			}
			f.gain[k] = math.Min(math.Max(up/down, .7), 1.4)
		}
		return f, nil
	}
	f.fit(seen, want, cardRidge, cardPaper)
	return f, nil
}

// How firmly a correction is held: the ridge is what it costs to change a channel,
// and the paper's color on the shelf counts for so many patches. A card may be faded
// or badly lit, and is of other dyes, of which little holds for the inks but much for
// the paper. An instrument's readings of the chart's own inks are few, and leave the
// paper as it is [calc: of 21 simulated sensors, from narrow LEDs to phones, with 6 to
// 27 patches of a card, and 4, 10 and 15 readings].
const (
	cardRidge, cardPaper   = .2, 30
	knownRidge, knownPaper = 1, 300
)

// fit finds the mixing by least squares on relative errors.
func (f *correction) fit(seen, want [][3]float64, ridge, paper float64) {
	const n = terms3
	for c := range f.mix {
		a, b := make([]float64, n*n), make([]float64, n)
		add := func(s [3]float64, w, weight float64) {
			t := roots(s)
			for i := range n {
				// Against the channel itself, so that the ridge pulls to it.
				b[i] += weight * t[i] * (w - s[c])
				for j := range n {
					a[i*n+j] += weight * t[i] * t[j]
				}
			}
		}
		for i := range seen {
			y := math.Max(want[i][c], 0)
			// An error counts as the eye weighs it, by the slope of a cube root.
			add(seen[i], want[i][c], math.Pow(y+.01, -4./3))
		}
		add([3]float64{1, 1, 1}, 1, paper)
		for i := range n {
			a[i*n+i] += ridge
		}
		cholesky.Solve(a, b)
		copy(f.mix[c][:], b)
		f.mix[c][c]++
	}
	f.use = true
}
