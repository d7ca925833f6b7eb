package halftone

import (
	"math"
	"testing"
)

// throughMesh is the light that a film of dots and a mesh of threads let
// through together, 0 … 255 a pixel: dots where ink goes, less the threads that
// hold it back, laid by area.
func throughMesh(pix []uint8, n int, mesh Mesh, dpi float64) []uint8 {
	pitch := dpi / float64(mesh)
	thread := threadShare * pitch
	covered := func(x float64) float64 { return math.Floor(x/pitch)*thread + min(math.Mod(x, pitch), thread) } // by threads, from 0 to x
	open := make([]float64, n)
	for i := range open {
		open[i] = 1 - (covered(float64(i+1)) - covered(float64(i)))
	}
	out := make([]uint8, n*n)
	for i, p := range pix {
		out[i] = uint8(math.Round(255 * float64(p) * open[i%n] * open[i/n]))
	}
	return out
}

// slowWave returns the frequency per inch, below a limit, of the strongest wave
// and its power.
func slowWave(power []float64, n int, dpi, least, limit float64) (fx, fy, best float64) {
	at := func(u, v int) float64 { return math.Log(power[(v+n)%n*n+(u+n)%n]) }
	// The window is a Gaussian: see strongest.
	vertex := func(l, c, r float64) float64 { return (l - r) / (2 * (l - 2*c + r)) }
	bu, bv := 0, 0
	for v := -n / 2; v < n/2; v++ {
		for u := -n / 2; u < n/2; u++ {
			x, y := float64(u)*dpi/float64(n), float64(v)*dpi/float64(n)
			if f := math.Hypot(x, y); f < least || f > limit {
				continue
			}
			if p := power[(v+n)%n*n+(u+n)%n]; p > best {
				bu, bv, best = u, v, p
			}
		}
	}
	fx = float64(bu) + vertex(at(bu-1, bv), at(bu, bv), at(bu+1, bv))
	fy = float64(bv) + vertex(at(bu, bv-1), at(bu, bv), at(bu, bv+1))
	return fx * dpi / float64(n), fy * dpi / float64(n), best
}

// Film and mesh laid over each other as bitmaps show the beats that are
// foretold: 45 lpi on 230 threads per inch, harmonics up to 6: 0° 5.08 mm, 22.5°
// 2.01 mm, 45° 1.03 mm [calc].
func TestBeatOfBitmaps(t *testing.T) {
	const n, dpi, mesh = 1024, 1200.0, Mesh(230)
	for _, c := range []struct{ angle, want float64 }{{0, 5.08}, {22.5, 2.01}, {45, 1.03}} {
		s := mustScreen(t, Spec{Ruling: 45, Angle: c.angle, DPI: dpi})
		pix := throughMesh(screenFlat(t, s, n, n, percent(30)), n, mesh, dpi)
		power := spectrum(pix, n)
		b := Slowest(s.Ruling(), s.Angle(), float64(mesh), 0, meshHarmonics)
		want := mmPerInch / b.Period
		// The strongest wave slower than what lies next above the foretold one.
		fx, fy, best := slowWave(power, n, dpi, 3*dpi/n, want+3*dpi/n)
		got := math.Hypot(fx, fy)
		if math.Abs(got-want) > .5*dpi/n {
			t.Errorf("%g°: the slowest wave has %.2f cycles per inch, foretold %.2f", c.angle, got, want)
		}
		// No slower wave is as strong.
		_, _, below := slowWave(power, n, dpi, 3*dpi/n, want-4*dpi/n)
		if best < below {
			t.Errorf("%g°: the wave of %.2f mm has a power of %.3g, a slower one %.3g", c.angle, mmPerInch/got, best, below)
		}
		if p := mmPerInch / got; math.Abs(p/c.want-1) > .05 {
			t.Errorf("%g°: the bitmaps beat at %.2f mm, want %.2f", c.angle, p, c.want)
		}
		t.Logf("%g°: film of %.3f lpi at %.3f° foretells %.3f mm, the bitmaps beat at %.3f mm", c.angle, s.Ruling(), s.Angle(), b.Period, mmPerInch/got)
	}
}

// What the adviser holds better is: the strongest wave that shows as a pattern
// of its own is weaker.
func TestBetterOnBitmaps(t *testing.T) {
	const n, dpi = 1024, 1200.0
	for _, c := range []struct {
		mesh          Mesh
		ruling, angle float64
	}{{230, 45, 0}, {195.58, 55, 45}} {
		a := c.mesh.Advise(c.ruling, dpi, []float64{c.angle})
		if a.Better == nil {
			t.Errorf("%.4g lpi at %g° on %v: nothing better", c.ruling, c.angle, c.mesh)
			continue
		}
		visible := func(ruling, angle float64) (mm, power float64) {
			s := mustScreen(t, Spec{Ruling: ruling, Angle: angle, DPI: dpi})
			fx, fy, best := slowWave(spectrum(throughMesh(screenFlat(t, s, n, n, percent(30)), n, c.mesh, dpi), n), n, dpi, 3*dpi/n, ruling/visibleCells)
			return mmPerInch / math.Hypot(fx, fy), best
		}
		mm, before := visible(c.ruling, c.angle)
		_, after := visible(a.Better.Ruling, c.angle+a.Better.Turn)
		t.Logf("%v: %.4g lpi at %g° shows %.2f mm; at %.4g lpi and %g° the strongest pattern has %.2g of its power", c.mesh, c.ruling, c.angle, mm, a.Better.Ruling, c.angle+a.Better.Turn, after/before)
		if after > before/4 {
			t.Errorf("%v: %.4g lpi at %g° shows a pattern of power %.3g, the better %.4g lpi at %g° %.3g", c.mesh, c.ruling, c.angle, before, a.Better.Ruling, c.angle+a.Better.Turn, after)
		}
	}
}
