package halftone

import (
	"fmt"
	"math"
	"slices"
	"sort"
)

// Curve is how much coverage a film's coverage prints, both in percent. It
// rises from 0, 0 to 100, 100, is smooth through the given points, and does
// not overshoot: a monotone piecewise cubic (F. N. Fritsch and R. E. Carlson,
// "Monotone piecewise cubic interpolation", SIAM J. Numer. Anal. 17(2), 1980),
// its slopes the weighted harmonic mean of the neighboring secants.
type Curve struct {
	film, print, slope []float64
}

// NewCurve makes a curve through points of film percent and printed percent,
// in any order. 0, 0 and 100, 100 are added where no point says otherwise. It
// fails when a value is out of 0 … 100, a film percent comes twice, or the
// print falls where the film rises.
func NewCurve(points [][2]float64) (*Curve, error) {
	pts := slices.Clone(points)
	var zero, full bool
	for _, p := range pts {
		if !(p[0] >= 0 && p[0] <= 100 && p[1] >= 0 && p[1] <= 100) {
			return nil, fmt.Errorf("halftone: tone curve point film %.4g %%, print %.4g %%: both must lie between 0 and 100", p[0], p[1])
		}
		zero, full = zero || p[0] == 0, full || p[0] == 100
	}
	if !zero {
		pts = append(pts, [2]float64{0, 0})
	}
	if !full {
		pts = append(pts, [2]float64{100, 100})
	}
	sort.Slice(pts, func(i, j int) bool { return pts[i][0] < pts[j][0] })
	n := len(pts)
	c := &Curve{make([]float64, n), make([]float64, n), make([]float64, n)}
	for i, p := range pts {
		c.film[i], c.print[i] = p[0], p[1]
		if i == 0 {
			continue
		}
		switch {
		case p[0] == pts[i-1][0]:
			return nil, fmt.Errorf("halftone: tone curve has film %.4g %% twice: keep one of the two", p[0])
		case p[1] < pts[i-1][1]:
			return nil, fmt.Errorf("halftone: tone curve falls from print %.4g %% to %.4g %% where the film rises to %.4g %%: measure these tints again", pts[i-1][1], p[1], p[0])
		}
	}
	secant := func(i int) float64 { return (c.print[i+1] - c.print[i]) / (c.film[i+1] - c.film[i]) }
	c.slope[0], c.slope[n-1] = secant(0), secant(n-2)
	for i := 1; i < n-1; i++ {
		a, b := secant(i-1), secant(i)
		if a == 0 || b == 0 {
			continue
		}
		ha, hb := c.film[i]-c.film[i-1], c.film[i+1]-c.film[i]
		wa, wb := float64(2*hb)+ha, float64(2*ha)+hb
		c.slope[i] = (wa + wb) / (wa/a + wb/b)
	}
	return c, nil
}

// Print returns the printed percent of film percent 0 … 100.
func (c *Curve) Print(film float64) float64 {
	film = min(max(film, 0), 100)
	i := max(sort.SearchFloat64s(c.film, film)-1, 0)
	return c.eval(min(i, len(c.film)-2), film)
}

// eval is the cubic Hermite polynomial of segment i. Products are rounded
// before they are added, so that every machine gets the same.
func (c *Curve) eval(i int, film float64) float64 {
	h := c.film[i+1] - c.film[i]
	t := (film - c.film[i]) / h
	d := c.print[i+1] - c.print[i]
	a, b := float64(h*c.slope[i])-d, float64(h*c.slope[i+1])-d // how far the slopes are off the secant
	u := 1 - t
	bend := float64(a*u) - float64(b*t)
	return c.print[i] + float64(t*(d+float64(u*bend)))
}

// Film returns the film percent that prints the percent 0 … 100: the least
// one, except that a printed 100 takes 100, a solid.
func (c *Curve) Film(print float64) float64 {
	switch {
	case !(print > c.print[0]):
		return 0
	case print >= 100:
		return 100
	}
	i := sort.SearchFloat64s(c.print, print) - 1 // print[i] < print ≤ print[i+1]
	if i > len(c.print)-2 {
		return 100
	}
	lo, hi := c.film[i], c.film[i+1]
	for range 48 {
		if mid := (lo + hi) / 2; c.eval(i, mid) < print {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// Table gives for every coverage 0 … Full another one. It must not fall.
type Table [Full + 1]uint16

// Compensation returns the film coverage for every wanted printed coverage.
// A nil curve prints what the film has. low and high, in film percent, are the
// lightest and the darkest tint that hold on the print; tones beyond them
// become the limit or nothing (or solid), whichever is nearer. 0 and 100 set
// no limit.
func Compensation(c *Curve, low, high float64) (*Table, error) {
	if !(low >= 0 && low < high && high <= 100) {
		return nil, fmt.Errorf("halftone: tone limits %.4g … %.4g %%: give 0 ≤ low < high ≤ 100", low, high)
	}
	t := new(Table)
	for i := 1; i < Full; i++ {
		film := float64(i) * 100 / Full
		if c != nil {
			film = c.Film(film)
		}
		switch {
		case film < low/2:
			film = 0
		case film < low:
			film = low
		case film > (high+100)/2:
			film = 100
		case film > high:
			film = high
		}
		t[i] = uint16(math.Round(film / 100 * Full))
	}
	t[Full] = Full
	return t, nil
}
