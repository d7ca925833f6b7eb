package spectrum

import "math"

// Smooth returns the smoothest reflectance that has the color c: of all with
// that color, the one whose z = atanh(2R−1) has the least sum of squared
// differences from band to band (Burns 2015). It is false where no reflectance
// between 0 and 1 has that color, as with fluorescent ones; the reflectance is
// then about the nearest that exists.
func Smooth(c XYZ) (Reflectance, bool) {
	one := Flat(1)
	return SmoothRatio(c, &one, Surface{})
}

// SmoothRatio returns the smoothest ratio T between 0 and 1, in the sense of
// Smooth, by which a clear layer turns the reflectance under (inside the sheet)
// into the color c as measured through the surface:
//
//	c = XYZ of s.Outside(T·under)
//
// It is false where there is no such ratio; T is then about the nearest.
func SmoothRatio(c XYZ, under *Reflectance, s Surface) (Reflectance, bool) {
	p := smoother{under: under, surface: s}
	for i := range p.target {
		p.target[i] = c[i] / 100
	}
	if p.inside() && p.solve() {
		return p.ratio(), true
	}
	// What a difference of CIELAB one is in each channel says how far the
	// color may be missed for smoothness' sake.
	white := White()
	for i, k := range [3]float64{500, 300, 200} {
		t := max(c[i]/white[i], .005)
		d := white[i] / 100 * 3 * math.Cbrt(t*t) / k
		p.slack[i] = .002 * d * d
	}
	p.solve()
	return p.ratio(), false
}

// smoother minimizes Σ(z[i+1]−z[i])² under W·P(z) = target by Newton's method
// on the Lagrangian. The Hessian is tridiagonal, so that a step costs a few
// hundred multiplications.
type smoother struct {
	under   *Reflectance
	surface Surface
	target  [3]float64 // XYZ/100
	slack   [3]float64 // 0: the color is met exactly; else it may be missed by slack·multiplier
	z       [Bands]float64
}

const (
	zLimit = 6.0 // R = 6e-6 or its complement: as black or as bright as matters
	zRidge = 1e-7
)

// inside rejects at once what is brighter or darker than any ratio makes it.
func (p *smoother) inside() bool {
	full, white := p.surface.XYZ(p.under), White()
	for c, v := range full {
		if !(p.target[c] < v/100 && p.target[c] > p.surface.Re*white[c]/100) {
			return false
		}
	}
	return true
}

func (p *smoother) ratio() (t Reflectance) {
	for i, z := range p.z {
		t[i] = 1 / (1 + math.Exp(-2*z))
	}
	return t
}

func (p *smoother) solve() bool {
	full := p.surface.XYZ(p.under)
	t := (p.target[1] - p.surface.Re) / (full[1]/100 - p.surface.Re)
	t = min(max(t, .005), .995)
	for i := range p.z {
		p.z[i] = math.Atanh(2*t - 1)
	}
	s := p.surface
	scale := (1 - s.Re) * (1 - s.Ri)
	var lambda [3]float64
	var diag, pivot [Bands]float64
	var col [4][Bands]float64 // gradient, and the three constraint gradients
	var jac [3][Bands]float64
	for iter := range 80 {
		miss := [3]float64{-p.target[0], -p.target[1], -p.target[2]}
		for i, z := range p.z {
			t := 1 / (1 + math.Exp(-2*z))
			b := p.under[i]
			in := 1 / (1 - s.Ri*b*t)
			t1 := 2 * t * (1 - t) * b
			t2 := 2 * t1 * (1 - 2*t)
			p1 := scale * in * in
			value := s.Re + scale*b*t*in
			slope := p1 * t1
			bend := p1*t2 + 2*s.Ri*p1*in*t1*t1
			w := &weights[i]
			pull := 0.0
			for c := range miss {
				wc := w[c] / 100
				miss[c] += wc * value
				jac[c][i] = slope * wc
				pull += wc * lambda[c]
			}
			left, right := p.z[max(i-1, 0)], p.z[min(i+1, Bands-1)]
			col[0][i] = 2*(2*z-left-right) + slope*pull
			diag[i] = 4 + zRidge + bend*pull
		}
		diag[0] -= 2
		diag[Bands-1] -= 2
		for c := range miss {
			miss[c] -= p.slack[c] * lambda[c]
			col[c+1] = jac[c]
		}
		if !factor(&diag, &pivot) {
			// Not a minimum here: leave the negative curvature out.
			for i := range diag {
				floor := 4 + zRidge
				if i == 0 || i == Bands-1 {
					floor -= 2
				}
				diag[i] = max(diag[i], floor)
			}
			if !factor(&diag, &pivot) {
				return false
			}
		}
		for c := range col {
			backsolve(&pivot, &col[c])
		}
		var m [3][4]float64 // (JᵀH⁻¹J + slack)·Δλ = miss − JᵀH⁻¹g
		for r := range m {
			for c := range 3 {
				m[r][c] = dot(&jac[r], &col[c+1])
			}
			m[r][r] += p.slack[r]
			m[r][3] = miss[r] - dot(&jac[r], &col[0])
		}
		step, ok := solve3(m)
		if !ok {
			return false
		}
		largest := 0.0
		for i := range p.z {
			d := -col[0][i] - step[0]*col[1][i] - step[1]*col[2][i] - step[2]*col[3][i]
			col[0][i] = d
			largest = max(largest, math.Abs(d))
		}
		if math.IsNaN(largest) {
			return false
		}
		damp := min(1, 1.5/largest)
		for i := range p.z {
			p.z[i] += damp * col[0][i]
		}
		for c := range lambda {
			lambda[c] += damp * step[c]
		}
		if largest < 1e-8 {
			return p.bounded()
		}
		if iter > 8 && p.slack == [3]float64{} && !p.bounded() {
			return false
		}
	}
	return false
}

func (p *smoother) bounded() bool {
	for _, z := range p.z {
		if math.Abs(z) > zLimit {
			return false
		}
	}
	return true
}

// factor takes the symmetric tridiagonal matrix with the diagonal diag and −2
// beside it apart; false where it is not positive definite.
func factor(diag, pivot *[Bands]float64) bool {
	pivot[0] = diag[0]
	for i := 1; i < Bands; i++ {
		if pivot[i-1] < zRidge/100 {
			return false
		}
		pivot[i] = diag[i] - 4/pivot[i-1]
	}
	return pivot[Bands-1] > zRidge/100
}

func backsolve(pivot, v *[Bands]float64) {
	for i := 1; i < Bands; i++ {
		v[i] += 2 / pivot[i-1] * v[i-1]
	}
	v[Bands-1] /= pivot[Bands-1]
	for i := Bands - 2; i >= 0; i-- {
		v[i] = (v[i] + 2*v[i+1]) / pivot[i]
	}
}

func dot(a, b *[Bands]float64) float64 {
	sum := 0.0
	for i, v := range a {
		sum += v * b[i]
	}
	return sum
}

// solve3 solves three equations by elimination with pivoting.
func solve3(m [3][4]float64) (x [3]float64, ok bool) {
	for i := range m {
		p := i
		for r := i + 1; r < 3; r++ {
			if math.Abs(m[r][i]) > math.Abs(m[p][i]) {
				p = r
			}
		}
		m[i], m[p] = m[p], m[i]
		if m[i][i] == 0 || math.IsNaN(m[i][i]) {
			return x, false
		}
		for r := i + 1; r < 3; r++ {
			f := m[r][i] / m[i][i]
			for c := i; c < 4; c++ {
				m[r][c] -= f * m[i][c]
			}
		}
	}
	for i := 2; i >= 0; i-- {
		x[i] = m[i][3]
		for c := i + 1; c < 3; c++ {
			x[i] -= m[i][c] * x[c]
		}
		x[i] /= m[i][i]
	}
	return x, true
}
