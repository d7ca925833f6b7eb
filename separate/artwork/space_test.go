package artwork

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"platewright/composite/spectrum"
)

func near(t *testing.T, what string, got, want []float64, tolerance float64) {
	t.Helper()
	for i := range want {
		if !(math.Abs(got[i]-want[i]) <= tolerance) {
			t.Errorf("%s: got %.5f, want %.5f within %g", what, got, want, tolerance)
			return
		}
	}
}

// The D50 colors of the full channels. Sources: the profile of the file itself;
// SMPTE EG 432-1 and ITU-R BT.2020 chromaticities taken to D50 by Bradford
// [calc: independent script].
func TestPrimaries(t *testing.T) {
	p3 := open(t, "png", "display_p3.png").Space
	coded, _, _ := codedSpace([]byte{12, 13, 0, 1})
	bt2020, _, _ := codedSpace([]byte{9, 13, 0, 1})
	for _, c := range []struct {
		what    string
		space   Space
		r, g, b float64
		want    []float64
	}{
		{"P3 red", coded, 1, 0, 0, []float64{51.512, 24.120, -.105}},
		{"P3 green", coded, 0, 1, 0, []float64{29.198, 69.225, 4.189}},
		{"P3 blue", coded, 0, 0, 1, []float64{15.710, 6.657, 78.407}},
		{"P3 red by profile", p3, 1, 0, 0, []float64{51.512, 24.120, -.105}},
		{"P3 green by profile", p3, 0, 1, 0, []float64{29.198, 69.225, 4.189}},
		{"BT.2020 red", bt2020, 1, 0, 0, []float64{67.348, 27.904, -.193}},
		{"BT.2020 green", bt2020, 0, 1, 0, []float64{16.566, 67.534, 2.998}},
		{"sRGB red", Space{}, 1, 0, 0, []float64{43.607, 22.250, 1.393}},
	} {
		got := c.space.XYZ(c.r, c.g, c.b)
		near(t, c.what, got[:], c.want, .04) // published whites differ by that much
	}
}

func spaces(t testing.TB) map[string]Space {
	t.Helper()
	m := map[string]Space{"sRGB": {}, "P3": open(t, "png", "display_p3.png").Space}
	for name, c := range map[string][]byte{
		"para 0": paraTag(0, 1.8), "para 1": paraTag(1, 2.2, 1/1.1, .1/1.1), "para 2": paraTag(2, 2, .95, .05, .02),
		"para 3": paraTag(3, 2.4, 1/1.055, .055/1.055, 1/12.92, .04045), "para 4": paraTag(4, 2.2, .9, .1, .2, .05, 0, 0),
		"gamma": curvTag(563), "linear": curvTag(), "table": curvTag(0, 4000, 18000, 40000, 65535), "two": curvTag(0, 65535),
	} {
		p, err := parseProfile(makeProfile("RGB ", "XYZ ", wideTags(c)))
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		m[name] = p.space
	}
	g, err := parseProfile(makeProfile("GRAY", "XYZ ", map[string][]byte{"kTRC": curvTag(256)}))
	if err != nil {
		t.Fatal(err)
	}
	m["gray"] = g.space
	return m
}

func TestWhiteIsExactlyWhite(t *testing.T) {
	for name, s := range spaces(t) {
		got, want := s.XYZ(1, 1, 1), spectrum.White()
		near(t, name, got[:], want[:], 1e-9)
	}
}

func TestEncodeInvertsXYZ(t *testing.T) {
	for name, s := range spaces(t) {
		rapid.Check(t, func(t *rapid.T) {
			v := rapid.Float64Range(.001, 1)
			r, g, b := v.Draw(t, "r"), v.Draw(t, "g"), v.Draw(t, "b")
			e := s.Encode(s.XYZ(r, g, b))
			for i, want := range []float64{r, g, b} {
				if math.Abs(e[i]-want) > 1e-4 {
					t.Fatalf("%s: %v %v %v comes back as %v", name, r, g, b, e)
				}
			}
		})
	}
}

// What a space does not hold is encoded outside 0 … 1, and comes back.
func TestEncodeBeyond(t *testing.T) {
	p3 := open(t, "png", "display_p3.png").Space
	c := p3.XYZ(0, 1, 0)
	e := Space{}.Encode(c)
	if e[0] >= 0 || e[1] <= 1 {
		t.Errorf("the green of P3 is %v in sRGB, which does not hold it", e)
	}
	back := Space{}.XYZ(e[0], e[1], e[2])
	near(t, "green", back[:], c[:], 1e-3)
	bright := spectrum.XYZ{1.2 * 96.422, 120, 1.2 * 82.521}
	for name, s := range spaces(t) {
		if v := s.Encode(bright); !(v[0] > 1 && v[1] > 1 && v[2] > 1) {
			t.Errorf("%s: brighter than white is encoded as %v", name, v)
		}
	}
}

// ICC.1:2010 table 65, at a value below and one above the knee [calc].
func TestParametricCurves(t *testing.T) {
	for _, c := range []struct {
		tag  []byte
		v    float64
		want float64
	}{
		{paraTag(0, 1.8), .5, .287175},
		{paraTag(1, 2, 1.5, -.5), .2, 0}, // below −b/a
		{paraTag(1, 2, 1.5, -.5), .5, .0625},
		{paraTag(2, 2, 1, 0, .1), .5, .35},
		{paraTag(3, 2.4, 1/1.055, .055/1.055, 1/12.92, .04045), .02, .001548},
		{paraTag(3, 2.4, 1/1.055, .055/1.055, 1/12.92, .04045), .5, .214041},
		{paraTag(4, 2, .9, 0, .5, .1, .1, .05), .05, .075},
		{paraTag(4, 2, .9, 0, .5, .1, .1, .05), .5, .3025},
		{curvTag(512), .5, .25},
		{curvTag(), .3, .3},
		{curvTag(0, 65535*1/4, 65535), .25, .125},
		{curvTag(0, 65535*1/4, 65535), .75, .625},
	} {
		k, err := profileCurve(c.tag)
		if err != nil {
			t.Errorf("%q: %v", c.tag[:12], err)
			continue
		}
		if got := k.decode(c.v); math.Abs(got-c.want) > 5e-5 {
			t.Errorf("%q at %v: %.6f, want %.6f", c.tag[:12], c.v, got, c.want)
		}
	}
}

func TestProfilesNotUsed(t *testing.T) {
	good := makeProfile("RGB ", "XYZ ", wideTags(paraTag(0, 1.8)))
	without := func(name string) []byte {
		tags := wideTags(paraTag(0, 1.8))
		delete(tags, name)
		return makeProfile("RGB ", "XYZ ", tags)
	}
	flat := wideTags(paraTag(0, 1.8))
	flat["gXYZ"] = flat["rXYZ"]
	changed := func(at int, s string) []byte {
		b := append([]byte{}, good...)
		copy(b[at:], s)
		return b
	}
	for what, c := range map[string]struct {
		b    []byte
		want error
	}{
		"sound":            {good, nil},
		"empty":            {nil, errProfileBroken},
		"cut short":        {good[:len(good)-1], errProfileBroken},
		"no signature":     {changed(36, "xxxx"), errProfileBroken},
		"count too large":  {changed(128, "\xff\xff\xff\xff"), errProfileBroken},
		"tag outside":      {changed(136, "\x7f\xff\xff\xff"), errProfileBroken},
		"a link":           {changed(12, "link"), errProfileKind},
		"Lab data":         {changed(16, "Lab "), errProfileKind},
		"process colors":   {changed(16, "CMYK"), errProfileInks},
		"only tables":      {without("rXYZ"), errProfileTable},
		"Lab connection":   {changed(20, "Lab "), errProfileTable},
		"a curve missing":  {without("gTRC"), errProfileBroken},
		"a color missing":  {without("bXYZ"), errProfileBroken},
		"two colors equal": {makeProfile("RGB ", "XYZ ", flat), errProfileBroken},
		"falling curve":    {makeProfile("RGB ", "XYZ ", wideTags(curvTag(65535, 30000, 0))), errProfileBroken},
		"gamma zero":       {makeProfile("RGB ", "XYZ ", wideTags(paraTag(0, 0))), errProfileBroken},
		"huge table":       {makeProfile("RGB ", "XYZ ", wideTags([]byte("curv\x00\x00\x00\x00\xff\xff\xff\xff"))), errProfileBroken},
		"unknown curve":    {makeProfile("RGB ", "XYZ ", wideTags(paraTag(9, 1))), errProfileBroken},
	} {
		p, err := parseProfile(c.b)
		if err != c.want {
			t.Errorf("%s: %v, want %v", what, err, c.want)
		}
		if err != nil && !p.space.IsSRGB() {
			t.Errorf("%s: not sRGB in spite of the error", what)
		}
	}
}

func TestProfileName(t *testing.T) {
	mluc := append([]byte("mluc\x00\x00\x00\x00"), be32(1, 12)...)
	mluc = append(mluc, "enUS"...)
	mluc = append(mluc, be32(10, 28)...)
	mluc = append(mluc, "\x00K\x00\xfc\x00s\x00t\x00e"...)
	for _, c := range []struct {
		tag  []byte
		want string
	}{
		{descTag("plain"), "plain"},
		{descTag("two\nlines\x1b[0m"), "twolines[0m"},
		{mluc, "Küste"},
		{mluc[:30], ""},
		{[]byte("desc\x00\x00\x00\x00\xff\xff\xff\xffab"), "ab"},
		{nil, ""},
	} {
		if got := profileText(c.tag); got != c.want {
			t.Errorf("%q: got %q, want %q", c.tag, got, c.want)
		}
	}
}

// A profile whose colors were not taken to D50, as some old programs wrote
// them, still has D50 as its white.
func TestUnadaptedProfile(t *testing.T) {
	tags := wideTags(paraTag(0, 2.2))
	tags["rXYZ"], tags["gXYZ"], tags["bXYZ"] = xyzTag(.4124, .2126, .0193), xyzTag(.3576, .7152, .1192), xyzTag(.1805, .0722, .9505)
	p, err := parseProfile(makeProfile("RGB ", "XYZ ", tags))
	if err != nil {
		t.Fatal(err)
	}
	got, want := p.space.XYZ(1, 1, 1), spectrum.White()
	near(t, "white", got[:], want[:], 1e-9)
	red, srgb := p.space.XYZ(1, 0, 0), spectrum.RGB{1, 0, 0}.XYZ()
	near(t, "red", red[:], srgb[:], .02)
}
