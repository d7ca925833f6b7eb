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
	for name, c := range map[string]struct{ kept, made string }{
		"ranks.bin": {ranks, encode(makeRanks())},
		"seeds.bin": {seeds, encode(makeSeeds())},
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
	dots, holes := Seeds()
	for name, c := range map[string]struct {
		points []int
		share  float64
	}{
		"50 dots":    {dots[:50], 0.6},
		"1000 dots":  {dots[:1000], 0.6},
		"all dots":   {dots, 0.6},
		"50 holes":   {holes[:50], 0.6},
		"1000 holes": {holes[:1000], 0.6},
		"all holes":  {holes, 0.45},
		"all":        {append(append([]int(nil), dots...), holes...), 0.6},
	} {
		want := c.share * math.Sqrt(2/math.Sqrt(3)*Side*Side/float64(len(c.points)))
		if d := nearest(c.points); d < want {
			t.Errorf("%s: two are %.2f apart, want %.2f", name, d, want)
		}
	}
}

func nearest(points []int) float64 {
	best := math.Inf(1)
	for i, p := range points {
		for _, q := range points[:i] {
			dx, dy := math.Abs(float64(p%Side-q%Side)), math.Abs(float64(p/Side-q/Side))
			best = min(best, math.Hypot(min(dx, Side-dx), min(dy, Side-dy)))
		}
	}
	return best
}
