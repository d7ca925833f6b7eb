package separate

import (
	"math"
	"math/rand"
	"testing"

	"platewright/composite/spectrum"
)

func testField(t testing.TB, inks string, smooth float64) (*fieldSolver, *field) {
	m := testModel(t, inks)
	fs := &fieldSolver{m: m, inksPerSpot: 3, smooth: smooth, target: func(rgb [3]float64) target {
		return newTarget(spectrum.RGB(rgb).XYZ().Lab())
	}}
	return fs, fs.solve(2)
}

// cleanSets leaves out the two-ink set, which has no choice, and the last,
// whose inks are so alike in the dark that their Jacobian alone implies 3 %.
var cleanSets = testSets[1:5]

// Ramps of 256 steps give plates without a step over 3 %, and cost little
// color against solving each step alone.
func TestRampsAreSmooth(t *testing.T) {
	ramps := []struct {
		name     string
		from, to [3]float64
	}{
		{"gray", [3]float64{0, 0, 0}, [3]float64{1, 1, 1}},
		{"red to white", [3]float64{.8, .2, .2}, [3]float64{1, 1, 1}},
		{"brown to blue", [3]float64{.5, .35, .2}, [3]float64{.3, .4, .7}},
		{"green to yellow", [3]float64{.2, .45, .25}, [3]float64{.95, .9, .5}},
	}
	for _, inks := range cleanSets {
		fs, f := testField(t, inks, 1)
		starts := newStartTable(fs.m)
		s := newSolver(fs.m, 3, starts).hold()
		alone := newSolver(fs.m, 3, starts)
		c, before := make([]float64, f.k), make([]float64, f.k)
		for _, r := range ramps {
			step, cost := 0.0, 0.0
			for v := 0; v < 256; v++ {
				var rgb [3]float64
				for i := range rgb {
					rgb[i] = r.from[i] + (r.to[i]-r.from[i])*float64(v)/255
				}
				tg := fs.target(rgb)
				f.interpolate(rgb, c)
				p := pull{weight: weightRefine}
				copy(p.to[:], c)
				s.descend(c, &tg, &p, 12)
				s.thin(c, &tg, p.weight)
				if v > 0 {
					step = math.Max(step, apart(c, before))
				}
				copy(before, c)
				best := alone.candidates(&tg, 6, globalSteps)[0]
				cost += math.Sqrt(s.distance2(c, &tg)) - math.Sqrt(s.distance2(best.c[:f.k], &tg))
			}
			t.Logf("%-50s %-16s largest step %.2f %%, costs ΔE %.3f", inks, r.name, 100*step, cost/256)
			if step > .03 {
				t.Errorf("%s, %s: a plate steps by %.2f %%", inks, r.name, 100*step)
			}
			if cost/256 > .3 {
				t.Errorf("%s, %s: smoothing costs ΔE %.3f", inks, r.name, cost/256)
			}
		}
	}
}

// Noise of 1/255 in the artwork stays below 2 % rms in the plates, and below
// 1.5 times what the least-norm inverse of the model's Jacobian makes of it.
func TestNoiseStaysSmall(t *testing.T) {
	for _, inks := range cleanSets {
		fs, f := testField(t, inks, 1)
		tab := newTable(f, 3)
		s := newSolver(fs.m, 3, newStartTable(fs.m))
		rng := rand.New(rand.NewSource(5))
		c, d := make([]float64, f.k), make([]float64, f.k)
		plate, implied := 0.0, 0.0
		n := 0
		for n < 1500 {
			v := [3]float64{rng.Float64(), rng.Float64(), rng.Float64()}
			f.interpolate(v, c)
			tg := fs.target(v)
			inside := s.distance2(c, &tg) < 1
			for _, x := range c {
				inside = inside && x < .97
			}
			if !inside { // the Jacobian implies nothing at a bound
				continue
			}
			n++
			var jac [maxInks]spectrum.Lab
			s.labJacobian(c, &jac)
			rows := weightedRows(&jac, &tg, f.k)
			for i := 0; i < 8; i++ {
				q := v
				for j := range q {
					q[j] += rng.NormFloat64() / 255
				}
				tab.at([3]uint16{code16(q[0]), code16(q[1]), code16(q[2])}, d)
				for j := range d {
					plate += (d[j] - c[j]) * (d[j] - c[j])
				}
				want := tg.residual(spectrum.RGB(q).XYZ().Lab())
				implied += leastNorm2(rows, want, f.k, c)
			}
		}
		rms := math.Sqrt(plate / float64(8*n*f.k))
		ref := math.Sqrt(implied / float64(8*n*f.k))
		t.Logf("%-50s plates %.2f %% rms, the Jacobian implies %.2f %%: %.2f times", inks, 100*rms, 100*ref, rms/ref)
		if rms > .02 || rms > 1.5*ref {
			t.Errorf("%s: noise of 1/255 gives %.2f %% in the plates, %.2f times what the Jacobian implies", inks, 100*rms, rms/ref)
		}
	}
}

func code16(v float64) uint16 { return uint16(math.Round(math.Max(0, math.Min(1, v)) * 65535)) }

// leastNorm2 is the squared length of the shortest step of coverage that
// moves the color by want, with the inks that are at zero left out.
func leastNorm2(rows [3][maxInks]float64, want [3]float64, k int, c []float64) float64 {
	for i := 0; i < k; i++ {
		if c[i] < .005 {
			for r := range rows {
				rows[r][i] = 0
			}
		}
	}
	// x = J'(JJ' + ε)⁻¹·want, by elimination.
	var a [3][4]float64
	for r := range rows {
		for q := range rows {
			a[r][q] = inner(&rows[r], &rows[q], k)
		}
		a[r][r] += 1
		a[r][3] = want[r]
	}
	for p := 0; p < 3; p++ {
		for r := 0; r < 3; r++ {
			if r != p {
				m := a[r][p] / a[p][p]
				for q := p; q < 4; q++ {
					a[r][q] -= m * a[p][q]
				}
			}
		}
	}
	s := 0.0
	for i := 0; i < k; i++ {
		x := 0.0
		for r := range rows {
			x += rows[r][i] * a[r][3] / a[r][r]
		}
		s += x * x
	}
	return s
}

// Solving only where the picture has colors gives what the whole field does.
func TestUsedCells(t *testing.T) {
	fs, full := testField(t, testSets[1], 1)
	rng := rand.New(rand.NewSource(8))
	pix := make([]uint8, 3*4000)
	for i := range pix { // a cloud around browns, and some colors far off
		pix[i] = uint8(math.Max(0, math.Min(255, 120-30*float64(i%3)+25*rng.NormFloat64())))
		if i > len(pix)-60 {
			pix[i] = uint8(rng.Intn(256))
		}
	}
	pal := &palette{cells: make([]bool, cellSide*cellSide*cellSide)}
	pal.read8(pix, paletteLimit)
	fs.cells = pal.cells
	part := fs.solve(2)
	solved := 0
	for _, on := range fs.used(part.n) {
		if on {
			solved++
		}
	}
	if solved == 0 || solved > part.n*part.n*part.n/2 {
		t.Fatalf("%d of %d nodes are solved", solved, part.n*part.n*part.n)
	}
	a, b := make([]float64, full.k), make([]float64, full.k)
	sum := 0.0
	for _, c := range pal.colors {
		full.interpolate(unit(c), a)
		part.interpolate(unit(c), b)
		d := apart(a, b)
		if d > .02 {
			t.Errorf("%v: %.4f against %.4f of the whole field", c, b, a)
		}
		sum += d
	}
	if mean := sum / float64(len(pal.colors)); mean > 2e-4 {
		t.Errorf("coverages are %.5f off those of the whole field", mean)
	}
}
