package sheet

import (
	"bytes"
	"image"
	"image/color"
	"regexp"
	"strings"
	"testing"

	"platewright/composite/spectrum"
)

// plain is a picture of one color and the same as CIELAB.
func plain(w, h int, c color.RGBA) (*image.RGBA, []spectrum.Lab) {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	lab := make([]spectrum.Lab, w*h)
	for i := range lab {
		m.SetRGBA(i%w, i/w, c)
		lab[i] = spectrum.RGB{float64(c.R) / 255, float64(c.G) / 255, float64(c.B) / 255}.XYZ().Lab()
	}
	return m, lab
}

func comparison() Comparison {
	art, want := plain(60, 40, color.RGBA{200, 60, 40, 255})
	proof, printed := plain(60, 40, color.RGBA{190, 70, 60, 255})
	red := spectrum.RGB{.8, .2, .2}.XYZ()
	set := ComparedSet{Name: "@harbor", Paper: spectrum.White(), Proof: proof, Want: want, Printed: printed, Mean: 4.5, P95: 6,
		Figures: []Fact{{"mean ΔE", "4.50"}, {"in reach", "20 %"}}, Words: []string{"two inks alike"},
		Inks:  []ComparedInk{{Name: "brick rust", Color: red, Note: "40 % base", Plate: image.NewGray(image.Rect(0, 0, 60, 40))}, {Name: "deep kelp", Color: red}},
		Makes: []Makes{{Inks: "brick rust + deep kelp", Solid: red, Colors: []Match{{Asked: red, Printed: red, DeltaE: 1, Share: 12}}}}}
	other := set
	other.Name, other.Want, other.Printed = "@orchard", nil, nil
	return Comparison{Title: "ferry.png in 2 sets of inks", Lead: "the prints are predicted", Notes: []string{"grams: 35 sheets"}, Next: []string{"platewright separate ferry.png"},
		Arts: []ComparedArt{{"ferry.png", art, []ComparedSet{set, other}}}}
}

func TestComparisonPage(t *testing.T) {
	var b bytes.Buffer
	if err := WriteComparison(&b, comparison()); err != nil {
		t.Fatal(err)
	}
	s := b.String()
	for _, want := range []string{"<h1>ferry.png in 2 sets of inks</h1>", "@harbor", "@orchard", "mean ΔE 4.5", "1 brick rust", "2 deep kelp", "40 % base", "two inks alike",
		"brick rust &#43; deep kelp", "12% ΔE 1", "grams: 35 sheets", "platewright separate ferry.png", DeltaEWords} {
		if !strings.Contains(s, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(s, "ZgotmplZ") {
		t.Error("the template refused one of our own values")
	}
	if m := regexp.MustCompile(`(?i)<script|<link|@import|@font-face|\b(?:src|href)="(?:[^d]|d[^a])`).FindString(s); m != "" {
		t.Errorf("the page needs another file or a script: %q", m)
	}
	// Artwork, two prints, one difference map and two plates.
	if n := strings.Count(s, "<img "); n != 6 {
		t.Errorf("%d pictures, not 6", n)
	}
}

func TestComparisonEscapesNames(t *testing.T) {
	const evil = `</title><script>alert("x")</script>`
	c := comparison()
	c.Title, c.Lead, c.Notes, c.Next = evil, evil, []string{evil}, []string{evil}
	a := &c.Arts[0]
	a.Name = evil
	s := &a.Sets[0]
	s.Name, s.Words, s.Figures[0], s.Makes[0].Inks = evil, []string{evil}, Fact{evil, evil}, evil
	s.Inks[0].Name, s.Inks[0].Note = evil, evil
	var b bytes.Buffer
	if err := WriteComparison(&b, c); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(b.String(), "<script") || !strings.Contains(b.String(), "&lt;script&gt;") {
		t.Error("a name reached the page as markup")
	}
}

// The drawn comparison has a column for the artwork and one a set, prints at
// the artwork's scale, and the difference map in its step's color.
func TestDrawComparison(t *testing.T) {
	m, err := DrawComparison(comparison())
	if err != nil {
		t.Fatal(err)
	}
	if want := 2*drawMargin + 3*columnWidth + 2*columnGap; m.Rect.Dx() != want {
		t.Errorf("%d pixels wide, not %d", m.Rect.Dx(), want)
	}
	top := drawMargin + 50 + 34
	height := columnWidth * 40 / 60
	x := drawMargin + columnWidth + columnGap + columnWidth/2
	for _, c := range []struct {
		x, y int
		want color.RGBA
	}{
		{drawMargin + columnWidth/2, top + height/2, color.RGBA{200, 60, 40, 255}},
		{x, top + height/2, color.RGBA{190, 70, 60, 255}},
		{x, top + height + 16 + 2*lineHeight + 12 + height/2, legend()[3].Color},
	} {
		if got := m.RGBAAt(c.x, c.y); got != c.want {
			t.Errorf("at %d, %d: %v, want %v", c.x, c.y, got, c.want)
		}
	}
	bad := comparison()
	bad.Arts[0].Sets[0].Printed = bad.Arts[0].Sets[0].Printed[1:]
	if _, err := DrawComparison(bad); err == nil {
		t.Error("differences of pictures of two sizes are drawn")
	}
}
