package spectrum_test

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"github.com/lucasb-eyer/go-colorful"

	"platewright/composite/spectrum"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.6f, want %.6f ± %g", what, got, want, tol)
	}
}

// Sharma, Wu, Dalal 2005, table 1: 34 pairs, four decimals. Pair 14 has hues
// exactly 180° apart.
func TestDeltaESharma(t *testing.T) {
	f, err := os.Open("../../testdata/ciede2000-sharma-2005.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 34 {
		t.Fatalf("%d pairs, want 34", len(rows))
	}
	for n, row := range rows {
		var v [7]float64
		for i := range v {
			if v[i], err = strconv.ParseFloat(row[i], 64); err != nil {
				t.Fatal(err)
			}
		}
		a, b := spectrum.Lab(v[0:3]), spectrum.Lab(v[3:6])
		if d := spectrum.DeltaE(a, b); math.Abs(d-v[6]) > 1e-4 {
			t.Errorf("pair %d: %.5f, want %.4f", n+1, d, v[6])
		}
		if d := spectrum.DeltaE(b, a); math.Abs(d-v[6]) > 1e-4 {
			t.Errorf("pair %d reversed: %.5f, want %.4f", n+1, d, v[6])
		}
	}
}

// go-colorful has an independent CIEDE2000; its L, a, b are a hundredth of ours.
func TestDeltaEAgainstLibrary(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	white := [3]float64{.96422, 1, .82521}
	lab := func(c spectrum.Lab) colorful.Color {
		return colorful.LabWhiteRef(c[0]/100, c[1]/100, c[2]/100, white)
	}
	for range 2000 {
		a := spectrum.Lab{r.Float64() * 100, r.Float64()*160 - 80, r.Float64()*160 - 80}
		b := spectrum.Lab{r.Float64() * 100, r.Float64()*160 - 80, r.Float64()*160 - 80}
		if r.IntN(2) == 0 {
			b = spectrum.Lab{a[0] + r.Float64(), a[1] + r.Float64()*4, a[2] - r.Float64()*4}
		}
		// The library passes through RGB and takes D65; so does the other side.
		p, q := lab(a), lab(b)
		pl, pa, pb := p.Lab()
		ql, qa, qb := q.Lab()
		got := spectrum.DeltaE(spectrum.Lab{pl * 100, pa * 100, pb * 100}, spectrum.Lab{ql * 100, qa * 100, qb * 100})
		near(t, "ΔE", got, p.DistanceCIEDE2000(q)*100, 1e-6)
		if got != spectrum.DeltaE(spectrum.Lab{ql * 100, qa * 100, qb * 100}, spectrum.Lab{pl * 100, pa * 100, pb * 100}) {
			t.Errorf("ΔE of %v and %v depends on their order", a, b)
		}
	}
	if n := testing.AllocsPerRun(100, func() { spectrum.DeltaE(spectrum.Lab{50, 20, 30}, spectrum.Lab{52, 18, 33}) }); n != 0 {
		t.Errorf("DeltaE allocates %g times", n)
	}
}

func TestPerfectWhiteIsExactlyWhite(t *testing.T) {
	one := spectrum.Flat(1)
	if got := one.XYZ(); got != spectrum.White() {
		t.Errorf("XYZ of a perfect white is %v, want %v", got, spectrum.White())
	}
	lab := one.XYZ().Lab()
	if lab != (spectrum.Lab{100, 0, 0}) {
		t.Errorf("CIELAB of a perfect white is %v", lab)
	}
	gray := spectrum.Flat(.18)
	near(t, "Y of 18 % gray", gray.XYZ()[1], 18, 1e-12)
	near(t, "luminance", gray.Luminance(), 18, 1e-12)
}

// sRGB colors in CIELAB under D50, worked out with an independent script from
// IEC 61966-2-1 and the Bradford matrix [calc].
func TestLabOfSRGB(t *testing.T) {
	for _, tt := range []struct {
		rgb  spectrum.RGB
		want spectrum.Lab
	}{
		{spectrum.RGB{1, 0, 0}, spectrum.Lab{54.292, 80.812, 69.885}},
		{spectrum.RGB{0, 1, 0}, spectrum.Lab{87.818, -79.287, 80.990}},
		{spectrum.RGB{0, 0, 1}, spectrum.Lab{29.568, 68.299, -112.029}},
		{spectrum.RGB{128. / 255, 128. / 255, 128. / 255}, spectrum.Lab{53.585, 0, 0}},
	} {
		got := tt.rgb.XYZ().Lab()
		for i := range got {
			near(t, "Lab", got[i], tt.want[i], .02)
		}
		back := got.XYZ().RGB()
		for i := range back {
			near(t, "sRGB back", back[i], tt.rgb[i], 1e-4)
		}
	}
}

// The Bradford matrix D65 → D50 as published [calc from the cone matrix].
func TestAdapt(t *testing.T) {
	want := [3][3]float64{
		{1.0478112, .0228866, -.0501270},
		{.0295424, .9904844, -.0170491},
		{-.0092345, .0150436, .7521316},
	}
	m := spectrum.Adapt(spectrum.WhiteD65(), spectrum.White())
	back := spectrum.Adapt(spectrum.White(), spectrum.WhiteD65())
	for i := range want {
		for j := range want[i] {
			near(t, "Bradford", m[i][j], want[i][j], 2e-5)
		}
	}
	for i, v := range m.Apply(spectrum.WhiteD65()) {
		near(t, "white", v, spectrum.White()[i], 1e-9)
	}
	c := spectrum.XYZ{20, 30, 40}
	for i, v := range back.Apply(m.Apply(c)) {
		near(t, "there and back", v, c[i], 1e-9)
	}
}

// Saunderson 1942, re = .04, ri = .6: R = .5 inside is P = .314286 [calc].
func TestSurface(t *testing.T) {
	s := spectrum.Surface{Re: .04, Ri: .6}
	near(t, "outside", s.Outside(.5), .314286, 5e-7)
	near(t, "inside", s.Inside(.314286), .5, 2e-6)
	for _, r := range []float64{0, .01, .3, .9, 1} {
		near(t, "there and back", s.Inside(s.Outside(r)), r, 1e-12)
	}
	if p := (spectrum.Surface{}).Outside(.37); p != .37 {
		t.Errorf("no surface turns .37 into %g", p)
	}
	deep := spectrum.Flat(.02)
	in := s.Enter(&deep)
	if in != spectrum.Flat(0) {
		t.Error("a band darker than the surface is not 0 inside")
	}
}

// ISO 20654, worked out by hand [calc].
func TestToneValue(t *testing.T) {
	near(t, "black", spectrum.ToneValue(spectrum.Lab{50, 10, 0}, spectrum.Lab{}, spectrum.Lab{100, 0, 0}), 49.24, .005)
	near(t, "red", spectrum.ToneValue(spectrum.Lab{72, 30, 15}, spectrum.Lab{50, 68, 30}, spectrum.Lab{95, 0, -2}), 51.93, .005)
	if v := spectrum.ToneValue(spectrum.Lab{90, 0, 0}, spectrum.Lab{95, 0, 0}, spectrum.Lab{95, 0, 0}); !math.IsNaN(v) && !math.IsInf(v, 0) {
		t.Errorf("a solid of the paper's color has a tone value of %g", v)
	}
}

func TestSmooth(t *testing.T) {
	const steps = 10
	for r := range steps + 1 {
		for g := range steps + 1 {
			for b := range steps + 1 {
				c := spectrum.RGB{float64(r) / steps, float64(g) / steps, float64(b) / steps}.XYZ()
				s, ok := spectrum.Smooth(c)
				extreme := r+g+b == 0 || r+g+b == 3*steps
				if ok == extreme {
					t.Errorf("Smooth of %d %d %d: %v", r, g, b, ok)
				}
				if !s.Valid(1) {
					t.Errorf("Smooth of %d %d %d leaves 0 … 1: %v", r, g, b, s)
				}
				tol := 1e-6
				if !ok {
					tol = .5
				}
				near(t, "ΔE", spectrum.DeltaE(s.XYZ().Lab(), c.Lab()), 0, tol)
			}
		}
	}
}

// roughness is what Smooth minimizes.
func roughness(r *spectrum.Reflectance) float64 {
	sum := 0.0
	for i := 1; i < len(r); i++ {
		d := math.Atanh(2*r[i]-1) - math.Atanh(2*r[i-1]-1)
		sum += d * d
	}
	return sum
}

// Whatever metamer one adds to the smoothest reflectance, it gets rougher.
func TestSmoothIsSmoothest(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for _, c := range []spectrum.RGB{{.2, .43, .35}, {.8, .3, .2}, {.9, .85, .2}, {.1, .1, .6}} {
		s, ok := spectrum.Smooth(c.XYZ())
		if !ok {
			t.Fatalf("%v has no reflectance", c)
		}
		least := roughness(&s)
		for range 50 {
			m := blackMetamer(r)
			for _, h := range []float64{-1e-3, 1e-3} {
				q := s
				for i := range q {
					q[i] += h * m[i]
				}
				if near(t, "ΔE of a metamer", spectrum.DeltaE(q.XYZ().Lab(), s.XYZ().Lab()), 0, 1e-6); roughness(&q) < least {
					t.Fatalf("%v: a metamer is smoother by %g", c, least-roughness(&q))
				}
			}
		}
	}
}

// blackMetamer returns a random change without a color, of size about one.
func blackMetamer(r *rand.Rand) (m spectrum.Reflectance) {
	var w [3]spectrum.Reflectance // orthonormal basis of the observer
	for i := range m {
		m[i] = r.NormFloat64()
		var one spectrum.Reflectance
		one[i] = 1
		for c, v := range one.XYZ() {
			w[c][i] = v
		}
	}
	dot := func(a, b *spectrum.Reflectance) (sum float64) {
		for i := range a {
			sum += a[i] * b[i]
		}
		return sum
	}
	sub := func(a, b *spectrum.Reflectance, f float64) {
		for i := range a {
			a[i] -= f * b[i]
		}
	}
	for range 2 {
		for c := range w {
			for d := range c {
				sub(&w[c], &w[d], dot(&w[c], &w[d]))
			}
			n := math.Sqrt(dot(&w[c], &w[c]))
			for i := range w[c] {
				w[c][i] /= n
			}
		}
		for c := range w {
			sub(&m, &w[c], dot(&m, &w[c]))
		}
	}
	return m
}

// Colors that no reflectance has get one near, in bounds and finite.
func TestSmoothOutOfReach(t *testing.T) {
	for _, tt := range []struct {
		lab spectrum.Lab
		off float64 // ΔE that the nearest may be off
	}{
		{spectrum.Lab{72, 88, 20}, 5.5},   // a fluorescent pink
		{spectrum.Lab{98, -40, 110}, 3.5}, // a fluorescent yellow
		{spectrum.Lab{104, 0, 0}, 2.6},
		{spectrum.Lab{20, 60, -110}, 3},
	} {
		s, ok := spectrum.Smooth(tt.lab.XYZ())
		if ok {
			t.Errorf("%v is said to have a reflectance", tt.lab)
		}
		if !s.Valid(1) {
			t.Errorf("%v: %v leaves 0 … 1", tt.lab, s)
		}
		if d := spectrum.DeltaE(s.XYZ().Lab(), tt.lab); d > tt.off || d < .01 {
			t.Errorf("%v: the nearest is off by %.2f, want at most %g", tt.lab, d, tt.off)
		}
	}
	r := rand.New(rand.NewPCG(5, 6))
	for range 500 {
		c := spectrum.XYZ{r.Float64() * 150, r.Float64() * 150, r.Float64() * 150}
		if s, _ := spectrum.Smooth(c); !s.Valid(1) {
			t.Fatalf("%v: %v leaves 0 … 1", c, s)
		}
	}
}

func TestSmoothRatio(t *testing.T) {
	paper, _ := spectrum.Smooth(spectrum.Lab{93, 1, 6}.XYZ())
	s := spectrum.Surface{Re: .03, Ri: .6}
	under := s.Enter(&paper)
	for _, lab := range []spectrum.Lab{{42, -27, -4}, {55, 60, 40}, {85, -5, 70}, {25, 0, 0}, {93, 1, 6}} {
		ratio, ok := spectrum.SmoothRatio(lab.XYZ(), &under, s)
		if whole := lab == (spectrum.Lab{93, 1, 6}); ok == whole {
			t.Errorf("%v: %v", lab, ok)
		}
		for i, v := range ratio {
			ratio[i] = v * under[i]
		}
		tol := 1e-6
		if !ok {
			tol = .5
		}
		near(t, "ΔE", spectrum.DeltaE(s.XYZ(&ratio).Lab(), lab), 0, tol)
	}
	// Darker than the surface alone.
	if _, ok := spectrum.SmoothRatio(spectrum.XYZ{1, 1, 1}, &under, s); ok {
		t.Error("a color darker than the surface is said to be reached")
	}
}

func BenchmarkSmooth(b *testing.B) {
	c := spectrum.RGB{.18, .43, .35}.XYZ()
	for b.Loop() {
		spectrum.Smooth(c)
	}
}

func BenchmarkDeltaE(b *testing.B) {
	for b.Loop() {
		spectrum.DeltaE(spectrum.Lab{50, 20, 30}, spectrum.Lab{52, 18, 33})
	}
}
