package job

import (
	"io"
	"strconv"
	"strings"
	"testing"
)

func tableStock(t testing.TB) (*Stock, *Choice) {
	t.Helper()
	j := New()
	j.ShelfCopy = `
[[paper]]
name = "cold white"
color = "xyz(80, 83, 68)"
[[ink]]
name = "sea slate"
color = "xyz(10, 12, 30)"
[[ink]]
name = "brick rust"
color = "xyz(25, 16, 8)"
`
	j.Inks = Names{"sea slate", "brick rust"}
	s, err := j.OpenStock()
	if err != nil {
		t.Fatal(err)
	}
	paper, inks, err := s.Named(j)
	if err != nil {
		t.Fatal(err)
	}
	c, err := s.Choose(j, paper, inks)
	if err != nil {
		t.Fatal(err)
	}
	return s, c
}

// TestPredict wants bare paper and solids to come back as the shelf has them,
// whatever the order and the case of the columns.
func TestPredict(t *testing.T) {
	s, c := tableStock(t)
	table, err := ReadCoverages(strings.NewReader("\ufeffBrick Rust\tnote\tSea  Slate\n0\tbare\t0\n0\tsolid\t 100 \n100\tsolid\t0\n"), "t")
	if err != nil {
		t.Fatal(err)
	}
	if got := table.InkNames(s); strings.Join(got, ",") != "brick rust,sea slate" {
		t.Errorf("inks %q", got)
	}
	var out strings.Builder
	if err := table.Predict(&out, s, c); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(out.String()), "\n")
	if lines[0] != "Brick Rust\tnote\tSea  Slate\tX\tY\tZ\tL\ta\tb\thex" {
		t.Errorf("header %q", lines[0])
	}
	for i, want := range [][3]float64{{80, 83, 68}, {10, 12, 30}, {25, 16, 8}} {
		cells := strings.Split(lines[i+1], "\t")
		for k := range want {
			if v, err := strconv.ParseFloat(cells[3+k], 64); err != nil || v < want[k]-1e-3 || v > want[k]+1e-3 {
				t.Errorf("row %d: %q, want %v", i, cells, want)
			}
		}
	}
}

func FuzzReadCoverages(f *testing.F) {
	f.Add("sea slate,brick rust\n0,100\n")
	f.Add("a;sea slate;brick rust\n\"x\ny\";1e1;-0\n")
	f.Add("\xef\xbb\xbfsea slate\tbrick rust\n\n0\t")
	s, c := tableStock(f)
	f.Fuzz(func(t *testing.T, text string) {
		table, err := ReadCoverages(strings.NewReader(text), "t.csv")
		if err == nil {
			err = table.Predict(io.Discard, s, c)
		}
		if err != nil && !strings.HasPrefix(err.Error(), "t.csv") {
			t.Fatalf("error %q", err)
		}
	})
}
