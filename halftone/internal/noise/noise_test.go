package noise

import (
	"encoding/binary"
	"flag"
	"math"
	"os"
	"testing"
)

var update = flag.Bool("update", false, "write the kept patterns anew")

func encode(v []int) string {
	var b []byte
	for _, x := range v {
		b = binary.LittleEndian.AppendUint16(b, uint16(x))
	}
	return string(b)
}

// The kept patterns are what the code makes.
func TestKeptPatterns(t *testing.T) {
	var made []int
	for _, n := range counts {
		made = append(made, makeSeeds(n)...)
	}
	for name, c := range map[string]struct{ kept, made string }{
		"ranks.bin": {ranks, encode(makeRanks())},
		"seeds.bin": {seeds, encode(made)},
	} {
		if *update {
			if err := os.WriteFile(name, []byte(c.made), 0o644); err != nil {
				t.Fatal(err)
			}
		} else if c.kept != c.made {
			t.Errorf("%s differs from what the code makes: run the test with -update", name)
		}
	}
}

func TestRanksAreAPermutation(t *testing.T) {
	seen := make([]bool, Side*Side)
	for _, r := range Ranks() {
		if seen[r] {
			t.Fatalf("rank %d comes twice", r)
		}
		seen[r] = true
	}
}

// Beginnings of the lists keep their distance: a share of that of a triangular
// lattice as dense, √(2/√3 · area). All holes lie in the voids of all dots,
// which are less even.
func TestSeedsApart(t *testing.T) {
	for _, n := range counts {
		s := SeedsUpTo(n)
		if len(s.Dots) != n || len(s.Holes) != n {
			t.Fatalf("set of %d has %d dots and %d holes", n, len(s.Dots), len(s.Holes))
		}
		for name, c := range map[string]struct {
			points []int
			share  float64
		}{
			"50 dots":        {s.Dots[:50], 0.6},
			"half the dots":  {s.Dots[:n/2], 0.6},
			"all dots":       {s.Dots, 0.6},
			"50 holes":       {s.Holes[:50], 0.6},
			"half the holes": {s.Holes[:n/2], 0.6},
			"all holes":      {s.Holes, 0.45},
			"all":            {append(append([]int(nil), s.Dots...), s.Holes...), 0.6},
		} {
			want := c.share * math.Sqrt(2/math.Sqrt(3)*float64(s.Side*s.Side)/float64(len(c.points)))
			if d := nearest(c.points, s.Side); d < want {
				t.Errorf("%d, %s: two are %.2f apart, want %.2f", n, name, d, want)
			}
		}
	}
}

func nearest(points []int, side int) float64 {
	best := math.Inf(1)
	for i, p := range points {
		for _, q := range points[:i] {
			dx, dy := math.Abs(float64(p%side-q%side)), math.Abs(float64(p/side-q/side))
			w := float64(side)
			best = min(best, math.Hypot(min(dx, w-dx), min(dy, w-dy)))
		}
	}
	return best
}
