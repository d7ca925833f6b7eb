package composite

import (
	"os"
	"strconv"
	"strings"
	"testing"

	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

// readSpectra reads the single-ink spectra of a proof (see testdata/SOURCES.md),
// keyed by "C M Y K" in whole percent.
func readSpectra(t *testing.T) map[string]*spectrum.Reflectance {
	t.Helper()
	data, err := os.ReadFile("../testdata/spectral-single-ink-ramps.cgats")
	if err != nil {
		t.Fatal(err)
	}
	_, body, ok := strings.Cut(string(data), "BEGIN_DATA\n")
	if !ok {
		t.Fatal("no data")
	}
	out := map[string]*spectrum.Reflectance{}
	for _, line := range strings.Split(body, "\n") {
		f := strings.Fields(line)
		if len(f) < 5+spectrum.Bands {
			continue
		}
		var key []string
		for _, v := range f[1:5] {
			whole, _, _ := strings.Cut(v, ".")
			key = append(key, whole)
		}
		var r spectrum.Reflectance
		for b := range r {
			v, err := strconv.ParseFloat(f[5+b], 64)
			if err != nil {
				t.Fatal(err)
			}
			r[b] = v / 100
		}
		if k := strings.Join(key, " "); out[k] == nil {
			out[k] = &r
		}
	}
	return out
}

// What is lost where only the colors of inks are known and not their spectra:
// the overlaps of dye-based process inks move by ΔE00 3 at the most.
func TestColorsStandForSpectra(t *testing.T) {
	d := readSpectra(t)
	var models [2]*Model
	for n := range models {
		s := &ink.Shelf{}
		paper := d["0 0 0 0"]
		s.Papers = []*ink.Paper{{Name: "proof", Finish: ink.Coated, Color: paper.XYZ()}}
		if n == 0 {
			s.Papers[0].Spectrum = paper
		}
		for _, k := range []string{"100 0 0 0", "0 100 0 0", "0 0 100 0"} {
			r := d[k]
			if r == nil {
				t.Fatalf("no spectrum of %s", k)
			}
			i := ink.NewInk("ink "+strings.ReplaceAll(k, " ", "-"), r.XYZ())
			if n == 0 {
				i.Spectrum = r
			}
			s.Inks = append(s.Inks, i)
		}
		if err := s.Prepare(); err != nil {
			t.Fatal(err)
		}
		models[n] = model(t, s, 0, 1, 2)
	}
	for mask := uint(0); mask < 8; mask++ {
		a, b := models[0].Overprint(mask).Lab(), models[1].Overprint(mask).Lab()
		de := spectrum.DeltaE(a, b)
		t.Logf("%03b: from spectra %.1f, from colors %.1f, ΔE %.2f", mask, a, b, de)
		if limit := map[bool]float64{true: 3.2, false: 1e-6}[mask&(mask-1) != 0]; de > limit {
			t.Errorf("solids %03b: ΔE %.2f", mask, de)
		}
	}
}
