package ink

import (
	"math"
	"strings"
	"testing"

	"platewright/composite/spectrum"
)

func load(t *testing.T, text string) *Shelf {
	t.Helper()
	s, err := Load(strings.NewReader(text), "shelf.toml")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// printed is the color of the solid of i over p as the film has it.
func printed(t *testing.T, s *Shelf, i *Ink, p *Paper) spectrum.XYZ {
	t.Helper()
	f, err := s.Film(i)
	if err != nil {
		t.Fatal(err)
	}
	sh := s.Sheet(p)
	r := NewLayer(f).Over(&sh.Inside)
	return sh.Surface.XYZ(&r)
}

// Every built-in ink prints its own color on its own paper, has the opacity
// that is stated and stays within what a film can be.
func TestBuiltInFilms(t *testing.T) {
	s := BuiltIn()
	if len(s.Inks) < 20 || len(s.Papers) < 3 || len(s.Sets) < 3 {
		t.Fatalf("%d inks, %d papers, %d sets", len(s.Inks), len(s.Papers), len(s.Sets))
	}
	for _, i := range s.Inks {
		if len(strings.Fields(i.Name)) != 2 {
			t.Errorf("%q is not two words", i.Name)
		}
		p, _ := s.Paper(i.On)
		f, _ := s.Film(i)
		near(t, i.Name+": ΔE of the solid", spectrum.DeltaE(printed(t, s, i, p).Lab(), i.Color.Lab()), 0, .05)
		if !f.Raised && i.Opacity > 0 {
			near(t, i.Name+": opacity", f.Opacity, i.Opacity, .002)
		}
		if f.Raised && i.Name != "chalk cliff" {
			t.Errorf("%s: opacity raised to %g", i.Name, f.Opacity)
		}
		if !f.K.Valid(kMax(scatterMax)) || !f.S.Valid(scatterMax) {
			t.Errorf("%s: K or S out of range", i.Name)
		}
	}
}

// A color alone is a clear ink: over black it shows nothing.
func TestClearWithoutAWord(t *testing.T) {
	s := load(t, "[[paper]]\nname=\"a\"\ncolor=\"f4f2ec\"\n[[ink]]\nname=\"x\"\ncolor=\"2f6d58\"\n")
	f, err := s.Film(s.Inks[0])
	if err != nil {
		t.Fatal(err)
	}
	if f.S != spectrum.Flat(0) || f.Opacity != 0 || f.Raised {
		t.Errorf("S %v, opacity %g", f.S[0], f.Opacity)
	}
}

// White on dark paper cannot be clear; the opacity is raised, and that is said.
func TestOpacityRaised(t *testing.T) {
	s := load(t, `
[[paper]]
name = "dark"
color = "lab(25, 0, -3)"
[[ink]]
name = "white"
color = "lab(88, 0, 1)"
opacity = "slight"
`)
	i := s.Inks[0]
	f, _ := s.Film(i)
	if !f.Raised || f.Opacity < .85 {
		t.Errorf("raised %v, opacity %.2f", f.Raised, f.Opacity)
	}
	if n := f.Notes(); len(n) != 1 || !strings.Contains(n[0], "0.9") {
		t.Errorf("notes %q", n)
	}
	near(t, "ΔE", spectrum.DeltaE(printed(t, s, i, s.Papers[0]).Lab(), i.Color.Lab()), 0, .05)
}

// A fluorescent ink keeps its excess as light of its own.
func TestGlow(t *testing.T) {
	s := load(t, "[[paper]]\nname=\"a\"\ncolor=\"f4f2ec\"\n[[ink]]\nname=\"x\"\ncolor=\"lab(72, 88, 20)\"\n")
	i := s.Inks[0]
	f, _ := s.Film(i)
	c := printed(t, s, i, s.Papers[0])
	for k := range c {
		c[k] += f.Glow[k]
	}
	near(t, "ΔE with its light", spectrum.DeltaE(c.Lab(), i.Color.Lab()), 0, .1)
	if f.Glow[0] < 1 || len(f.Notes()) == 0 || !strings.Contains(strings.Join(f.Notes(), " "), "measure the overlaps") {
		t.Errorf("glow %v, notes %q", f.Glow, f.Notes())
	}
	if g := f.WithBase(50).Glow[0]; math.Abs(g-f.Glow[0]/2) > 1e-9 {
		t.Errorf("half base leaves a glow of %g of %g", g, f.Glow[0])
	}
}

// A film of known K and S is measured over paper and black, as colors and as
// spectra; the ink read back from that shows the same color over other things.
func TestOverBlack(t *testing.T) {
	truth := Film{}
	for b := range truth.K {
		x := float64(b) / (spectrum.Bands - 1)
		truth.K[b] = .1 + 1.2*math.Exp(-20*(x-.75)*(x-.75))
		truth.S[b] = .35 - .2*x
	}
	paper, black := spectrum.Flat(.85), spectrum.Flat(.04)
	sh := Sheet{Surface: spectrum.Surface{Re: .01, Ri: .6}}
	pin, bin := sh.Surface.Enter(&paper), sh.Surface.Enter(&black)
	l := NewLayer(&truth)
	over := func(under *spectrum.Reflectance) *spectrum.Reflectance {
		r := l.Over(under)
		r = sh.Surface.Leave(&r)
		return &r
	}
	rw, rb := over(&pin), over(&bin)
	cb, ck := rb.XYZ(), black.XYZ()
	colors := NewInk("colors", rw.XYZ())
	colors.OverBlack, colors.Black = &cb, &ck
	spectra := NewInk("spectra", rw.XYZ())
	spectra.Spectrum, spectra.OverBlackSpectrum, spectra.Black = rw, rb, &ck
	s := &Shelf{Papers: []*Paper{{Name: "a", Finish: Coated, Color: paper.XYZ(), Spectrum: &paper}}, Inks: []*Ink{colors, spectra}}
	if err := s.Prepare(); err != nil {
		t.Fatal(err)
	}
	if got := s.Sheet(s.Papers[0]).Surface; got != sh.Surface {
		t.Fatalf("surface %v", got)
	}
	red := pin
	for b := range red {
		red[b] *= .05 + .9/(1+math.Exp(-float64(b-20)))
	}
	for _, tt := range []struct {
		ink *Ink
		tol float64 // ΔE over paper, black, and a red that it never saw
	}{{colors, 2}, {spectra, .05}} {
		f, err := s.Film(tt.ink)
		if err != nil {
			t.Fatal(err)
		}
		for n, under := range []*spectrum.Reflectance{&pin, &bin, &red} {
			tol := tt.tol
			if n < 2 {
				tol = .05
			}
			r := NewLayer(f).Over(under)
			got, want := sh.Surface.XYZ(&r), over(under).XYZ()
			near(t, tt.ink.Name+": ΔE", spectrum.DeltaE(got.Lab(), want.Lab()), 0, tol)
		}
	}
}

// Base: what was measured with 40 % and is printed with 40 % is itself; more
// base is lighter; none but base is all but invisible, also over black.
func TestWithBase(t *testing.T) {
	s := load(t, "[[paper]]\nname=\"a\"\ncolor=\"f4f2ec\"\n[[ink]]\nname=\"x\"\ncolor=\"2f6d58\"\nopacity=0.3\nbase=40\n")
	f, _ := s.Film(s.Inks[0])
	if f.WithBase(40) != f || f.WithBase(-1) != f || f.WithBase(math.NaN()) != f {
		t.Error("the measured base makes another film")
	}
	sh := s.Sheet(s.Papers[0])
	last := -1.0
	for _, p := range []float64{0, 20, 40, 70, 90, 100} {
		g := f.WithBase(p)
		r := NewLayer(g).Over(&sh.Inside)
		y := r.Luminance()
		if y <= last {
			t.Errorf("%g %% base is darker than less", p)
		}
		last = y
		near(t, "K share", g.K[20]/f.K[20], (100-p)/60, 1e-12)
	}
	clear := f.WithBase(100)
	var nothing spectrum.Reflectance
	r := NewLayer(clear).Over(&nothing)
	near(t, "Y of base over black", r.Luminance(), .5, .01)
	again := f.WithBase(80).WithBase(40)
	near(t, "S there and back", again.S[3], f.S[3], 1e-12)
}

// The surface never gives back more than the darkest measurement allows.
func TestSurfaceIsLimited(t *testing.T) {
	text := "[[paper]]\nname=\"a\"\nfinish=\"uncoated\"\ncolor=\"f4f2ec\"\n[[ink]]\nname=\"x\"\ncolor=\"%s\"\n"
	light := load(t, strings.Replace(text, "%s", "c8502f", 1))
	dark := load(t, strings.Replace(text, "%s", "lab(12, 0, 0)", 1))
	if re := light.Sheet(light.Papers[0]).Surface.Re; re < .02 || re > .06 {
		t.Errorf("re = %g", re)
	}
	re := dark.Sheet(dark.Papers[0]).Surface.Re
	dark.Papers = append(dark.Papers, &Paper{Name: "b", Finish: Uncoated, Color: light.Papers[0].Color}, &Paper{Name: "c", Finish: Coated, Color: light.Papers[0].Color})
	if err := dark.Prepare(); err != nil {
		t.Fatal(err)
	}
	if other := dark.Sheet(dark.Papers[1]).Surface.Re; other != re {
		t.Errorf("re = %g on another paper of that finish, %g on the first", other, re)
	}
	if gloss := dark.Sheet(dark.Papers[2]).Surface.Re; gloss != .01 {
		t.Errorf("re = %g on coated paper", gloss)
	}
	near(t, "re under a black of Y 1.4 %", re, .9*.0141, .0003)
	near(t, "ΔE of the black", spectrum.DeltaE(printed(t, dark, dark.Inks[0], dark.Papers[0]).Lab(), dark.Inks[0].Color.Lab()), 0, .05)
}

// A black typed as #000000 is no measurement: the surface stays, and the ink is
// as black as can be, without light of its own.
func TestTypedBlack(t *testing.T) {
	s := load(t, "[[paper]]\nname=\"a\"\ncolor=\"f4f2ec\"\n[[ink]]\nname=\"x\"\ncolor=\"#000000\"\n")
	near(t, "re", s.Sheet(s.Papers[0]).Surface.Re, .06, 0)
	f, _ := s.Film(s.Inks[0])
	if f.Glow != (spectrum.XYZ{}) || f.S != spectrum.Flat(0) || len(f.Notes()) > 0 {
		t.Errorf("glow %v, S %v, notes %q", f.Glow, f.S[0], f.Notes())
	}
	near(t, "Y", printed(t, s, s.Inks[0], s.Papers[0])[1], 6, .2)
}

func BenchmarkFilmOfColorAndOpacity(b *testing.B) {
	s := BuiltIn()
	i, _ := s.Ink("deep kelp")
	for b.Loop() {
		if _, err := s.FilmWith(i, .3); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkBuiltIn(b *testing.B) {
	for b.Loop() {
		BuiltIn()
	}
}
