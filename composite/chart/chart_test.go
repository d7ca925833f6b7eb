package chart

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

func testInks(n int) *ink.Shelf {
	s := &ink.Shelf{Papers: []*ink.Paper{{Name: "stock", Finish: ink.Uncoated, Color: spectrum.Lab{95, 0, 2}.XYZ()}}}
	for i, lab := range []spectrum.Lab{{88, -5, 80}, {55, 65, 20}, {50, -30, -35}, {35, 30, -40}, {25, 2, 2}}[:n] {
		s.Inks = append(s.Inks, ink.NewInk([]string{"straw", "poppy", "lake", "iris", "soot"}[i], lab.XYZ()))
	}
	if err := s.Prepare(); err != nil {
		panic(err)
	}
	return s
}

func layOut(t testing.TB, n int, w, h float64) *Chart {
	t.Helper()
	s := testInks(n)
	c, err := New(Order{Shelf: s, Paper: s.Papers[0], Inks: s.Inks, Width: w, Height: h})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Every chart has what it promises: paper, all overlaps, ten tints an ink, each
// ink over black, some twice; patches of 12 mm with 3 mm of bare paper around.
func TestLayout(t *testing.T) {
	for n := 2; n <= MaxInks; n++ {
		c := layOut(t, n, 210, 297)
		seen := map[string]int{}
		for i, p := range c.Patches {
			s := Sample{Film: p.Film, OverBlack: p.OverBlack}
			if p.Film == nil {
				s.Film = make([]float64, n)
			}
			seen[s.key()]++
			if p.W < 12 || p.H < 12 || p.X < 8 || p.Y < 20 || p.X+p.W > 202 || p.Y+p.H > 289 {
				t.Errorf("%d inks: patch %d lies at %g, %g", n, i+1, p.X, p.Y)
			}
			for _, q := range c.Patches[:i] {
				if p.X < q.X+q.W+3-1e-9 && q.X < p.X+p.W+3-1e-9 && p.Y < q.Y+q.H+3-1e-9 && q.Y < p.Y+p.H+3-1e-9 {
					t.Errorf("%d inks: %q and %q touch", n, p.Label, q.Label)
				}
			}
		}
		for mask := range 1 << n {
			film := make([]float64, n)
			for i := range film {
				film[i] = float64(mask >> i & 1 * 100)
			}
			if seen[(&Sample{Film: film}).key()] == 0 {
				t.Errorf("%d inks: overlap %b is missing", n, mask)
			}
		}
		twice := 0
		for _, k := range seen {
			if k > 1 {
				twice++
			}
		}
		for i := range n {
			tints := 0
			for _, p := range c.Patches {
				s := Sample{Film: p.Film}
				if m, solid := s.mask(); m == 1<<i && !solid {
					tints++
				}
			}
			film := make([]float64, n)
			film[i] = 100
			if tints < 11 || seen[(&Sample{Film: film, OverBlack: true}).key()] != 1 {
				t.Errorf("%d inks: ink %d has %d tints", n, i, tints)
			}
		}
		if twice < 2*n+1 || len(c.Pairs) != n-1 {
			t.Errorf("%d inks: %d patches twice, %d register marks", n, twice, len(c.Pairs))
		}
		for _, f := range c.Films() {
			for _, tint := range f.Tints {
				if tint.X < 0 || tint.Y < 0 || tint.X+tint.W > c.Width+.01 || tint.Y+tint.H > c.Height+.01 || !(tint.Percent > 0 && tint.Percent <= 100) {
					t.Errorf("%d inks, %s: %+v", n, f.Name, tint)
				}
			}
			if len(f.Words) == 0 {
				t.Errorf("%s has no words", f.Name)
			}
		}
		if films := c.Films(); len(films) != n+1 || films[0].Name != "black bar" {
			t.Errorf("%d inks: %d films", n, len(films))
		}
	}
}

func TestSwatches(t *testing.T) {
	s := testInks(4)
	c, err := New(Order{Shelf: s, Paper: s.Papers[0], Inks: s.Inks, Width: 210, Height: 148, Swatches: true})
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Patches) != 16 || len(c.Films()) != 4 {
		t.Errorf("%d patches, %d films", len(c.Patches), len(c.Films()))
	}
	if _, err := c.Read([]*Picture{{}}, nil); err == nil || !strings.Contains(err.Error(), "made with --swatches") {
		t.Error(err)
	}
}

// A card under windows needs no film of black.
func TestBlackCard(t *testing.T) {
	s := testInks(2)
	c, err := New(Order{Shelf: s, Paper: s.Papers[0], Inks: s.Inks, Width: 210, Height: 297, BlackCard: true})
	if err != nil {
		t.Fatal(err)
	}
	if f := c.Films(); len(f) != 2 || f[0].Name != "straw" {
		t.Errorf("%d films", len(f))
	}
}

func TestChartErrors(t *testing.T) {
	s := testInks(5)
	pale := &ink.Shelf{Papers: s.Papers, Inks: []*ink.Ink{ink.NewInk("mist", spectrum.Lab{90, 1, 0}.XYZ())}}
	if err := pale.Prepare(); err != nil {
		t.Fatal(err)
	}
	var contrast *ContrastError
	if _, err := New(Order{Shelf: pale, Paper: pale.Papers[0], Inks: pale.Inks, Width: 210, Height: 297}); !errors.As(err, &contrast) || !strings.Contains(err.Error(), "mist does best and takes away 1") {
		t.Error(err)
	}
	var size *SizeError
	if _, err := New(Order{Shelf: s, Paper: s.Papers[0], Inks: s.Inks, Width: 148, Height: 210}); !errors.As(err, &size) || size.Need <= size.Room {
		t.Error(err)
	}
	for _, mm := range [][2]float64{{10, 10}, {10, 300}, {300, 10}} {
		if _, err := New(Order{Shelf: s, Paper: s.Papers[0], Inks: s.Inks[:1], Width: mm[0], Height: mm[1]}); !errors.As(err, &size) || !strings.HasPrefix(err.Error(), "a chart of 1 ink needs") {
			t.Errorf("%g × %g mm: %v", mm[0], mm[1], err)
		}
	}
	if _, err := New(Order{Shelf: s, Paper: s.Papers[0], Inks: append(s.Inks, s.Inks[0]), Width: 900, Height: 900}); err == nil || !strings.Contains(err.Error(), "a chart takes 1 to 5") {
		t.Error(err)
	}
}

// A straw-yellow ink alone is found in blue light.
func TestContrastInAnyChannel(t *testing.T) {
	c := layOut(t, 1, 210, 297)
	if c.Channel != 2 {
		t.Errorf("yellow is searched in channel %d", c.Channel)
	}
}

func TestChartRoundTrip(t *testing.T) {
	c := layOut(t, 3, 210, 297)
	var first, second bytes.Buffer
	if err := c.Write(&first); err != nil {
		t.Fatal(err)
	}
	back, err := Load(bytes.NewReader(first.Bytes()), "chart.toml")
	if err != nil {
		t.Fatal(err)
	}
	if back.Code != c.Code || len(back.Patches) != len(c.Patches) || math.Abs(back.Patches[9].X-c.Patches[9].X) > 1e-9 {
		t.Errorf("%+v", back)
	}
	if err := back.Write(&second); err != nil {
		t.Fatal(err)
	}
	again, err := Load(&second, "chart.toml")
	if err != nil || fmt.Sprint(again) != fmt.Sprint(back) {
		t.Errorf("written again it differs: %v", err)
	}
	text := first.String()
	for old, want := range map[string]string{
		`mark_ink = 2`:            "mark_ink 9, channel 0",
		`name = "straw"`:          "",
		`width_mm = 210.0`:        "a sheet of 9 × 297 mm",
		`code = "` + c.Code + `"`: `code "9"`,
		"film = [0.0, 0.0, 0.0]":  "patch 1 has 1 film percents for 3 inks",
		"x = 9.0":                 "",
		`title = "test print"`:    "",
	} {
		key, _, _ := strings.Cut(old, "=")
		value := " = 9"
		switch key {
		case "code ":
			value = ` = "9"`
		case "film ":
			value = " = [9]"
		case "name ", "title ", "x ":
			continue
		}
		if !strings.Contains(text, old) {
			t.Errorf("no %q", old)
			continue
		}
		bad := strings.Replace(text, old, strings.TrimSpace(key)+value, 1)
		if _, err := Load(strings.NewReader(bad), "chart.toml"); !errors.Is(err, ErrMalformed) || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", old, err, want)
		}
	}
	for bad, want := range map[string]string{
		"":                                 "0 inks",
		"title = ":                         "line 1:",
		text + "\n[[extra]]\n":             `unknown key "extra"`,
		"ink = 3":                          "malformed",
		strings.Repeat("e", 5000) + " = 1": "…",
		"a = " + strings.Repeat("1", 5000): "…",
	} {
		if _, err := Load(strings.NewReader(bad), "chart.toml"); !errors.Is(err, ErrMalformed) || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") || len(err.Error()) > 2*longest {
			t.Errorf("%.20q: %v, want %q", bad, err, want)
		}
	}
}

// The code on the sheet survives any single wrong cell being noticed.
func TestCodeBits(t *testing.T) {
	seen := map[[cellN]bool]uint16{}
	for v := range 1 << 16 {
		b := codeBits(uint16(v))
		if other, ok := seen[b]; ok {
			t.Fatalf("%04x and %04x look alike", v, other)
		}
		seen[b] = uint16(v)
	}
	for v := 0; v < 1<<16; v += 257 {
		b := codeBits(uint16(v))
		for i := range b {
			c := b
			c[i] = !c[i]
			if other, ok := seen[c]; ok {
				t.Fatalf("%04x with cell %d wrong is %04x", v, i, other)
			}
		}
		var back [cellN]bool
		for i := range b {
			back[i] = b[cellN-1-i]
		}
		if other, ok := seen[back]; ok && other == uint16(v) {
			t.Fatalf("%04x reads the same from behind", v)
		}
	}
}

func TestViewTakesPoints(t *testing.T) {
	from := [4]point{{0, 0}, {100, 0}, {100, 50}, {0, 50}}
	to := [4]point{{10, 5}, {210, 25}, {190, 120}, {20, 100}}
	v, ok := newView(from, to)
	if !ok {
		t.Fatal("no view")
	}
	for i := range from {
		if d := v.at(from[i].x, from[i].y).distance(to[i]); d > 1e-9 {
			t.Errorf("corner %d is off by %g", i, d)
		}
	}
	if _, ok := newView(from, [4]point{{0, 0}, {1, 1}, {2, 2}, {3, 3}}); ok {
		t.Error("a line is a view")
	}
}

// Seeds are short: the fuzzer cuts each find down byte by byte before it goes on,
// which of a whole chart takes it minutes.
func FuzzLoad(f *testing.F) {
	const head = "width_mm=210\nheight_mm=297\ncode=\"abcd\"\npaper={color=\"#ffffff\"}\nink=[{name=\"a\",color=\"#102030\"}]\n"
	for _, rest := range []string{
		"patch=[{x=1,y=1,w=5,h=5}]",
		"patch=[{x=1,y=1,w=5,h=5,film=[40],label=\"all but a\"}]\nswatches=true",
		"rows_mm=[1,2,3,4]\npatch=[{x=1,y=1,w=5,h=5,over_black=true}]\nblack_card=true",
		"channel=2\nregister=[{x=10,y=10,step=7}]\n[[patch]]\nx=1\ny=1\nw=5\nh=5",
	} {
		if _, err := Load(strings.NewReader(head+rest), "seed"); err != nil {
			f.Fatal(err)
		}
		f.Add([]byte(head + rest))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := Load(bytes.NewReader(data), "f")
		if err != nil {
			if strings.Contains(err.Error(), "\n") || len(err.Error()) > 2*longest {
				t.Errorf("more than a line: %q", err)
			}
			return
		}
		c.Films()
	})
}

// FuzzRead shows all kinds of pictures to a chart: none is one.
func FuzzRead(f *testing.F) {
	c := layOut(f, 2, 210, 297)
	f.Add([]byte{0, 255}, uint16(320), uint16(330))
	f.Add([]byte("any text at all"), uint16(500), uint16(300))
	f.Add([]byte{}, uint16(2), uint16(30000))
	f.Fuzz(func(t *testing.T, data []byte, w, h uint16) {
		if int(w)*int(h) > 400*400 || len(data) == 0 {
			data = append(data, 0)
			w, h = w%400, h%400
		}
		p := &Picture{Name: "pattern", Width: int(w), Height: int(h), PPI: float64(len(data)), Row: func(y int, dst []float32) {
			for i := range dst {
				dst[i] = float32(data[(i/3/7+y/7*31)%len(data)])/200 - .1
			}
		}}
		var e *ReadError
		if _, err := c.Read([]*Picture{p}, nil); !errors.As(err, &e) || strings.Contains(err.Error(), "\n") {
			t.Fatalf("%v", err)
		}
	})
}

func BenchmarkFit(b *testing.B) {
	chart := chartOf(measured(b, "fogra29l-uncoated.csv"), true)
	for b.Loop() {
		fit(b, chart, ink.Uncoated)
	}
}

func BenchmarkRead(b *testing.B) {
	s := uncoated(b)
	m, ppi := shot{sensor: scanners()[2], level: .8, dpi: 150, seed: 3}.take(s.press, s.print, s.chart)
	p := picture("scan", m, ppi)
	for b.Loop() {
		if _, err := s.chart.Read([]*Picture{p}, nil); err != nil {
			b.Fatal(err)
		}
	}
}
