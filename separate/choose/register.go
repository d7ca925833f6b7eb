package choose

import (
	"math"

	"platewright/composite"
	"platewright/composite/spectrum"
	"platewright/separate"
)

// seams is which main colors lie beside each other: for each pair of indices
// into the search palette, the number of pairs of pixels, of the given number
// in all, that have the two at the distance of the register error. Index 0 is
// bare paper, color i is i+1.
type seams struct {
	pairs  []float64 // n × n
	pixels float64
	share  float64 // of the distance in the error: 1, less where that is below a pixel
}

// newSeams looks along a part of the picture's rows and columns.
func (s *search) newSeams() *seams {
	p := s.pic
	width, by := s.q.WidthMM, s.q.Register
	if width == 0 {
		width = 297
	}
	if by == 0 {
		by = .5
	}
	px := by / width * float64(p.Width)
	d := max(1, int(math.Round(px)))
	n := len(s.main.want) + 1
	out := &seams{pairs: make([]float64, n*n), share: px / float64(d)}
	isBare := separate.Bare(p, s.paper.Color, s.opt)
	wanted := separate.Wanted(p.Space, s.paper.Color, s.opt)
	known := make(map[[3]uint8]uint8)
	at := func(x, y int) uint8 {
		if isBare(x, y) {
			return 0
		}
		r, g, b := p.At(x, y)
		key := [3]uint8{uint8(r * 63), uint8(g * 63), uint8(b * 63)}
		v, ok := known[key]
		if !ok {
			v = uint8(nearest(s.main.want, wanted([3]float64{r, g, b})) + 1)
			known[key] = v
		}
		return v
	}
	for y := 0; y < p.Height; y += max(1, p.Height/200) {
		for x := 0; x+d < p.Width; x++ {
			out.pairs[int(at(x, y))*n+int(at(x+d, y))]++
			out.pixels++
		}
	}
	for x := 0; x < p.Width; x += max(1, p.Width/200) {
		for y := 0; y+d < p.Height; y++ {
			out.pairs[int(at(x, y))*n+int(at(x, y+d))]++
			out.pixels++
		}
	}
	return out
}

// registerDE is the mean difference over the area that one plate out of
// register makes: each spot has that plate's coverage from as far away as the
// error is, to either side.
func (s *search) registerDE(m *composite.Model) float64 {
	if s.pic.Width < 2 || s.pic.Height < 2 || len(s.main.want) == 0 {
		return 0
	}
	s.seamsOnce.Do(func() { s.seams = s.newSeams() })
	k := m.Inks()
	n := len(s.main.want) + 1
	cov := make([]float64, n*k) // bare paper first
	s.solve(m, s.main, cov[k:])
	e := m.NewEvaluator()
	lab := make([]spectrum.Lab, n)
	for i := range lab {
		lab[i] = e.XYZ(cov[i*k : i*k+k]).Lab()
	}
	sum := 0.0
	mixed := make([]float64, k)
	for pair, count := range s.seams.pairs {
		if count == 0 || pair/n == pair%n {
			continue
		}
		// Half of the errors move the plate one way, half the other.
		a, b := pair/n, pair%n
		for ink := range k {
			if cov[a*k+ink] == cov[b*k+ink] {
				continue
			}
			copy(mixed, cov[a*k:a*k+k])
			mixed[ink] = cov[b*k+ink]
			d := spectrum.DeltaE(lab[a], e.XYZ(mixed).Lab())
			copy(mixed, cov[b*k:b*k+k])
			mixed[ink] = cov[a*k+ink]
			d += spectrum.DeltaE(lab[b], e.XYZ(mixed).Lab())
			sum += count * d / 2
		}
	}
	return sum / float64(k) * s.seams.share / max(1, s.seams.pixels)
}
