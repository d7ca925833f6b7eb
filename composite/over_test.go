package composite

import (
	"testing"

	"platewright/composite/spectrum"
)

// Over the first ink's solid a print is what it is with that ink full.
func TestOverFirst(t *testing.T) {
	prim := []spectrum.XYZ{{4, 4, 4}, {70, 74, 60}, {5, 4, 3}, {30, 22, 8}, {4, 4, 6}, {15, 17, 40}, {3, 3, 3}, {9, 7, 5}}
	m, err := FromOverprints(prim, 2)
	if err != nil {
		t.Fatal(err)
	}
	over, err := m.OverFirst()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range [][2]float64{{0, 0}, {1, 0}, {.3, .8}, {1, 1}} {
		if got, want := over.XYZ(c[:]), m.XYZ([]float64{1, c[0], c[1]}); spectrum.DeltaE(got.Lab(), want.Lab()) > 1e-9 {
			t.Errorf("%v: %v, want %v", c, got, want)
		}
	}
	one, err := FromOverprints(prim[:2], 2)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := one.OverFirst(); err == nil {
		t.Error("one ink has nothing over it, and no error says so")
	}
}
