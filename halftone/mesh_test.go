package halftone

import (
	"math"
	"testing"
)

func TestParseMesh(t *testing.T) {
	for s, want := range map[string]float64{"77/cm": 195.58, "196/in": 196, " 43 /cm": 109.22, "230/inch": 230} {
		if got, err := ParseMesh(s); err != nil || math.Abs(float64(got)-want) > 1e-9 {
			t.Errorf("%q: %v, %v, want %g per inch", s, float64(got), err, want)
		}
	}
	for _, s := range []string{"77", "", "/cm", "-77/cm", "0/in", "77 cm", "nan/cm", "inf/in", "77/m"} {
		if got, err := ParseMesh(s); err == nil {
			t.Errorf("%q: %v, want an error", s, got)
		}
	}
	// 43/cm = 110/in, 77/cm = 196/in, 90/cm = 229/in, 120/cm = 305/in [calc].
	for cm, in := range map[string]string{"43/cm": "43/cm (109/in)", "77/cm": "77/cm (196/in)", "90/cm": "90/cm (229/in)", "120/cm": "120/cm (305/in)"} {
		if m, _ := ParseMesh(cm); m.String() != in {
			t.Errorf("%s is %v, want %s", cm, m, in)
		}
	}
}

// Two-screen beat T₁T₂/√(T₁²+T₂²−2T₁T₂cos α), equal screens [calc]: at 30°
// 1.932 T, at 15° 3.831 T. Mesh against ruling, harmonics ≤ 6, 45 lpi on 230
// threads per inch [calc]: 0° 5.08 mm, 22.5° 2.01 mm, 45° 1.03 mm.
func TestBeats(t *testing.T) {
	for _, c := range []struct {
		a, angle, b float64
		harmonics   int
		want, tol   float64
	}{
		{45, 30, 45, 1, 1.932 * mmPerInch / 45, 5e-4},
		{45, 15, 45, 1, 3.831 * mmPerInch / 45, 5e-4},
		{45, 0, 230, 6, 5.08, 5e-3},
		{45, 22.5, 230, 6, 2.01, 5e-3},
		{45, 45, 230, 6, 1.03, 5e-3},
	} {
		for turn := 0.0; turn < 360; turn += 90 { // and whatever both are turned by
			if got := Slowest(c.a, c.angle+turn+3, c.b, 3, c.harmonics); math.Abs(got.Period-c.want) > c.tol {
				t.Errorf("%g lpi at %g° on %g: %.4f mm by %v, want %.3f", c.a, c.angle+turn, c.b, got.Period, got, c.want)
			}
		}
	}
	if b := Slowest(46, 0, 230, 0, 6); !math.IsInf(b.Period, 1) {
		t.Errorf("46 lpi on 230 threads lock, got %.4g mm", b.Period)
	}
}

// Slowest finds what a search through all pairs of waves finds.
func TestSlowestAgainstAllPairs(t *testing.T) {
	for _, ruling := range []float64{30, 41.5, 55, 120} {
		for angle := 0.0; angle < 90; angle += 7.5 {
			const b, n = 195.58, 4
			sin, cos := math.Sincos(angle * math.Pi / 180)
			want := 0.0
			for i := 0; i < (2*n+1)*(2*n+1)*(2*n+1)*(2*n+1); i++ {
				d := func(k int) float64 {
					v := i
					for range k {
						v /= 2*n + 1
					}
					return float64(v%(2*n+1) - n)
				}
				p, q, r, s := d(0), d(1), d(2), d(3)
				if p == 0 && q == 0 || r == 0 && s == 0 {
					continue
				}
				want = max(want, mmPerInch/math.Hypot(ruling*(p*cos-q*sin)-b*r, ruling*(p*sin+q*cos)-b*s))
			}
			if got := Slowest(ruling, angle, b, 0, n).Period; math.Abs(got-want) > 1e-6 {
				t.Errorf("%g lpi at %g°: %.6f mm, want %.6f", ruling, angle, got, want)
			}
		}
	}
}

func TestAdvise(t *testing.T) {
	mesh, err := ParseMesh("77/cm")
	if err != nil {
		t.Fatal(err)
	}
	// About 180 µm on 77/cm (common practice).
	if d := mesh.SmallestDot(); math.Abs(d-0.18) > 0.005 {
		t.Errorf("smallest dot %.4f mm, want 0.18", d)
	}
	a := mesh.Advise(45, 720, []float64{22.5, 52.5, 82.5})
	if a.Levels != 257 {
		t.Errorf("%g levels, want 257", a.Levels)
	}
	if math.Abs(a.Ratio-4.346) > 1e-3 || len(a.MeshBeats) != 3 || len(a.PairBeats) != 3 {
		t.Errorf("ratio %.4f, %d and %d beats", a.Ratio, len(a.MeshBeats), len(a.PairBeats))
	}
	if want := 0.7854 * a.SmallestDot * a.SmallestDot / (0.56444 * 0.56444); math.Abs(a.LowTone-want) > 1e-4 {
		t.Errorf("low tone %.4f, want %.4f", a.LowTone, want)
	}
	for _, b := range a.PairBeats {
		if math.Abs(b.Period-1.932*mmPerInch/45) > 1e-3 {
			t.Errorf("30° apart: beat %.4f mm", b.Period)
		}
	}

	codes := func(a Advice) (s string) {
		for _, f := range a.Findings {
			s += f.Code + " "
		}
		return s
	}
	if c := codes(Mesh(230).Advise(45, 600, []float64{45})); c != "" {
		t.Errorf("45° on 230: findings %s", c)
	}
	along := Mesh(230).Advise(45, 600, []float64{0})
	if c := codes(along); c != "mesh-moire " {
		t.Errorf("along the threads of 230: findings %q", c)
	}
	if b := along.Better; b == nil || b.Beat >= 5.08/1.25 {
		t.Errorf("along the threads of 230: better %+v", b)
	} else if got := Slowest(b.Ruling, b.Turn, 230, 0, 6).Period; got != b.Beat {
		t.Errorf("better beat is %.4f mm, not %.4f", got, b.Beat)
	}
	if c := codes(Mesh(110).Advise(45, 600, []float64{22.5})); c != "coarse-mesh " && c != "coarse-mesh mesh-moire " {
		t.Errorf("45 lpi on 110: findings %q", c)
	}
}
