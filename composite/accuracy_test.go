package composite

import (
	"encoding/csv"
	"math/bits"
	"os"
	"sort"
	"strconv"
	"testing"

	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

// patch is one measured color: film coverage of C, M, Y, K in percent.
type patch struct {
	cov [4]float64
	xyz spectrum.XYZ
}

// patches reads a table of Fogra characterisation data (see testdata/SOURCES.md).
func patches(t testing.TB, name string) []patch {
	t.Helper()
	f, err := os.Open("../testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []patch
	for _, row := range rows[1:] {
		var v [8]float64
		for i := range v {
			if v[i], err = strconv.ParseFloat(row[i], 64); err != nil {
				t.Fatal(err)
			}
		}
		out = append(out, patch{[4]float64(v[1:5]), spectrum.XYZ(v[5:8])})
	}
	return out
}

// table is a printing condition: its patches, and the color of each coverage
// (the mean where it was measured twice).
type table struct {
	patches []patch
	color   map[[4]float64]spectrum.XYZ
}

func readTable(t testing.TB, name string) *table {
	tab := &table{patches(t, name), map[[4]float64]spectrum.XYZ{}}
	count := map[[4]float64]float64{}
	for _, p := range tab.patches {
		n := count[p.cov]
		c := tab.color[p.cov]
		for i := range c {
			c[i] = (c[i]*n + p.xyz[i]) / (n + 1)
		}
		tab.color[p.cov], count[p.cov] = c, n+1
	}
	return tab
}

func solids(mask uint) (cov [4]float64) {
	for i := range cov {
		cov[i] = float64(mask>>i&1) * 100
	}
	return cov
}

// shelf holds what a printmaker could have measured: paper, four solids, the
// ramps of single inks where tints is true, and the overprints of 2 to most inks.
func (tab *table) shelf(t testing.TB, finish ink.Finish, tints bool, most int) *ink.Shelf {
	t.Helper()
	names := []string{"cyan", "magenta", "yellow", "black"}
	s := &ink.Shelf{Papers: []*ink.Paper{{Name: "stock", Finish: finish, Color: tab.color[solids(0)]}}}
	for i, name := range names {
		k := ink.NewInk(name, tab.color[solids(1<<i)])
		for cov, c := range tab.color {
			alone := cov
			alone[i] = 0
			if tints && alone == solids(0) && cov[i] > 0 && cov[i] < 100 {
				k.Tints = append(k.Tints, ink.Tint{Film: cov[i], Color: c})
			}
		}
		sort.Slice(k.Tints, func(a, b int) bool { return k.Tints[a].Film < k.Tints[b].Film })
		s.Inks = append(s.Inks, k)
	}
	for mask := uint(1); mask < 16; mask++ {
		if n := bits.OnesCount(mask); n >= 2 && n <= most {
			var o ink.Overprint
			for i, name := range names {
				if mask>>i&1 == 1 {
					o.Inks = append(o.Inks, name)
				}
			}
			var ok bool
			if o.Color, ok = tab.color[solids(mask)]; !ok {
				t.Fatalf("no patch of the solids %04b", mask)
			}
			s.Overprints = append(s.Overprints, o)
		}
	}
	if err := s.Prepare(); err != nil {
		t.Fatal(err)
	}
	return s
}

// model prints the inks of s in the order given.
func model(t testing.TB, s *ink.Shelf, order ...int) *Model {
	t.Helper()
	var inks []*ink.Ink
	for _, o := range order {
		inks = append(inks, s.Inks[o])
	}
	m, err := New(s, s.Papers[0], AsMeasured(inks...))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// errors returns mean, 95th percentile and largest ΔE00 over all patches, for a
// model of C, M, Y, K in that order.
func (tab *table) errors(m *Model) (mean, p95, most float64) {
	var d []float64
	e := m.NewEvaluator()
	for _, p := range tab.patches {
		cov := []float64{p.cov[0] / 100, p.cov[1] / 100, p.cov[2] / 100, p.cov[3] / 100}
		d = append(d, spectrum.DeltaE(e.XYZ(cov).Lab(), p.xyz.Lab()))
	}
	sort.Float64s(d)
	for _, v := range d {
		mean += v
	}
	return mean / float64(len(d)), d[len(d)*95/100], d[len(d)-1]
}

// The marks: all patches of two printing conditions predicted from ever more of
// them. Independent scripts got, over all patches, 5.3 coated and 7.1 uncoated
// by multiplying the solids in sRGB as a drawing program does, and 0.72 and 0.80
// with all 16 solids and overprints measured [calc].
func TestAccuracy(t *testing.T) {
	for _, tt := range []struct {
		file      string
		finish    ink.Finish
		tints     bool
		measured  int // overprints of up to so many inks
		mean, p95 float64
	}{
		{"fogra39l-coated.csv", ink.Coated, true, 0, 1.15, 3.2},
		{"fogra39l-coated.csv", ink.Coated, true, 2, 0.85, 1.9},
		{"fogra39l-coated.csv", ink.Coated, true, 4, 0.75, 1.8},
		{"fogra29l-uncoated.csv", ink.Uncoated, true, 0, 1.75, 4.4},
		{"fogra29l-uncoated.csv", ink.Uncoated, true, 2, 0.90, 2.0},
		{"fogra29l-uncoated.csv", ink.Uncoated, true, 4, 0.85, 1.8},
	} {
		tab := readTable(t, tt.file)
		if len(tab.patches) < 1400 {
			t.Fatalf("%s has %d patches", tt.file, len(tab.patches))
		}
		m := model(t, tab.shelf(t, tt.finish, tt.tints, tt.measured), 0, 1, 2, 3)
		mean, p95, most := tab.errors(m)
		t.Logf("%-22s overprints of up to %d inks measured: ΔE00 mean %.3f, 95th %.2f, largest %.2f", tt.file, tt.measured, mean, p95, most)
		if mean > tt.mean || p95 > tt.p95 {
			t.Errorf("%s, overprints of up to %d inks measured: mean %.3f, 95th %.2f; want at most %g and %g", tt.file, tt.measured, mean, p95, tt.mean, tt.p95)
		}
	}
}

// What is measured comes back: paper, solids, tints and overprints.
func TestMeasuredColorsComeBack(t *testing.T) {
	tab := readTable(t, "fogra29l-uncoated.csv")
	m := model(t, tab.shelf(t, ink.Uncoated, true, 4), 0, 1, 2, 3)
	for mask := uint(0); mask < 16; mask++ {
		if d := spectrum.DeltaE(m.Overprint(mask).Lab(), tab.color[solids(mask)].Lab()); d > 1e-6 {
			t.Errorf("solids %04b: ΔE %g", mask, d)
		}
	}
	for i := range 4 {
		for _, a := range []float64{10, 40, 80} {
			cov, film := solids(0), make([]float64, 4)
			cov[i], film[i] = a, a/100
			if d := spectrum.DeltaE(m.Lab(film), tab.color[cov].Lab()); d > .35 {
				t.Errorf("ink %d at %g %%: ΔE %.2f", i, a, d)
			}
		}
	}
}

// From the colors of cyan and yellow alone: their overlap within ΔE00 4 of the
// measured one, and lighter than the product of the two in sRGB that a drawing
// program shows.
func TestOverlapFromTwoColors(t *testing.T) {
	for _, tt := range []struct {
		file   string
		finish ink.Finish
	}{{"fogra39l-coated.csv", ink.Coated}, {"fogra29l-uncoated.csv", ink.Uncoated}} {
		tab := readTable(t, tt.file)
		all := tab.shelf(t, tt.finish, false, 0)
		s := &ink.Shelf{Papers: all.Papers, Inks: []*ink.Ink{all.Inks[0], all.Inks[2]}}
		if err := s.Prepare(); err != nil {
			t.Fatal(err)
		}
		m := model(t, s, 0, 1)
		got, want := m.Overprint(3).Lab(), tab.color[[4]float64{100, 0, 100, 0}].Lab()
		d := spectrum.DeltaE(got, want)
		t.Logf("%s: cyan and yellow %.1f, measured %.1f, ΔE %.2f", tt.file, got, want, d)
		if d > 4 {
			t.Errorf("%s: cyan and yellow are off by %.2f", tt.file, d)
		}
		a, b := s.Inks[0].Color.RGB().Clamp(), s.Inks[1].Color.RGB().Clamp()
		if product := (spectrum.RGB{a[0] * b[0], a[1] * b[1], a[2] * b[2]}).XYZ().Lab(); got[0] <= product[0] {
			t.Errorf("%s: L %.1f is not lighter than the product in sRGB, %.1f", tt.file, got[0], product[0])
		}
	}
}

// Clear inks may be printed in any order.
func TestOrderOfClearInksDoesNotMatter(t *testing.T) {
	for _, file := range []string{"fogra39l-coated.csv", "fogra29l-uncoated.csv"} {
		tab := readTable(t, file)
		s := tab.shelf(t, ink.Coated, true, 0)
		a, b := model(t, s, 0, 1, 2, 3), model(t, s, 3, 0, 1, 2)
		for mask := uint(0); mask < 16; mask++ {
			other := mask<<1&15 | mask>>3
			if d := spectrum.DeltaE(a.Overprint(mask).Lab(), b.Overprint(other).Lab()); d > .01 {
				t.Errorf("%s: solids %04b differ by %.3f", file, mask, d)
			}
		}
	}
}
