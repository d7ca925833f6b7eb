package choose

import (
	"platewright/composite"
	"platewright/composite/spectrum"
	"platewright/separate"
)

// seams is how long the borders between main colors are: for each pair of
// indices into the search palette, the number of neighboring pixels, of the
// given number in all, that have the two. Index 0 is bare paper, color i is
// i+1.
type seams struct {
	n      int
	pairs  []float64 // n × n
	pixels float64
}

// newSeams walks a part of the picture's rows and columns.
func (s *search) newSeams() *seams {
	p := s.pic
	n := len(s.main.want) + 1
	out := &seams{n: n, pairs: make([]float64, n*n)}
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
	step := max(1, p.Height/200)
	for y := step / 2; y < p.Height; y += step {
		last := at(0, y)
		for x := 1; x < p.Width; x++ {
			c := at(x, y)
			if c != last {
				out.pairs[int(last)*n+int(c)]++
			}
			last = c
		}
		out.pixels += float64(p.Width)
	}
	step = max(1, p.Width/200)
	for x := step / 2; x < p.Width; x += step {
		last := at(x, 0)
		for y := 1; y < p.Height; y++ {
			c := at(x, y)
			if c != last {
				out.pairs[int(last)*n+int(c)]++
			}
			last = c
		}
		out.pixels += float64(p.Height)
	}
	return out
}

// registerDE is the mean difference over the area that one plate out of
// register makes: along each seam, a strip as wide as the error has that
// plate's coverage from the other side. Strips that are wider than what lies
// beside the seam count too much, so it is for errors well below the size of
// the picture's parts.
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
	width := s.q.WidthMM
	if width == 0 {
		width = 297
	}
	by := s.q.Register
	if by == 0 {
		by = .5
	}
	px := by / width * float64(s.pic.Width) // strip width in pixels
	sum := 0.0
	mixed := make([]float64, k)
	for pair, count := range s.seams.pairs {
		if count == 0 {
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
	return sum / float64(k) * px / s.seams.pixels
}
