package halftone

import (
	"fmt"
	"math"
	"math/bits"
	"testing"

	"pgregory.net/rapid"
)

var (
	_ Bits = (*Raster)(nil)
	_ Tone = (*Plate)(nil)
)

// flat is a picture of one coverage.
type flat struct {
	w, h int
	cov  uint16
}

func (f flat) Size() (w, h int) { return f.w, f.h }

func (f flat) Row(dst []uint16, _ int) {
	for x := range dst[:f.w] {
		dst[x] = f.cov
	}
}

func percent(p float64) uint16 { return uint16(math.Round(p / 100 * Full)) }

// bitmap unpacks a picture, 1 = ink.
func bitmap(b Bits) (pix []uint8, w, h int) {
	w, h = b.Size()
	stride := (w + 7) / 8
	packed := make([]byte, stride*h)
	b.Rows(packed, stride, 0, h)
	pix = make([]uint8, w*h)
	for y := range h {
		for x := range w {
			pix[y*w+x] = packed[y*stride+x/8] >> (7 - x%8) & 1
		}
	}
	return pix, w, h
}

func mustScreen(t testing.TB, spec Spec) *Screen {
	t.Helper()
	s, err := NewScreen(spec)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func mustRaster(t testing.TB, src Tone, w, h int, s *Screen, opt Options) *Raster {
	t.Helper()
	r, err := NewRaster(src, w, h, s, opt)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func screenFlat(t testing.TB, s *Screen, w, h int, cov uint16) []uint8 {
	t.Helper()
	pix, _, _ := bitmap(mustRaster(t, flat{1, 1, cov}, w, h, s, Options{}))
	return pix
}

// tone returns the share of ink, 0 … 1, on a film of one coverage.
func tone(t testing.TB, s *Screen, w, h int, cov uint16) float64 {
	t.Helper()
	r := mustRaster(t, flat{1, 1, cov}, w, h, s, Options{}) // one pixel enlarged: quicker
	stride, ink := (w+7)/8, 0
	packed := make([]byte, stride*h)
	r.Rows(packed, stride, 0, h)
	for _, b := range packed {
		ink += bits.OnesCount8(b)
	}
	return float64(ink) / float64(w*h)
}

func (s Spec) name() string {
	return fmt.Sprintf("%v %.4g lpi %.4g° %.4g dpi", s.Dot, s.Ruling, s.Angle, s.DPI)
}

// Ruling and angle measured from the film: the tolerances of a film are 0.5 %
// and 0.05°.
func TestRulingAndAngleOfBitmap(t *testing.T) {
	for _, spec := range []Spec{
		{Ruling: 45, Angle: 22.5, DPI: 600},
		{Ruling: 45, Angle: 52.5, DPI: 1200, Dot: Ellipse},
		{Ruling: 55, Angle: 82.5, DPI: 720, Dot: Diamond},
		{Ruling: 18 * 2.54, Angle: 7.5, DPI: 1270},
		{Ruling: 106, Angle: 15, DPI: 600},
		{Ruling: 50, Angle: 0, DPI: 600},
		{Ruling: 40, Angle: 105, DPI: 800, Dot: Line},
	} {
		t.Run(spec.name(), func(t *testing.T) {
			t.Parallel()
			const n = 1024
			s := mustScreen(t, spec)
			fx, fy := strongest(screenFlat(t, s, n, n, percent(35)), n)
			ruling := math.Hypot(fx, fy) * spec.DPI
			if d := ruling/spec.Ruling - 1; math.Abs(d) > 0.005 {
				t.Errorf("ruling %.4f lpi, %.2f %% off", ruling, 100*d)
			}
			// The wave of a cell's side along the angle, y downward; a line
			// screen has only the wave across.
			angle, period := math.Atan2(-fy, fx)*180/math.Pi, 90.0
			if spec.Dot == Line {
				angle, period = angle-90, 180
			}
			if d := math.Remainder(angle-spec.Angle, period); math.Abs(d) > 0.05 {
				t.Errorf("angle %.4f°, %.4f° off", angle, d)
			}
			if d := math.Abs(s.Ruling()/ruling - 1); d > 5e-4 {
				t.Errorf("Ruling() = %.4f, film has %.4f", s.Ruling(), ruling)
			}
			if d := math.Remainder(angle-s.Angle(), period); math.Abs(d) > 0.01 {
				t.Errorf("Angle() = %.4f, film has %.4f", s.Angle(), angle)
			}
		})
	}
}

// Which side the angle goes: ovals join along it, counterclockwise.
func TestAngleDirection(t *testing.T) {
	const n = 512
	for _, d := range []Dot{Ellipse, Diamond, Line} {
		s := mustScreen(t, Spec{Ruling: 30, Angle: 30, DPI: 600, Dot: d})
		pix := screenFlat(t, s, n, n, percent(46))
		along, across := autocorrelation(pix, n, 20, -30), autocorrelation(pix, n, 20, 60)
		if along <= across {
			t.Errorf("%v at 30°: ink continues along it on %.3f of the film, across on %.3f", d, along, across)
		}
	}
}

// autocorrelation returns the share of pixels that are ink both here and at
// half a cell (length px) in a direction with y downward.
func autocorrelation(pix []uint8, n int, length, degrees float64) float64 {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	dx, dy := int(math.Round(length/2*cos)), int(math.Round(length/2*sin))
	var both, all int
	for y := 20; y < n-20; y++ {
		for x := 20; x < n-20; x++ {
			all++
			both += int(pix[y*n+x] & pix[(y+dy)*n+x+dx])
		}
	}
	return float64(both) / float64(all)
}

// A tone wedge in steps of 1 % over 20 mm or more, through every screen.
func TestToneWedge(t *testing.T) {
	specs := []Spec{
		{Ruling: 45, Angle: 22.5, DPI: 600},
		{Ruling: 65, Angle: 52.5, DPI: 1200, MinDot: 0.08, MinHole: 0.08},
		{Ruling: 45, Angle: 82.5, DPI: 720, Dot: Ellipse, MinDot: 0.12, MinHole: 0.1},
		{Ruling: 45, Angle: 7.5, DPI: 600, Dot: Diamond},
		{Ruling: 30, Angle: 45, DPI: 600, Dot: Line},
		{Ruling: 50, Angle: 0, DPI: 600},
		{Dot: Stochastic, DPI: 600, MinDot: 0.1, MinHole: 0.1},
	}
	for _, dot := range []Dot{Round, Ellipse, Diamond, Line} {
		for _, angle := range meshAngles()[:4] {
			specs = append(specs, Spec{Ruling: 45, Angle: angle, DPI: 600, Dot: dot, MinDot: 0.1, MinHole: 0.1})
		}
		specs = append(specs, Spec{Ruling: 106, Angle: duplicatorAngles()[0], DPI: 600, Dot: dot})
	}
	for _, spec := range specs {
		t.Run(spec.name(), func(t *testing.T) {
			t.Parallel()
			s := mustScreen(t, spec)
			low, high := s.ToneLimits()
			n := int(spec.DPI) // an inch
			worst := 0.0
			for p := 0; p <= 100 && !t.Failed(); p++ {
				want := float64(p) / 100
				switch {
				case want < low/2:
					want = 0
				case want < low:
					want = low
				case want > (1+high)/2:
					want = 1
				case want > high:
					want = high
				}
				got := tone(t, s, n, n, percent(float64(p)))
				worst = max(worst, math.Abs(got-want))
				if math.Abs(got-want) > 0.002 {
					t.Errorf("%d %%: film has %.3f %%, want %.3f", p, 100*got, 100*want)
				}
			}
			t.Logf("tone within %.3f %%", 100*worst)
		})
	}
}

func mean(pix []uint8) float64 {
	n := 0
	for _, p := range pix {
		n += int(p)
	}
	return float64(n) / float64(len(pix))
}

// Over one supercell the tone is exact to a pixel.
func TestToneOfSupercellExact(t *testing.T) {
	s := mustScreen(t, Spec{Ruling: 45, Angle: 22.5, DPI: 600})
	m := s.w * s.h
	for cov := 0; cov <= Full; cov += 257 {
		n := 0
		for _, row := range s.rows {
			for _, thr := range row[:s.w] {
				if cov > int(thr) {
					n++
				}
			}
		}
		if want := float64(cov) / Full * float64(m); math.Abs(float64(n)-want) > 0.75 {
			t.Fatalf("coverage %d: %d of %d pixels, want %.2f", cov, n, m, want)
		}
	}
}

// No dot and no hole is smaller than the smallest, at any tone, counting
// pixels that share a side.
func TestSmallestDotAndHole(t *testing.T) {
	for _, spec := range []Spec{
		{Ruling: 45, Angle: 22.5, DPI: 600, MinDot: 0.12, MinHole: 0.16},
		{Ruling: 65, Angle: 52.5, DPI: 1200, MinDot: 0.08, MinHole: 0.08},
		{Ruling: 45, Angle: 82.5, DPI: 720, Dot: Ellipse, MinDot: 0.12, MinHole: 0.1},
		{Ruling: 55, Angle: 7.5, DPI: 600, Dot: Diamond, MinDot: 0.15, MinHole: 0.15},
		{Ruling: 50, Angle: 45, DPI: 600, MinDot: 0.18, MinHole: 0.18},
		{Ruling: 50, Angle: 0, DPI: 600, Dot: Diamond, MinDot: 0.18, MinHole: 0.18},
	} {
		t.Run(spec.name(), func(t *testing.T) {
			t.Parallel()
			s := mustScreen(t, spec)
			px := spec.DPI / mmPerInch
			minDot, minHole := math.Pi/4*math.Pow(spec.MinDot*px, 2), math.Pi/4*math.Pow(spec.MinHole*px, 2)
			const n = 300
			for p := 0.5; p < 100 && !t.Failed(); p += 2.1 {
				pix := screenFlat(t, s, n, n, percent(p))
				if a := smallestPatch(pix, n, n, 1); a > 0 && float64(a) < minDot {
					t.Errorf("%.1f %%: a dot of %d pixels, smallest is %.1f", p, a, minDot)
				}
				if a := smallestPatch(pix, n, n, 0); a > 0 && float64(a) < minHole {
					t.Errorf("%.1f %%: a hole of %d pixels, smallest is %.1f", p, a, minHole)
				}
			}
		})
	}
}

// smallestPatch returns the pixels of the smallest patch of value v that does
// not touch the border, 0 when there is none. Patches join along sides.
func smallestPatch(pix []uint8, w, h int, v uint8) int {
	seen := make([]bool, len(pix))
	best := 0
	var stack []int
	for start := range pix {
		if seen[start] || pix[start] != v {
			continue
		}
		seen[start] = true
		stack = append(stack[:0], start)
		area, border := 0, false
		for len(stack) > 0 {
			i := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			area++
			x, y := i%w, i/w
			for _, d := range [4][2]int{{-1, 0}, {1, 0}, {0, -1}, {0, 1}} {
				nx, ny := x+d[0], y+d[1]
				if nx < 0 || ny < 0 || nx >= w || ny >= h {
					border = true
				} else if j := ny*w + nx; !seen[j] && pix[j] == v {
					seen[j] = true
					stack = append(stack, j)
				}
			}
		}
		if !border && (best == 0 || area < best) {
			best = area
		}
	}
	return best
}

// The thinnest line of a line screen has its width on every row it crosses.
func TestThinnestLine(t *testing.T) {
	spec := Spec{Ruling: 40, Angle: 90, DPI: 600, Dot: Line, MinDot: 0.2, MinHole: 0.2}
	s := mustScreen(t, spec)
	const n = 600
	for p := 1.0; p < 100; p++ {
		pix := screenFlat(t, s, n, n, percent(p))
		row := pix[n/2*n : n/2*n+n]
		runs := map[uint8]int{0: n, 1: n} // shortest run between two changes
		for start, x := -1, 1; x < n; x++ {
			if row[x] != row[x-1] {
				if start >= 0 {
					runs[row[x-1]] = min(runs[row[x-1]], x-start)
				}
				start = x
			}
		}
		if want := int(spec.MinDot * spec.DPI / mmPerInch); runs[1] < want || runs[0] < want {
			t.Errorf("%.0f %%: line %d, gap %d pixels, want %d", p, runs[1], runs[0], want)
		}
	}
}

func TestNewScreenErrors(t *testing.T) {
	for name, spec := range map[string]Spec{
		"no resolution":           {Ruling: 45},
		"resolution NaN":          {Ruling: 45, DPI: math.NaN()},
		"no ruling":               {DPI: 600},
		"ruling too high":         {Ruling: 301, DPI: 600},
		"angle infinite":          {Ruling: 45, DPI: 600, Angle: math.Inf(1)},
		"negative dot":            {Ruling: 45, DPI: 600, MinDot: -1},
		"dot above the cell":      {Ruling: 100, DPI: 600, MinDot: 0.25},
		"line above period":       {Ruling: 100, DPI: 600, MinDot: 0.26, Dot: Line},
		"unknown dot":             {Ruling: 45, DPI: 600, Dot: 99},
		"scattered dot too large": {Dot: Stochastic, DPI: 2400, MinDot: 2},
		"ruling far too low":      {Ruling: 0.5, DPI: 2400},
	} {
		if s, err := NewScreen(spec); err == nil {
			t.Errorf("%s: got screen %v, want an error", name, s.Spec())
		}
	}
}

// Gray levels of a cell [calc]: (dpi/ruling)² + 1.
func TestLevels(t *testing.T) {
	for _, c := range []struct {
		ruling, dpi, want float64
		few               bool
	}{{45, 720, 257, false}, {45, 600, 178.78, false}, {45, 360, 65, false}, {150, 600, 17, false}, {160, 600, 15.06, true}} {
		s := mustScreen(t, Spec{Ruling: c.ruling, DPI: c.dpi})
		if math.Abs(s.Levels()-c.want) > 0.01 {
			t.Errorf("%g lpi, %g dpi: %.2f levels, want %.2f", c.ruling, c.dpi, s.Levels(), c.want)
		}
		if got := len(s.Findings()) > 0; got != c.few {
			t.Errorf("%g lpi, %g dpi: finding %v, want %v", c.ruling, c.dpi, got, c.few)
		}
	}
}

// 600 dpi, 45 lpi at 22.5° [calc]: one cell (12, 5) has 22.620° and 46.154
// lpi; 8 × 8 cells (99, 41) 22.496° and 44.795 lpi.
func TestSupercellFigures(t *testing.T) {
	for _, c := range []struct {
		cell          supercell
		angle, ruling float64
	}{{supercell{12, 5, 1}, 22.620, 46.154}, {supercell{99, 41, 8}, 22.496, 44.795}} {
		if a := c.cell.angle(); math.Abs(a-c.angle) > 5e-4 {
			t.Errorf("%v: angle %.4f, want %.3f", c.cell, a, c.angle)
		}
		if r := c.cell.ruling() * 600; math.Abs(r-c.ruling) > 5e-4 {
			t.Errorf("%v: ruling %.4f, want %.3f", c.cell, r, c.ruling)
		}
	}
}

// Every ruling and angle in use has a supercell, on every film.
func TestFindSupercell(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dpi := rapid.Float64Range(300, 2540).Draw(t, "dpi")
		ruling := rapid.Float64Range(dpi/80, dpi/2).Draw(t, "ruling")
		angle := rapid.Float64Range(-180, 180).Draw(t, "angle")
		c, err := findSupercell(ruling/dpi, angle)
		if err != nil {
			t.Fatal(err)
		}
		if d := c.ruling()*dpi/ruling - 1; math.Abs(d) > offRuling {
			t.Errorf("ruling %.3g %% off", 100*d)
		}
		if d := math.Remainder(c.angle()-angle, 180); math.Abs(d) > offAngle {
			t.Errorf("angle %.4f° off", d)
		}
	})
}

// The brick tiles the plane as the supercell's two sides do.
func TestBrickRepeats(t *testing.T) {
	for _, spec := range []Spec{{Ruling: 45, Angle: 22.5, DPI: 600}, {Ruling: 50, Angle: 0, DPI: 600}, {Ruling: 37, Angle: 128, DPI: 600}} {
		cell, err := findSupercell(spec.Ruling/spec.DPI, spec.Angle)
		if err != nil {
			t.Fatal(err)
		}
		s := mustScreen(t, spec)
		at := func(x, y int) uint16 {
			row, start := s.row(y)
			return row[(start+x)%s.w]
		}
		// sides (a, −b) and (b, a), shifted so that coordinates stay ≥ 0
		a, b := int(cell.a), int(cell.b)
		for i := range 500 {
			x, y := 1000+i*37%611, 1000+i*53%787
			if at(x, y) != at(x+a, y-b) || at(x, y) != at(x+b, y+a) {
				t.Fatalf("%s: threshold at %d, %d does not repeat by (%d, %d)", spec.name(), x, y, a, b)
			}
		}
	}
}

func TestScreenRow(t *testing.T) {
	s := mustScreen(t, Spec{Ruling: 45, Angle: 22.5, DPI: 600})
	for _, n := range []int{1, 7, 8, 63, 64, 65, 200} {
		cov := make([]uint16, n)
		for x := range cov {
			cov[x] = uint16(x * 977)
		}
		dst := make([]byte, (n+7)/8)
		s.Row(dst, cov, 77)
		thr, at := s.row(77)
		for x := range 8 * len(dst) {
			want := x < n && cov[x] > thr[(at+x)%s.w]
			if got := dst[x/8]>>(7-x%8)&1 == 1; got != want {
				t.Fatalf("%d columns, column %d: %v, want %v", n, x, got, want)
			}
		}
	}
}
