package chart_test

import (
	"fmt"
	"strings"

	"platewright/composite/chart"
	"platewright/composite/ink"
)

// An instrument's table becomes a shelf.
func ExampleFit() {
	const table = `sea,rose,L,a,b
0,0,95,0,2
100,0,50,-30,-30
0,100,55,60,5
100,100,32,10,-20
50,0,74,-16,-14
`
	t, err := chart.ReadTable(strings.NewReader(table), "readings.csv")
	if err != nil {
		fmt.Println(err)
		return
	}
	fit, err := chart.Fit(nil, chart.Print{
		Inks:   t.Inks,
		Paper:  "cream stock",
		Finish: ink.Uncoated,
		Record: ink.Record{By: "an instrument's table", When: "2026-11-25", Mesh: "77/cm"},
	}, t.Samples)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, i := range fit.Inks {
		fmt.Printf("%s: %s\n", i.Name, i.KnownBy())
	}
	// Output:
	// sea: a color alone, taken as clear, with 1 tint (an instrument's table, 2026-11-25, 77/cm)
	// rose: a color alone, taken as clear (an instrument's table, 2026-11-25, 77/cm)
}

// The films of a test print are plain rectangles, discs and words.
func ExampleNew() {
	s := ink.BuiltIn()
	set, err := s.Set("@harbor")
	if err != nil {
		fmt.Println(err)
		return
	}
	paper, err := s.Paper("")
	if err != nil {
		fmt.Println(err)
		return
	}
	c, err := chart.New(chart.Order{Shelf: s, Paper: paper, Inks: set[:2], Width: 210, Height: 297})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, f := range c.Films() {
		fmt.Println(f.Name)
	}
	fmt.Println(len(c.Patches), "patches")
	// Output:
	// black bar
	// swim lane
	// poppy field
	// 35 patches
}
