package spectrum

// Surface is the boundary between a sheet and the air (Saunderson 1942). Of the
// light that arrives, Re comes straight back uncolored; of the light that
// arrives at the boundary from inside, Ri is sent back in. A measured
// reflectance P and the reflectance R inside are related by
//
//	P = Re + (1−Re)(1−Ri)·R / (1 − Ri·R)
//
// The zero Surface is none at all: P = R.
type Surface struct{ Re, Ri float64 }

// Outside returns what an instrument measures where the sheet has the
// reflectance inside.
func (s Surface) Outside(inside float64) float64 {
	return s.Re + (1-s.Re)*(1-s.Ri)*inside/(1-s.Ri*inside)
}

// Inside returns the reflectance inside the sheet for a measured one. It is
// negative where the measured one is below Re.
func (s Surface) Inside(measured float64) float64 {
	d := measured - s.Re
	return d / ((1-s.Re)*(1-s.Ri) + s.Ri*d)
}

// Enter turns a measured reflectance into the one inside, at least 0.
func (s Surface) Enter(measured *Reflectance) (inside Reflectance) {
	for i, p := range measured {
		inside[i] = max(0, s.Inside(p))
	}
	return inside
}

// Leave turns a reflectance inside the sheet into what is measured.
func (s Surface) Leave(inside *Reflectance) (measured Reflectance) {
	for i, r := range inside {
		measured[i] = s.Outside(r)
	}
	return measured
}

// XYZ is the measured color of a sheet with the reflectance inside.
func (s Surface) XYZ(inside *Reflectance) XYZ {
	m := s.Leave(inside)
	return m.XYZ()
}
