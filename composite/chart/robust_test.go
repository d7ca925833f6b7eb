package chart

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

// noisy moves colors as hand pulls do, about so much ΔE.
func noisy(samples []Sample, de float64, seed uint64) []Sample {
	rnd := rand.New(rand.NewPCG(seed, 1))
	out := append([]Sample(nil), samples...)
	for i := range out {
		lab := out[i].Color.Lab()
		for k := range lab {
			lab[k] += de * .6 * rnd.NormFloat64()
		}
		lab[0] = math.Max(lab[0], .5)
		c := lab.XYZ()
		for k := range c {
			c[k] = math.Max(c[k], .05)
		}
		out[i].Color = c
	}
	return out
}

func find(t testing.TB, samples []Sample, film ...float64) int {
	t.Helper()
	want := (&Sample{Film: film}).key()
	for i := range samples {
		if samples[i].key() == want {
			return i
		}
	}
	t.Fatalf("no patch %v", film)
	return 0
}

// A few spoiled patches are named and change next to nothing.
func TestFitNamesBadPatches(t *testing.T) {
	for file, finish := range map[string]ink.Finish{"fogra39l-coated.csv": ink.Coated, "fogra29l-uncoated.csv": ink.Uncoated} {
		all := measured(t, file)
		chart := chartOf(all, true)
		clean := fit(t, chart, finish)
		spoiled := append([]Sample(nil), chart...)
		black := spectrum.Lab{20, 0, 0}.XYZ()
		bad := map[int]string{
			find(t, chart, 0, 60, 0, 0):    "magenta 60 %",               // a thumb
			find(t, chart, 25, 0, 0, 0):    "cyan 25 %",                  // mixed up with another
			find(t, chart, 100, 0, 100, 0): "cyan + yellow",              // not printed
			find(t, chart, 0, 40, 40, 0):   "magenta 40 % + yellow 40 %", // dust
		}
		spoiled[find(t, chart, 0, 60, 0, 0)].Color = black
		spoiled[find(t, chart, 25, 0, 0, 0)].Color = chart[find(t, chart, 80, 0, 0, 0)].Color
		spoiled[find(t, chart, 100, 0, 100, 0)].Color = chart[find(t, chart, 0, 0, 0, 0)].Color
		spoiled[find(t, chart, 0, 40, 40, 0)].Color = black
		f := fit(t, spoiled, finish)
		named := map[string]bool{}
		for _, d := range f.Doubtful {
			named[d.Words] = true
			if !strings.Contains(d.String(), "line ") || !strings.Contains(d.String(), d.Words) {
				t.Errorf("%q does not say which patch", d.String())
			}
		}
		for _, words := range bad {
			if !named[words] {
				t.Errorf("%s: %s was spoiled and not named", file, words)
			}
		}
		if len(named) > len(bad)+1 {
			t.Errorf("%s: %v", file, f.Doubtful)
		}
		before, after := Predict(reload(t, clean.Shelf), all), Predict(reload(t, f.Shelf), all)
		if after.Mean > before.Mean+.25 || after.P95 > 2.2 {
			t.Errorf("%s: from %v to %v", file, before, after)
		}
	}
}

// What is measured of a print as uneven as a hand's is never worse than the
// prediction from the same solids alone, and mostly much better.
func TestFitNeverWorse(t *testing.T) {
	for _, tt := range []struct {
		file   string
		finish ink.Finish
	}{{"fogra39l-coated.csv", ink.Coated}, {"fogra29l-uncoated.csv", ink.Uncoated}} {
		all := measured(t, tt.file)
		for _, de := range []float64{0, 1, 2, 4} {
			chart := noisy(chartOf(all, true), de, 5)
			for i := range 4 { // some twice
				film := make([]float64, 4)
				film[i] = 100
				chart = append(chart, noisy(all[find(t, all, film...):][:1], de, uint64(20+i))...)
				film[i] = 40
				chart = append(chart, noisy(all[find(t, all, film...):][:1], de, uint64(30+i))...)
			}
			f := fit(t, chart, tt.finish)
			var few []Sample
			for _, s := range chart {
				if m, solid := s.mask(); solid && m&(m-1) == 0 {
					few = append(few, s)
				}
			}
			solids := fit(t, few, tt.finish)
			with, without := Predict(reload(t, f.Shelf), all), Predict(reload(t, solids.Shelf), all)
			t.Logf("%s, pulls vary by ΔE %g: %v; from paper and solids alone: %v; repeats ±%.1f", tt.file, de, with, without, f.Repeat)
			if with.Mean > without.Mean {
				t.Errorf("%s, pulls vary by %g: %v, from paper and solids alone %v", tt.file, de, with, without)
			}
			if de > 0 && (f.Repeat < de/3 || f.Repeat > de*3) {
				t.Errorf("pulls vary by %g and repeats say %.2f", de, f.Repeat)
			}
		}
	}
}

// A solid over black tells the scattering: an opaque ink over another comes out
// far nearer than taken as clear.
func TestFitOverBlack(t *testing.T) {
	s := &ink.Shelf{Papers: []*ink.Paper{{Name: "stock", Finish: ink.Uncoated, Color: spectrum.Lab{95, 0, 2}.XYZ()}}}
	night, cloud := ink.NewInk("night", spectrum.Lab{30, 20, -50}.XYZ()), ink.NewInk("cloud", spectrum.Lab{80, -10, 10}.XYZ())
	black, nightOver, cloudOver := spectrum.Lab{18, 0, 0}.XYZ(), spectrum.Lab{17.5, .5, -3}.XYZ(), spectrum.Lab{55, -3, 3}.XYZ()
	night.Black, cloud.Black, night.OverBlack, cloud.OverBlack = &black, &black, &nightOver, &cloudOver
	s.Inks = []*ink.Ink{night, cloud}
	if err := s.Prepare(); err != nil {
		t.Fatal(err)
	}
	press, err := composite.New(s, s.Papers[0], composite.AsMeasured(night, cloud))
	if err != nil {
		t.Fatal(err)
	}
	var samples []Sample
	for mask := range uint(3) {
		film := []float64{float64(mask & 1 * 100), float64(mask >> 1 & 1 * 100)}
		samples = append(samples, Sample{Film: film, Color: press.Overprint(mask)})
		over := []spectrum.XYZ{black, nightOver, cloudOver}[mask]
		samples = append(samples, Sample{Film: film, OverBlack: true, Color: over})
	}
	var off [2]float64
	for n, list := range [][]Sample{samples, {samples[0], samples[2], samples[4]}} {
		f, err := Fit(nil, Print{Inks: []string{"night", "cloud"}, Paper: "stock", Finish: ink.Uncoated}, list)
		if err != nil {
			t.Fatal(err)
		}
		m, err := composite.New(f.Shelf, f.Paper, composite.AsMeasured(f.Inks...))
		if err != nil {
			t.Fatal(err)
		}
		off[n] = deltaE(m.Overprint(3), press.Overprint(3))
	}
	if !(off[0] < 2) || off[1] < 3*off[0] {
		t.Errorf("the overlap is off by %.2f with and %.2f without patches over black", off[0], off[1])
	}
}

// Spectra go on the shelf, and what else stands there stays.
func TestFitKeepsTheShelf(t *testing.T) {
	old := &ink.Shelf{
		Papers: []*ink.Paper{{Name: "stock", Finish: ink.Coated, Color: spectrum.Lab{94, 0, 1}.XYZ()}, {Name: "card", Finish: ink.Uncoated, Color: spectrum.Lab{90, 0, 5}.XYZ()}},
		Inks:   []*ink.Ink{ink.NewInk("sea", spectrum.Lab{50, -30, -30}.XYZ()), ink.NewInk("rose", spectrum.Lab{50, 60, 0}.XYZ())},
		Overprints: []ink.Overprint{
			{Inks: []string{"sea", "rose"}, Color: spectrum.Lab{30, 10, -20}.XYZ()},
			{Inks: []string{"sea", "rose"}, On: "card", Color: spectrum.Lab{30, 12, -20}.XYZ()},
		},
		Sets: []ink.Set{{Name: "pair", Inks: []string{"sea", "rose"}}},
	}
	if err := old.Prepare(); err != nil {
		t.Fatal(err)
	}
	var flat spectrum.Reflectance = spectrum.Flat(.8)
	half := spectrum.Flat(.3)
	samples := []Sample{
		{Film: []float64{0, 0}, Color: flat.XYZ(), Spectrum: &flat},
		{Film: []float64{100, 0}, Color: half.XYZ(), Spectrum: &half},
		{Film: []float64{0, 100}, Color: spectrum.Lab{52, 55, 3}.XYZ()},
		{Film: []float64{100, 100}, Color: spectrum.Lab{28, 8, -15}.XYZ()},
	}
	f, err := Fit(old, Print{Inks: []string{"sea", "rose"}, Base: []float64{30, math.NaN()}, Record: ink.Record{By: "an instrument", When: "2026-11-25", Mesh: "77/cm"}}, samples)
	if err != nil {
		t.Fatal(err)
	}
	sea, err := f.Shelf.Ink("sea")
	if err != nil {
		t.Fatal(err)
	}
	if sea.Spectrum == nil || sea.Base != 30 || sea.KnownBy() != "a spectrum alone, taken as clear, at 30 % base (an instrument, 2026-11-25, 77/cm)" {
		t.Errorf("sea is %+v, known by %q", sea, sea.KnownBy())
	}
	if len(f.Shelf.Overprints) != 2 || f.Shelf.Overprints[0].On != "card" || len(f.Shelf.Sets) != 1 || len(f.Shelf.Papers) != 2 {
		t.Errorf("%+v", f.Shelf.Overprints)
	}
	if old.Inks[0].Spectrum != nil || len(old.Overprints) != 2 || old.Papers[0].Spectrum != nil {
		t.Error("the old shelf was changed")
	}
	if f.Before.Patches != 4 || f.Before.Mean < f.After.Mean {
		t.Errorf("from %v to %v", f.Before, f.After)
	}
	for _, tt := range []struct {
		p    Print
		s    []Sample
		want string
	}{
		{Print{Inks: []string{"sea", "rose"}}, samples[:2], "no patch of rose solid on bare paper"},
		{Print{Inks: []string{"sea", "rose"}, Paper: "new"}, samples[1:], "no patch of the bare paper"},
		{Print{}, samples, "0 inks"},
		{Print{Inks: []string{"sea"}}, samples, "2 film percents for 1 inks"},
	} {
		if _, err := Fit(old, tt.p, tt.s); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%v, want %q", err, tt.want)
		}
	}
}
