package choose

import (
	"context"
	"image"
	"math"
	"testing"

	"platewright/composite"
	"platewright/composite/spectrum"
	"platewright/separate"
)

// The pictures of a proof have one size, and a picture that the inks made shows
// no difference.
func TestProof(t *testing.T) {
	shelf, paper := shelfOf(t, 8, 3)
	u := composite.AsMeasured(shelf.Inks[1], shelf.Inks[5])
	p := printOf(t, shelf, paper, u)
	for _, quick := range []bool{false, true} {
		o, err := NewProof(context.Background(), shelf, paper, p, u, separate.Options{Tints: separate.TintsNone}, p.Width/2, quick)
		if err != nil {
			t.Fatal(err)
		}
		want := image.Pt(p.Width/2, p.Height/2)
		if o.Art.Rect.Size() != want || o.Print.Rect.Size() != want || len(o.Plates) != 2 || o.Plates[0].Rect.Size() != want || len(o.Want) != want.X*want.Y || len(o.Printed) != len(o.Want) {
			t.Fatalf("sizes %v %v %d", o.Art.Rect, o.Print.Rect, len(o.Want))
		}
		sum := 0.0
		for i := range o.Want {
			sum += spectrum.DeltaE(o.Want[i], o.Printed[i])
		}
		if mean := sum / float64(len(o.Want)); mean > 1 || o.Fit.MeanDE > 1 {
			t.Errorf("quick %v: the page differs by %.2f, the picture by %.2f", quick, mean, o.Fit.MeanDE)
		}
		if math.Abs(o.Coverage[0]-.5) > .02 || math.Abs(o.TotalCoverage-200) > .1 {
			t.Errorf("quick %v: coverage %v, in the fullest spot %.1f %%", quick, o.Coverage, o.TotalCoverage)
		}
	}
}

// Transparent pixels show the paper and differ from nothing.
func TestProofOfTransparency(t *testing.T) {
	shelf, paper := shelfOf(t, 8, 3)
	p := stripes([][3]uint8{{200, 60, 60}, {0, 0, 0}}, []int{8, 8})
	p.Alpha = make([]uint8, p.Width*p.Height)
	for i := range p.Alpha[:len(p.Alpha)/2] {
		p.Alpha[i] = 255
	}
	p.Flatten(paper.Color)
	o, err := NewProof(context.Background(), shelf, paper, p, composite.AsMeasured(shelf.Inks[2]), separate.Options{}, 1000, false)
	if err != nil {
		t.Fatal(err)
	}
	last := len(o.Want) - 1
	if d := spectrum.DeltaE(o.Want[last], o.Printed[last]); d > .5 {
		t.Errorf("bare paper differs by %.2f", d)
	}
	if o.Art.Pix[4*last+3] != 255 {
		t.Error("the artwork is transparent on the page")
	}
}
