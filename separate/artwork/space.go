package artwork

import (
	"math"

	"platewright/composite/spectrum"
)

// Space says which colors the numbers of a picture mean: a tone curve for each
// channel and a matrix to XYZ under D50. The zero Space is sRGB. Spaces are
// values, safe for concurrent use.
type Space struct{ m *matrixSpace }

type matrixSpace struct {
	curves  [3]curve
	toXYZ   matrix // linear 0 … 1 to XYZ, Y of white = 100
	fromXYZ matrix
}

// XYZ returns the color that the encoded values r, g, b (0 … 1) mean. A full
// r = g = b = 1 is spectrum.White.
func (s Space) XYZ(r, g, b float64) spectrum.XYZ {
	if s.m == nil {
		return spectrum.RGB{r, g, b}.XYZ()
	}
	c := &s.m.curves
	return s.m.toXYZ.apply(c[0].decode(r), c[1].decode(g), c[2].decode(b))
}

// Encode is the inverse of XYZ, unclamped: a color that the space does not
// hold has values outside 0 … 1.
func (s Space) Encode(c spectrum.XYZ) [3]float64 {
	if s.m == nil {
		return c.RGB()
	}
	l := s.m.fromXYZ.apply(c[0], c[1], c[2])
	for i := range l {
		l[i] = s.m.curves[i].encode(l[i])
	}
	return l
}

// IsSRGB reports whether the numbers are sRGB.
func (s Space) IsSRGB() bool { return s.m == nil }

// newSpace makes a Space from tone curves and the colors of the full channels,
// the columns of primaries, in XYZ with Y of white = 1. Their sum, the white,
// is taken to D50 by Bradford; in a sound profile it is there but for rounding.
// It returns the zero Space for what cannot be told from sRGB, and false for
// primaries that span no space.
func newSpace(curves [3]curve, primaries matrix) (Space, bool) {
	var full [3]float64 // a curve may end beside 1
	for i, c := range curves {
		full[i] = c.decode(1)
	}
	w := primaries.apply(full[0], full[1], full[2])
	adapt, ok := bradford(spectrum.XYZ{100 * w[0], 100 * w[1], 100 * w[2]}, spectrum.White())
	if !ok {
		return Space{}, false
	}
	m := adapt.times(primaries)
	for i := range m {
		m[i] *= 100
	}
	// Rounding aside the rows now sum to the white; make it exact, so that
	// white artwork is exactly White.
	white := spectrum.White()
	for i := range 3 {
		f := white[i] / m.apply(full[0], full[1], full[2])[i]
		for j := range 3 {
			m[3*i+j] *= f
		}
	}
	inv, ok := m.inverse()
	if !ok {
		return Space{}, false
	}
	s := Space{&matrixSpace{curves: curves, toXYZ: m, fromXYZ: inv}}
	if s.nearSRGB() {
		return Space{}, true
	}
	return s, true
}

// nearSRGB reports whether no color of a 9³ grid is farther than .5 in CIELAB
// from what sRGB would make of the same numbers: below what anyone sees, and
// above the rounding of the sRGB profiles in circulation.
func (s Space) nearSRGB() bool {
	const n, tolerance = 8, .5
	for r := range n + 1 {
		for g := range n + 1 {
			for b := range n + 1 {
				v := [3]float64{float64(r) / n, float64(g) / n, float64(b) / n}
				p, q := s.XYZ(v[0], v[1], v[2]).Lab(), Space{}.XYZ(v[0], v[1], v[2]).Lab()
				if d := math.Hypot(math.Hypot(p[0]-q[0], p[1]-q[1]), p[2]-q[2]); !(d <= tolerance) {
					return false
				}
			}
		}
	}
	return true
}

// graySpace gives gray numbers with tone curve c a meaning: equal channels on
// the sRGB primaries, so that r = g = b stays neutral and a paper's color has
// an encoding too.
func graySpace(c curve) (Space, bool) {
	return newSpace([3]curve{c, c, c}, srgbPrimaries())
}

// srgbPrimaries returns the D50 colors of the sRGB channels, as columns.
func srgbPrimaries() (m matrix) {
	for j, c := range []spectrum.RGB{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}} {
		x := c.XYZ()
		for i := range 3 {
			m[3*i+j] = x[i] / 100
		}
	}
	return m
}

// chromaticSpace makes a Space from the chromaticities x, y of white, red,
// green and blue, as PNG states them; it returns false when they span no space.
func chromaticSpace(c curve, xy [8]float64) (Space, bool) {
	column := func(i int) spectrum.XYZ {
		x, y := xy[2*i], xy[2*i+1]
		return spectrum.XYZ{x / y, 1, (1 - x - y) / y}
	}
	for i := 1; i < 8; i += 2 {
		if !(xy[i] > .0001 && xy[i] < 1 && xy[i-1] >= 0 && xy[i-1] < 1) {
			return Space{}, false
		}
	}
	w, r, g, b := column(0), column(1), column(2), column(3)
	m := matrix{r[0], g[0], b[0], r[1], g[1], b[1], r[2], g[2], b[2]}
	inv, ok := m.inverse()
	if !ok {
		return Space{}, false
	}
	scale := inv.apply(w[0], w[1], w[2])
	for j, s := range scale {
		if !(s > 0) {
			return Space{}, false
		}
		for i := range 3 {
			m[3*i+j] *= s
		}
	}
	return newSpace([3]curve{c, c, c}, m)
}

// matrix is 3 × 3, row-major.
type matrix [9]float64

func (m *matrix) apply(x, y, z float64) [3]float64 {
	return [3]float64{
		m[0]*x + m[1]*y + m[2]*z,
		m[3]*x + m[4]*y + m[5]*z,
		m[6]*x + m[7]*y + m[8]*z,
	}
}

func (m matrix) times(n matrix) (p matrix) {
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				p[3*i+j] += m[3*i+k] * n[3*k+j]
			}
		}
	}
	return p
}

// inverse returns false for a matrix that is singular or not finite.
func (m matrix) inverse() (matrix, bool) {
	a, b, c := m[4]*m[8]-m[5]*m[7], m[5]*m[6]-m[3]*m[8], m[3]*m[7]-m[4]*m[6]
	det := m[0]*a + m[1]*b + m[2]*c
	size := 0.0
	for _, v := range m {
		size = math.Max(size, math.Abs(v))
	}
	if !(math.Abs(det) > 1e-6*size*size*size) || math.IsInf(det, 0) {
		return matrix{}, false
	}
	return matrix{
		a / det, (m[2]*m[7] - m[1]*m[8]) / det, (m[1]*m[5] - m[2]*m[4]) / det,
		b / det, (m[0]*m[8] - m[2]*m[6]) / det, (m[2]*m[3] - m[0]*m[5]) / det,
		c / det, (m[1]*m[6] - m[0]*m[7]) / det, (m[0]*m[4] - m[1]*m[3]) / det,
	}, true
}

// bradford returns the chromatic adaptation from one white to another (ICC.1
// annex E; the matrix of Lam 1985). It returns false for an impossible white.
func bradford(from, to spectrum.XYZ) (matrix, bool) {
	cone := matrix{.8951, .2664, -.1614, -.7502, 1.7135, .0367, .0389, -.0685, 1.0296}
	back, ok := cone.inverse()
	f, t := cone.apply(from[0], from[1], from[2]), cone.apply(to[0], to[1], to[2])
	for i := range 3 {
		r := t[i] / f[i]
		if !(r > .1 && r < 10) {
			return matrix{}, false
		}
		for j := range 3 {
			cone[3*i+j] *= r
		}
	}
	return back.times(cone), ok
}
