package composite

import (
	"math"
	"strings"
	"testing"

	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

func shelf(t testing.TB, text string) *ink.Shelf {
	t.Helper()
	s, err := ink.Load(strings.NewReader(text), "shelf.toml")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func build(t testing.TB, s *ink.Shelf, paper string, names ...string) *Model {
	t.Helper()
	p, err := s.Paper(paper)
	if err != nil {
		t.Fatal(err)
	}
	var inks []*ink.Ink
	for _, n := range names {
		i, err := s.Ink(n)
		if err != nil {
			t.Fatal(err)
		}
		inks = append(inks, i)
	}
	m, err := New(s, p, AsMeasured(inks...))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

const twoPapers = `
[[paper]]
name = "white"
color = "lab(95, 0, 1)"
[[paper]]
name = "dark"
color = "lab(35, 4, -20)"

[[ink]]
name = "clear yellow"
color = "lab(88, -5, 80)"
[[ink]]
name = "clear blue"
color = "lab(48, -5, -42)"
[[ink]]
name = "opaque rose"
color = "lab(62, 45, 12)"
opacity = 0.9
`

// Turning an opaque and a clear ink round changes the overlap; turning two
// clear ones round does not.
func TestPrintOrder(t *testing.T) {
	s := shelf(t, twoPapers)
	ab, ba := build(t, s, "", "opaque rose", "clear blue"), build(t, s, "", "clear blue", "opaque rose")
	if d := spectrum.DeltaE(ab.Overprint(3).Lab(), ba.Overprint(3).Lab()); d < 5 {
		t.Errorf("opaque and clear: ΔE %.2f", d)
	}
	if d := spectrum.DeltaE(ba.Overprint(3).Lab(), ba.Overprint(2).Lab()); d > 8 {
		t.Errorf("the opaque ink on top lets the blue through by ΔE %.2f", d)
	}
	ab, ba = build(t, s, "", "clear yellow", "clear blue"), build(t, s, "", "clear blue", "clear yellow")
	if d := spectrum.DeltaE(ab.Overprint(3).Lab(), ba.Overprint(3).Lab()); d > 1 {
		t.Errorf("two clear inks: ΔE %.2f", d)
	}
}

// On dark paper a clear ink all but vanishes and an opaque one stays itself.
func TestOtherPaper(t *testing.T) {
	s := shelf(t, twoPapers)
	m := build(t, s, "dark", "clear yellow", "opaque rose")
	if m.Overprint(0) != s.Papers[1].Color {
		t.Error("mask 0 is not the paper")
	}
	if y := m.Overprint(1)[1]; y > s.Papers[1].Color[1] {
		t.Errorf("a clear yellow lightens dark paper to Y %.1f", y)
	}
	rose, _ := s.Ink("opaque rose")
	if d := spectrum.DeltaE(m.Overprint(2).Lab(), rose.Color.Lab()); d > 9 || d < .1 {
		t.Errorf("opaque rose on dark paper is off by ΔE %.2f", d)
	}
	same := build(t, s, "white", "clear yellow", "opaque rose")
	if d := spectrum.DeltaE(same.Overprint(2).Lab(), rose.Color.Lab()); d > 1e-9 {
		t.Errorf("on its own paper the solid is off by %g", d)
	}
}

// A measured overlap replaces the predicted one, only in its order, on its
// paper and with its base; what contains it moves along.
func TestMeasuredOverprint(t *testing.T) {
	const over = "[[overprint]]\ninks = [\"clear yellow\", \"clear blue\"]\ncolor = \"lab(50, -30, 25)\"\n"
	before, after := shelf(t, twoPapers), shelf(t, twoPapers+over)
	want := spectrum.Lab{50, -30, 25}
	three := []string{"clear yellow", "clear blue", "opaque rose"}
	a, b := build(t, before, "", three...), build(t, after, "", three...)
	if d := spectrum.DeltaE(b.Overprint(3).Lab(), want); d > 1e-6 {
		t.Errorf("the measured overlap comes back with ΔE %g", d)
	}
	for _, mask := range []uint{0, 1, 2, 4, 5, 6} {
		if a.Overprint(mask) != b.Overprint(mask) {
			t.Errorf("mask %03b changes", mask)
		}
	}
	surface := after.Sheet(after.Papers[0]).Surface
	for c, w := range spectrum.White() {
		in := func(m *Model, mask uint) float64 { return surface.Inside(m.Overprint(mask)[c] / w) }
		was, is := in(a, 7)/in(a, 3), in(b, 7)/in(b, 3)
		if math.Abs(was/is-1) > 1e-6 {
			t.Errorf("channel %d: ratio %.4f was %.4f", c, is, was)
		}
	}
	for name, m := range map[string]*Model{
		"another order": build(t, after, "", "clear blue", "clear yellow"),
		"another paper": build(t, after, "dark", "clear yellow", "clear blue"),
	} {
		if d := spectrum.DeltaE(m.Overprint(3).Lab(), want); d < .5 {
			t.Errorf("the overlap is taken for %s", name)
		}
	}
	y, _ := after.Ink("clear yellow")
	u, _ := after.Ink("clear blue")
	m, err := New(after, after.Papers[0], []Use{{y, 50}, {u, math.NaN()}})
	if err != nil {
		t.Fatal(err)
	}
	if d := spectrum.DeltaE(m.Overprint(3).Lab(), want); d < .5 {
		t.Error("the overlap is taken for another base")
	}
	if m.Overprint(1)[2] <= y.Color[2] {
		t.Error("half base does not lighten the yellow")
	}
}

// Tints known as colors come back; a tone curve says how much prints; both hold
// on another paper as coverages.
func TestTones(t *testing.T) {
	const rest = `tints = [ { film = 60, color = "lab(70, -4, -21)" }, { film = 20, color = "lab(86, -2, -6)" } ]
[[ink]]
name = "curved"
color = "lab(40, 30, 10)"
tone_curve = [ [20, 26], [50, 68] ]
`
	text := strings.Replace(twoPapers, "color = \"lab(48, -5, -42)\"\n", "color = \"lab(48, -5, -42)\"\n"+rest, 1)
	s := shelf(t, text)
	m := build(t, s, "", "clear blue", "curved")
	for _, tt := range []struct {
		film float64
		want spectrum.Lab
	}{{.2, spectrum.Lab{86, -2, -6}}, {.6, spectrum.Lab{70, -4, -21}}} {
		if d := spectrum.DeltaE(m.Lab([]float64{tt.film, 0}), tt.want); d > .3 {
			t.Errorf("tint of %g: ΔE %.2f", tt.film, d)
		}
	}
	dark := build(t, s, "dark", "clear blue", "curved")
	for _, m := range []*Model{m, dark} {
		for film, want := range map[float64]float64{0: 0, .2: .26, .5: .68, 1: 1} {
			if got := m.Tone(1, film); math.Abs(got-want) > .002 {
				t.Errorf("tone curve at %g prints %.3f, want %g", film, got, want)
			}
		}
	}
	for a := 0.0; a < 1; a += .01 {
		if dark.Tone(0, a) != m.Tone(0, a) {
			t.Fatalf("coverage of the tint at %g differs between papers", a)
		}
		for i := range 2 {
			if m.Tone(i, a+.01) < m.Tone(i, a) {
				t.Errorf("ink %d: the tone falls at %g", i, a)
			}
		}
	}
}

// Yule–Nielsen 1951: density .30 of a tint, 1.50 of the solid [calc].
func TestYuleNielsenCoverage(t *testing.T) {
	gray := func(density float64) (c spectrum.XYZ) {
		for i, w := range spectrum.White() {
			c[i] = w * math.Pow(10, -density)
		}
		return c
	}
	for n, want := range map[float64]float64{1: .5151, 1.7: .3843, 2: .3552} {
		tones := tintTones(spectrum.White(), gray(1.5), []ink.Tint{{Film: 50, Color: gray(.3)}}, n)
		for c := range tones {
			if a, _ := tones[c].At(.5); math.Abs(a-want) > 5e-5 {
				t.Errorf("n = %g: coverage %.4f, want %.4f", n, a, want)
			}
		}
	}
}

// Neugebauer's equation, paper .85, inks .2 and .5, overprint .1, coverages .5
// and .25 [calc].
func TestNeugebauer(t *testing.T) {
	for n, want := range map[float64]float64{1: .46875, 2: .411336} {
		m, err := FromOverprints([]spectrum.XYZ{{.85, .85, .85}, {.2, .2, .2}, {.5, .5, .5}, {.1, .1, .1}}, n)
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range m.XYZ([]float64{.5, .25}) {
			if math.Abs(v-want) > 5e-7 {
				t.Errorf("n = %g: %.6f, want %.6f", n, v, want)
			}
		}
	}
}

// An S-shaped tone curve as a mesh-maker measured it (Sefar handbook, "Half-tone
// printing", article 6566571) passes through all its points.
func TestMeasuredToneCurve(t *testing.T) {
	points := [][2]float64{{1, 0}, {6, 2}, {11, 7}, {17, 15}, {22, 22}, {32, 35}, {40, 44}, {47, 53}, {53, 59}, {63, 76}, {69, 84}, {76, 89}, {83, 94}, {91, 98}, {99, 100}}
	s := shelf(t, twoPapers)
	i, _ := s.Ink("clear blue")
	i.ToneCurve = points
	if err := s.Prepare(); err != nil {
		t.Fatal(err)
	}
	m := build(t, s, "", "clear blue")
	for _, p := range points {
		if got := 100 * m.Tone(0, p[0]/100); math.Abs(got-p[1]) > .3 {
			t.Errorf("film %g prints %.2f, want %g", p[0], got, p[1])
		}
	}
}

// Tints that a channel cannot tell from paper, or that fall by noise, do no harm.
func TestNoisyTints(t *testing.T) {
	s := shelf(t, twoPapers)
	i, _ := s.Ink("clear yellow")
	i.Tints = []ink.Tint{{Film: 20, Color: spectrum.Lab{94, -3, 30}.XYZ()}, {Film: 50, Color: spectrum.Lab{95, -2, 28}.XYZ()}, {Film: 80, Color: spectrum.Lab{89, -5, 82}.XYZ()}}
	m := build(t, s, "", "clear yellow")
	last := m.XYZ([]float64{0})[2]
	for a := .05; a <= 1; a += .05 {
		z := m.XYZ([]float64{a})[2]
		if z > last+1e-9 || math.IsNaN(z) {
			t.Errorf("at %.2f Z rises from %.3f to %.3f", a, last, z)
		}
		last = z
	}
	i.Color = s.Papers[0].Color // nothing to see of this ink
	if c := build(t, s, "", "clear yellow").XYZ([]float64{.5}); math.IsNaN(c[0]) {
		t.Error("an ink of the paper's color has no color")
	}
}

// A layer dims what shines below it; what shines on top keeps its light.
func TestGlowBelow(t *testing.T) {
	s := shelf(t, strings.Replace(twoPapers, "lab(88, -5, 80)", "lab(72, 88, 20)", 1))
	glow, _ := s.Ink("clear yellow")
	f, err := s.Film(glow)
	if err != nil || f.Glow == (spectrum.XYZ{}) {
		t.Fatalf("glow %v, %v", f.Glow, err)
	}
	over, under := build(t, s, "", "clear yellow", "opaque rose"), build(t, s, "", "opaque rose", "clear yellow")
	if d := spectrum.DeltaE(over.Overprint(3).Lab(), over.Overprint(2).Lab()); d > 6 {
		t.Errorf("light comes through an opaque ink: ΔE %.2f", d)
	}
	if under.Overprint(3)[0] <= over.Overprint(3)[0] {
		t.Error("the fluorescent ink on top is no brighter than below")
	}
}

func TestDoubt(t *testing.T) {
	s := shelf(t, twoPapers)
	uses := func(names ...string) (u []Use) {
		for _, n := range names {
			i, _ := s.Ink(n)
			u = append(u, AsMeasured(i)...)
		}
		return u
	}
	d, err := Doubt(s, s.Papers[0], uses("opaque rose", "clear yellow", "clear blue"))
	if err != nil {
		t.Fatal(err)
	}
	for _, mask := range []int{0, 1, 2, 4} {
		if d[mask] > 1e-9 {
			t.Errorf("what is measured, %03b, is in doubt by %g", mask, d[mask])
		}
	}
	for _, mask := range []int{3, 5, 6, 7} {
		if d[mask] < .2 || d[mask] > 25 {
			t.Errorf("overlap %03b is in doubt by %g", mask, d[mask])
		}
	}
	s.Overprints = []ink.Overprint{{Inks: []string{"clear yellow", "clear blue"}, Color: spectrum.Lab{50, -30, 25}.XYZ()}}
	if d, _ := Doubt(s, s.Papers[0], uses("clear yellow", "clear blue")); d[3] != 0 {
		t.Errorf("a measured overlap is in doubt by %g", d[3])
	}
}

func TestNewRefuses(t *testing.T) {
	s := ink.BuiltIn()
	for _, tt := range []struct {
		uses []Use
		want string
	}{
		{nil, "1 to 8"},
		{AsMeasured(s.Inks[:9]...), "1 to 8"},
		{AsMeasured(s.Inks[0], s.Inks[0]), "twice"},
		{[]Use{{s.Inks[0], 101}}, "share of the weight"},
		{AsMeasured(&ink.Ink{Name: "x", On: "moon dust"}), "no paper"},
	} {
		if _, err := New(s, s.Papers[0], tt.uses); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%q: %v", tt.want, err)
		}
	}
}

// All of the built-in inks over each other stay colors.
func TestOverprintsAreColors(t *testing.T) {
	s := ink.BuiltIn()
	for _, p := range s.Papers {
		for first := 0; first+8 <= len(s.Inks); first += 5 {
			m, err := New(s, p, AsMeasured(s.Inks[first:first+8]...))
			if err != nil {
				t.Fatal(err)
			}
			for mask := range uint(256) {
				for _, v := range m.Overprint(mask) {
					if !(v >= 0 && v <= 105) {
						t.Fatalf("%s, inks from %d: mask %08b is %v", p.Name, first, mask, m.Overprint(mask))
					}
				}
			}
		}
	}
}

func benchmarkNew(b *testing.B, k int) {
	s := ink.BuiltIn()
	uses := AsMeasured(s.Inks[:k]...)
	for b.Loop() {
		if _, err := New(s, s.Papers[0], uses); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkNew4(b *testing.B) { benchmarkNew(b, 4) }
func BenchmarkNew8(b *testing.B) { benchmarkNew(b, 8) }
