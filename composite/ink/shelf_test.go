package ink

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"platewright/composite/spectrum"
)

func TestParseColor(t *testing.T) {
	lab := spectrum.Lab{62, -21, 6}.XYZ()
	hex := spectrum.RGB{0x2f / 255., 0x6d / 255., 0x58 / 255.}.XYZ()
	for text, want := range map[string]spectrum.XYZ{
		"2f6d58": hex, "#2f6d58": hex, " #2F6D58 ": hex,
		"lab:62,-21,6": lab, "lab(62, -21, 6)": lab, "LAB( 62 ,-21,6 )": lab,
		"xyz:84.5,87.6,74.6": {84.5, 87.6, 74.6}, "xyz(84.5, 87.6, 74.6)": {84.5, 87.6, 74.6},
		"lab:0,0,0": {}, "lab:95,0,-2": spectrum.Lab{95, 0, -2}.XYZ(),
	} {
		got, err := ParseColor(text)
		if err != nil {
			t.Errorf("%q: %v", text, err)
		}
		for c := range got {
			near(t, text, got[c], want[c], 1e-9)
		}
	}
	for text, want := range map[string]string{
		"":                "is not one",
		"2f6d5":           "six hex digits",
		"2f6d5g":          "six hex digits",
		"red":             "six hex digits",
		"lab:62,-21":      "three numbers",
		"lab(62,-21,6":    "closing bracket",
		"lab:62,x,6":      `"x" is not a number`,
		"lab:NaN,0,0":     "not a number",
		"lab:162,0,0":     "out of range",
		"xyz:-3,1,1":      "out of range",
		"xyz:1e99,1,1":    "out of range",
		"hsv:10,20,30":    `starts with "hsv"`,
		"lab:62,-21,6,88": "three numbers",
	} {
		if _, err := ParseColor(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

const full = `[[paper]]
name = "cold white 250 g"
finish = "uncoated"
color = "#f4f2ec"

[[paper]]
name = "gloss card"
finish = "coated"
color = "xyz(84.5, 87.6, 74.6)"
surface = 0.02
yule_nielsen = 1.7
note = "a \"quoted\" word"

[[ink]]
name = "deep kelp"
on = "cold white 250 g"
color = "#2f6d58"
opacity = 0.15
base = 40
tints = [ { film = 20, color = "lab(78, -9, 4)" }, { film = 50, color = "lab(62, -21, 6)" } ]
known_by = "a scan of the test print"
measured = 2024-05-01
mesh = "77/cm"

[[ink]]
name = "brick rust"
color = "lab(44, 44, 33)"
over_black = "lab(24, 6, 4)"
black = "lab(18, 0, 0)"
tone_curve = [ [20, 26], [50, 68] ]

[[ink]]
name = "plain rose"
on = "gloss card"
color = "lab(60, 50, 5)"
opacity = "half"
register = 0.35

[[overprint]]
inks = ["deep kelp", "brick rust"]
color = "lab(31, 4, 9)"
measured = "last spring"

[[overprint]]
inks = ["deep kelp", "brick rust"]
film = [40, 100]
color = "lab(40, 4, 9)"

[[set]]
name = "harbor"
inks = ["brick rust", "deep kelp"]
`

func TestLoad(t *testing.T) {
	s := load(t, full)
	if len(s.Papers) != 2 || len(s.Inks) != 3 || len(s.Overprints) != 2 || len(s.Sets) != 1 {
		t.Fatalf("%d papers, %d inks, %d overprints, %d sets", len(s.Papers), len(s.Inks), len(s.Overprints), len(s.Sets))
	}
	k := s.Inks[0]
	if k.Opacity != .15 || k.Base != 40 || len(k.Tints) != 2 || k.Tints[1].Film != 50 || k.Mesh != "77/cm" || k.When != "2024-05-01" {
		t.Errorf("deep kelp is %+v", k)
	}
	r := s.Inks[1]
	if r.OverBlack == nil || r.Black == nil || !math.IsNaN(r.Opacity) || !math.IsNaN(r.Base) || r.ToneCurve[1] != [2]float64{50, 68} {
		t.Errorf("brick rust is %+v", r)
	}
	if s.Inks[2].Opacity != .5 || s.Papers[1].Finish != Coated || s.Overprints[0].When != "last spring" {
		t.Error("half, coated or the overprint's date is lost")
	}
	if p := s.Papers[1]; p.Surface != .02 || p.N != 1.7 || s.Sheet(p).N != 1.7 || s.Sheet(s.Papers[0]).N != 2 {
		t.Errorf("measured constants of %+v are lost", p)
	}
	if o := &s.Overprints[1]; o.Solid() || o.Film[0] != 40 || !s.Overprints[0].Solid() || s.Inks[2].Register != .35 {
		t.Errorf("the tint of %+v or the register is lost", o)
	}
	for n, want := range []string{
		"a color and an opacity of 0.15, with 2 tints, at 40 % base (a scan of the test print, 2024-05-01, 77/cm)",
		"a color over paper and one over black, with a tone curve",
		"a color and an opacity of 0.5",
	} {
		if got := s.Inks[n].KnownBy(); got != want {
			t.Errorf("%s is known by %q, want %q", s.Inks[n].Name, got, want)
		}
	}
	if got := NewInk("x", spectrum.White()).KnownBy(); got != "a color alone, taken as clear" {
		t.Errorf("a color is known by %q", got)
	}
}

// Tints may come in any order, twice (the mean counts), and with both ends.
func TestTintsAsMeasured(t *testing.T) {
	s := load(t, strings.Replace(full, "tints = [ ", `tints = [ { film = 100, color = "#2f6d58" }, { film = 70, color = "xyz(30, 36, 30)" }, { film = 0, color = "#f4f2ec" },
  { film = 70, color = "xyz(32, 37, 31)" }, { film = 70, color = "xyz(34, 38, 32)" }, `, 1))
	got := s.Inks[0].Tints
	if len(got) != 3 || got[0].Film != 20 || got[1].Film != 50 || got[2].Film != 70 {
		t.Fatalf("tints %v", got)
	}
	for c, want := range (spectrum.XYZ{32, 37, 31}) {
		near(t, "mean", got[2].Color[c], want, 1e-12)
	}
	s.Inks[0].Tints = append(got, got[0])
	if err := s.Prepare(); err == nil || !strings.Contains(err.Error(), "must rise") {
		t.Errorf("unsorted tints in code: %v", err)
	}
}

func TestWriteRoundTrip(t *testing.T) {
	spectra := full + "\n[[ink]]\nname = \"measured teal\"\nspectrum = [" + strings.Repeat("0.25, ", 36) + "]\n"
	for name, s := range map[string]*Shelf{"full": load(t, spectra), "built in": BuiltIn()} {
		var first, second bytes.Buffer
		if err := s.Write(&first); err != nil {
			t.Fatal(err)
		}
		back, err := Load(bytes.NewReader(first.Bytes()), "written")
		if err != nil {
			t.Fatalf("%s: %v\n%s", name, err, &first)
		}
		if err := back.Write(&second); err != nil {
			t.Fatal(err)
		}
		if first.String() != second.String() {
			t.Errorf("%s: written, read and written again differs", name)
		}
		for n, i := range s.Inks {
			j := back.Inks[n]
			if d := spectrum.DeltaE(i.Color.Lab(), j.Color.Lab()); d > .002 || i.KnownBy() != j.KnownBy() || i.On != j.On || i.Note != j.Note {
				t.Errorf("%s: %+v comes back as %+v", name, i, j)
			}
		}
	}
}

func TestTemplateLoads(t *testing.T) {
	s := load(t, string(Template()))
	if len(s.Inks) != 2 || len(s.Papers) != 1 || len(s.Sets) != 1 {
		t.Errorf("the template has %d inks, %d papers, %d sets", len(s.Inks), len(s.Papers), len(s.Sets))
	}
	// The lines that are commented out are right as well.
	var all []string
	for _, line := range strings.Split(string(Template()), "\n") {
		key, _, _ := strings.Cut(strings.TrimPrefix(line, "# "), " ")
		switch key {
		case "on", "over_black", "black", "base", "tints", "known_by", "measured", "mesh", "note", "inks", "color", "[[overprint]]":
			line = strings.TrimPrefix(line, "# ")
		}
		all = append(all, line)
	}
	s = load(t, strings.Join(all, "\n"))
	if len(s.Overprints) != 1 || s.Inks[0].OverBlack == nil || len(s.Inks[0].Tints) != 2 {
		t.Error("the template's commented lines do not all load")
	}
}

func TestLookUp(t *testing.T) {
	s := load(t, full)
	if i, err := s.Ink("  Deep  KELP "); err != nil || i != s.Inks[0] {
		t.Errorf("%v, %v", i, err)
	}
	if p, err := s.Paper(""); err != nil || p != s.Papers[0] {
		t.Errorf("%v, %v", p, err)
	}
	if inks, err := s.Set("@harbor"); err != nil || len(inks) != 2 || inks[0] != s.Inks[1] {
		t.Errorf("%v, %v", inks, err)
	}
	for _, tt := range []struct {
		err  error
		want string
	}{
		{second(s.Ink("deep klep")), `no ink "deep klep"; did you mean "deep kelp"?`},
		{second(s.Ink("chartreuse")), `no ink "chartreuse"; there are: deep kelp, brick rust, plain rose`},
		{second(s.Paper("glos card")), `no paper "glos card"; did you mean "gloss card"?`},
		{second(s.Set("@harbour")), `no set "@harbour"; did you mean "harbor"?`},
	} {
		if tt.err == nil || tt.err.Error() != tt.want {
			t.Errorf("%v, want %q", tt.err, tt.want)
		}
	}
}

func second[T any](_ T, err error) error { return err }

// Each mistake is one line: file, line, what is wrong, the mend.
func TestLoadErrors(t *testing.T) {
	for _, tt := range []struct{ old, new, want string }{
		{"opacity = 0.15", "opacity = 1.4", `shelf.toml:18: opacity 1.4 is more than 1; write 0 … 1, or clear, slight, half, opaque (percent divided by 100)`},
		{"opacity = 0.15", "opacity = -0.1", `shelf.toml:18: opacity -0.1 is not between 0 and 1; write 0 … 1, or clear, slight, half, opaque`},
		{"opacity = 0.15", `opacity = "murky"`, `shelf.toml:18: opacity "murky" is unknown; write 0 … 1, or clear, slight, half, opaque`},
		{"opacity = 0.15", "opacity = [1]", `shelf.toml:18: opacity [1] is neither`},
		{"opacity = 0.15", "opacty = 0.15", `shelf.toml:18: unknown key "ink.opacty"; did you mean "opacity"?`},
		{"{ film = 20, color", "{ film = 20, colour", `shelf.toml:20: unknown key "ink.tints.colour"; did you mean "color"?`},
		{"[[set]]", "[[sett]]", `shelf.toml:49: unknown key "sett"; did you mean "set"?`},
		{`"brick rust"` + "\ncolor", `"deep kelp"` + "\ncolor", `shelf.toml:26: two inks are called "deep kelp"; rename one`},
		{`"gloss card"` + "\nfinish", `"Cold White 250 g"` + "\nfinish", `shelf.toml:7: two papers are called "Cold White 250 g"; rename one`},
		{`color = "#2f6d58"`, `color = "#2f6d5"`, `shelf.toml:17: color "#2f6d5" is not one; write six hex digits`},
		{`on = "cold white 250 g"`, `on = "cold white 205 g"`, `shelf.toml:16: ink "deep kelp": no paper "cold white 205 g"; did you mean "cold white 250 g"?`},
		{"[20, 26], [50, 68]", "[20, 26], [50, 18]", `shelf.toml:30: ink "brick rust": tone_curve must rise; 50 prints 18 after 20 printed 26`},
		{"[20, 26], [50, 68]", "[0, 4], [50, 68]", `keeps its ends`},
		{"surface = 0.02", "surface = 2", `shelf.toml:10: paper "gloss card": surface 2; write the share`},
		{"surface = 0.02", "surface = 0", `surface 0 is no surface`},
		{"yule_nielsen = 1.7", "yule_nielsen = 0.7", `shelf.toml:11: paper "gloss card": yule_nielsen 0.7; the factor of tints goes from 1 to 10`},
		{"film = [40, 100]", "film = [40]", `film has 1 numbers for 2 inks; give one for each`},
		{"film = [40, 100]", "film = [40, 0]", `film 0; film percent goes to 100, and an ink of 0 is left out`},
		{"film = [40, 100]", "film = [100, 100]", `is there twice; keep one`},
		{"register = 0.35", "register = -1", `register -1 is no distance in mm`},
		{"[20, 26], [50, 68]", "[20, 26], [50, 168]", `not in percent`},
		{`["deep kelp", "brick rust"]`, `["deep kelp", "brick dust"]`, `shelf.toml:40: overprint: no ink "brick dust"; did you mean "brick rust"?`},
		{`["deep kelp", "brick rust"]`, `["deep kelp"]`, `an overprint names two inks or more`},
		{`["deep kelp", "brick rust"]`, `["deep kelp", "Deep Kelp"]`, `named twice`},
		{`["brick rust", "deep kelp"]`, `["brick rust", "deep kel"]`, `shelf.toml:51: set "harbor": no ink "deep kel"; did you mean "deep kelp"?`},
		{`finish = "coated"`, `finish = "shiny"`, `shelf.toml:8: paper "gloss card": finish "shiny" is unknown; write coated or uncoated`},
		{"base = 40", "base = 140", `shelf.toml:19: ink "deep kelp": base 140 is not a percentage below 100`},
		{"film = 50", "film = 150", `a tint of film 150; film percent lies between 0 and 100`},
		{"film = 50", "film = 100", `shelf.toml:20: ink "deep kelp": the tint of film 100 differs from the ink's color by ΔE`},
		{"film = 50", "film = 0", `differs from the paper's by ΔE`},
		{"film = 50", "film = nan", `film percent lies between`},
		{`over_black = "lab(24, 6, 4)"` + "\n", "", `shelf.toml:28: ink "brick rust": black is the color under over_black; add over_black`},
		{"tone_curve = [", "tints = [{film=50, color=\"lab(70, 20, 10)\"}]\ntone_curve = [", `has tints and tone_curve`},
		{"base = 40", "spectrum = [0.1, 0.2]", `shelf.toml:19: spectrum has 2 numbers; it takes 36`},
		{"base = 40", "spectrum = [" + strings.Repeat("34.5,", 36) + "]", `divide percent by 100`},
		{`color = "lab(44, 44, 33)"` + "\n", "", `shelf.toml:26: ink "brick rust" has no color; add color`},
		{`name = "brick rust"`, `name = "brick, rust"`, `shelf.toml:26: ink name "brick, rust" holds a comma`},
		{`name = "brick rust"`, `name = "brick rust`, `shelf.toml:26: `},
		{`name = "brick rust"`, `name = 7`, `shelf.toml:26: name = 7 has the wrong type; put it in quotes`},
		{"base = 40", `base = "40"`, `shelf.toml:19: base = "40" has the wrong type; write a number without quotes`},
		{"[[set]]", "[set]", `write its header in double brackets, [[set]]`},
		{`color = "#f4f2ec"`, `color = "#000000"`, `shelf.toml:4: paper "cold white 250 g" is blacker than any paper`},
	} {
		text := strings.Replace(full, tt.old, tt.new, 1)
		if text == full {
			t.Fatalf("%q is not in the shelf", tt.old)
		}
		_, err := Load(strings.NewReader(text), "shelf.toml")
		if err == nil {
			t.Errorf("%s: no error", tt.new)
			continue
		}
		if msg := err.Error(); !strings.Contains(msg, tt.want) || strings.Contains(msg, "\n") || !strings.HasPrefix(msg, "shelf.toml") {
			t.Errorf("%s:\n got %s\nwant %s", tt.new, msg, tt.want)
		}
	}
	for text, want := range map[string]string{
		"":                                      "no paper; describe one under [[paper]]",
		"[[paper]]\n":                           "paper",
		"[[ink]]\nname=\"a\"\ncolor=\"ff0000\"": "no paper",
	} {
		if _, err := Load(strings.NewReader(text), "s"); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// Whatever the file holds: a shelf that can be written and read again, or one
// line of error.
func FuzzLoad(f *testing.F) {
	f.Add([]byte(full))
	f.Add(Template())
	f.Add([]byte("[[paper]]\nname='a'\ncolor='xyz:1,1,1'\n[[ink]]\nname='b'\ncolor='xyz:150,0,150'\nopacity=1\n"))
	f.Add([]byte("[[paper]]\nname='a'\ncolor='lab:96,0,0'\n[[ink]]\nname='b'\ncolor='000000'\nover_black='ffffff'\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 4096 {
			return
		}
		s, err := Load(bytes.NewReader(data), "fuzz")
		if err != nil {
			if strings.ContainsAny(err.Error(), "\n\r") {
				t.Errorf("error of several lines: %q", err)
			}
			return
		}
		for _, i := range s.Inks {
			film, err := s.Film(i)
			if err != nil {
				t.Fatal(err)
			}
			if !film.K.Valid(kMax(scatterMax)) || !film.S.Valid(scatterMax) {
				t.Errorf("%+v: K or S out of range", i)
			}
		}
		var b bytes.Buffer
		if err := s.Write(&b); err != nil {
			t.Fatal(err)
		}
		if _, err := Load(bytes.NewReader(b.Bytes()), "again"); err != nil {
			t.Errorf("%v in\n%s", err, &b)
		}
	})
}
