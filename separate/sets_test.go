package separate

import (
	"strings"
	"testing"

	"platewright/composite"
	"platewright/composite/ink"
)

// testShelf has inks from clear to opaque on two papers; invented.
const testShelf = `
[[paper]]
name = "bright trial"
finish = "uncoated"
color = "lab(95, 0, -1)"

[[ink]]
name = "test yellow"
color = "lab(88, -6, 85)"
[[ink]]
name = "test rose"
color = "lab(56, 66, 2)"
[[ink]]
name = "test water"
color = "lab(58, -30, -42)"
[[ink]]
name = "test soot"
color = "lab(20, 0, 0)"
opacity = 0.85
[[ink]]
name = "test rust"
color = "lab(48, 48, 40)"
opacity = 0.3
[[ink]]
name = "test kelp"
color = "lab(42, -27, -4)"
opacity = 0.15
[[ink]]
name = "test night"
color = "lab(27, 12, -38)"
opacity = 0.1
[[ink]]
name = "test fern"
color = "lab(60, -45, 40)"
opacity = 0.1
[[ink]]
name = "test shell"
color = "lab(80, 24, 10)"
opacity = 0.5
`

// testSets are six very different choices of 2 to 4 inks, in print order.
var testSets = []string{
	"test rose,test water",
	"test yellow,test rose,test water",
	"test rust,test kelp,test yellow",
	"test yellow,test rose,test water,test soot",
	"test night,test fern,test rose,test yellow",
	"test shell,test rust,test kelp,test night",
}

func testModel(t testing.TB, inks string) *composite.Model {
	t.Helper()
	sh, err := ink.Load(strings.NewReader(testShelf), "test shelf")
	if err != nil {
		t.Fatal(err)
	}
	paper, err := sh.Paper("")
	if err != nil {
		t.Fatal(err)
	}
	var list []*ink.Ink
	for _, n := range strings.Split(inks, ",") {
		i, err := sh.Ink(n)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, i)
	}
	m, err := composite.New(sh, paper, composite.AsMeasured(list...))
	if err != nil {
		t.Fatal(err)
	}
	return m
}
