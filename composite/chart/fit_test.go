package chart

import (
	"bytes"
	"math"
	"os"
	"testing"

	"platewright/composite"
	"platewright/composite/ink"
)

var process = []string{"cyan", "magenta", "yellow", "black"}

// measured reads a table of Fogra characterisation data (testdata/SOURCES.md).
func measured(t testing.TB, name string) []Sample {
	t.Helper()
	f, err := os.Open("../../testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	tab, err := ReadTable(f, name)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := tab.Order(process); err != nil {
		t.Fatal(err)
	}
	return tab.Samples
}

// chartOf takes the patches that the chart of four inks has: paper, solids and
// overlaps, five tints an ink, and with middles the tints of overlaps at 40 %.
func chartOf(samples []Sample, middles bool) (chart []Sample) {
	want := map[string]bool{}
	add := func(film ...float64) { want[(&Sample{Film: film}).key()] = true }
	for mask := range 16 {
		film := make([]float64, 4)
		for i := range film {
			film[i] = float64(mask >> i & 1 * 100)
		}
		add(film...)
	}
	for i := range 4 {
		for _, v := range []float64{10, 25, 40, 60, 80} {
			film := make([]float64, 4)
			film[i] = v
			add(film...)
		}
	}
	if middles {
		for _, film := range middleFilms(4, 40, 80-36) {
			add(film...)
		}
	}
	seen := map[string]bool{}
	for _, s := range samples {
		if k := s.key(); want[k] && !seen[k] {
			seen[k] = true
			chart = append(chart, s)
		}
	}
	return chart
}

func fit(t testing.TB, samples []Sample, finish ink.Finish) *Fitted {
	t.Helper()
	f, err := Fit(nil, Print{Inks: process, Paper: "stock", Finish: finish, Record: ink.Record{By: "an instrument"}}, samples)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// reload writes a shelf and reads it again, so that what counts is what the file
// carries.
func reload(t testing.TB, s *ink.Shelf) *composite.Model {
	t.Helper()
	var b bytes.Buffer
	if err := s.Write(&b); err != nil {
		t.Fatal(err)
	}
	read, err := ink.Load(&b, "written shelf")
	if err != nil {
		t.Fatal(err)
	}
	var inks []*ink.Ink
	for _, n := range process {
		i, err := read.Ink(n)
		if err != nil {
			t.Fatal(err)
		}
		inks = append(inks, i)
	}
	m, err := composite.New(read, read.Papers[0], composite.AsMeasured(inks...))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// Marks: from at most 40 patches, mean 0.75 coated and 0.85 uncoated, 95th 1.8,
// largest 3.5; with tints of overlaps, at most 80 patches, mean 0.6 and 0.65.
// Patches that were measured for the fit are not counted.
func TestFitPredictsTheRest(t *testing.T) {
	for _, tt := range []struct {
		file          string
		finish        ink.Finish
		middles       bool
		patches       int
		mean, p95, mx float64
	}{
		{"fogra39l-coated.csv", ink.Coated, false, 40, .75, 1.8, 3.5},
		{"fogra29l-uncoated.csv", ink.Uncoated, false, 40, .85, 1.8, 3.5},
		{"fogra39l-coated.csv", ink.Coated, true, 80, .4, 1.1, 2.6},
		{"fogra29l-uncoated.csv", ink.Uncoated, true, 80, .35, 1.0, 2.6},
	} {
		all := measured(t, tt.file)
		chart := chartOf(all, tt.middles)
		if len(chart) > tt.patches {
			t.Fatalf("%d patches", len(chart))
		}
		f := fit(t, chart, tt.finish)
		used := map[string]bool{}
		for _, s := range chart {
			used[s.key()] = true
		}
		var rest []Sample
		for _, s := range all {
			if !used[s.key()] {
				rest = append(rest, s)
			}
		}
		m := reload(t, f.Shelf)
		e := Predict(m, rest)
		t.Logf("%s from %d patches: %v over %d others; surface %.3f, n %.2f; %v %v", tt.file, len(chart), e, e.Patches, f.Paper.Surface, f.Paper.N, f.Doubtful, f.Notes)
		if !(e.Mean <= tt.mean && e.P95 <= tt.p95 && e.Most <= tt.mx) {
			t.Errorf("%s from %d patches: %v; want %g, %g, %g", tt.file, len(chart), e, tt.mean, tt.p95, tt.mx)
		}
		if len(f.Doubtful) > 0 {
			t.Errorf("%s: %v", tt.file, f.Doubtful)
		}
		if e.Patches+len(chart) < 1400 || math.IsNaN(e.Mean) {
			t.Errorf("%d patches", e.Patches)
		}
	}
}
