package spectrum

// Matrix takes one tristimulus value to another.
type Matrix [3][3]float64

// Apply returns m·c.
func (m *Matrix) Apply(c XYZ) XYZ {
	var out XYZ
	for i := range out {
		out[i] = m[i][0]*c[0] + m[i][1]*c[1] + m[i][2]*c[2]
	}
	return out
}

// Adapt returns the linear Bradford transform that takes colors seen under the
// white from to colors seen under the white to (Lam 1985; ICC.1:2022, annex E).
// Both whites need not be scaled alike.
func Adapt(from, to XYZ) Matrix {
	bradford := Matrix{{.8951, .2664, -.1614}, {-.7502, 1.7135, .0367}, {.0389, -.0685, 1.0296}}
	inverse := bradford.inverse()
	f, t := bradford.Apply(from), bradford.Apply(to)
	var m Matrix
	for i := range m {
		for j := range m {
			for k := range m {
				m[i][j] += inverse[i][k] * t[k] / f[k] * bradford[k][j]
			}
		}
	}
	return m
}

// WhiteD65 is the white of D65 as IEC 61966-2-1 uses it, Y = 100.
func WhiteD65() XYZ { return XYZ{95.047, 100, 108.883} }

func (m *Matrix) inverse() Matrix {
	var inv Matrix
	for i := range inv {
		for j := range inv {
			a, b := (j+1)%3, (j+2)%3
			c, d := (i+1)%3, (i+2)%3
			inv[i][j] = m[a][c]*m[b][d] - m[a][d]*m[b][c]
		}
	}
	det := m[0][0]*inv[0][0] + m[0][1]*inv[1][0] + m[0][2]*inv[2][0]
	for i := range inv {
		for j := range inv {
			inv[i][j] /= det
		}
	}
	return inv
}
