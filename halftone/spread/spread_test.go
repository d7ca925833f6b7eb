package spread

import (
	"math"
	"testing"

	"platewright/halftone"
)

// area returns the covered area in pixels.
func area(p *halftone.Plate) (sum float64) {
	for _, c := range p.Cov {
		sum += float64(c) / halftone.Full
	}
	return sum
}

// A disk spreads and chokes to a disk of the radius changed as asked, to a
// tenth of a pixel, down to fractions of a pixel.
func TestSpreadAndChokeDisk(t *testing.T) {
	const n, r, ppi = 80, 20.3, 300.0
	p := drawn(n, n, func(x, y float64) bool { return math.Hypot(x-40.2, y-39.6) < r })
	for _, px := range []float64{0, 0.3, 0.5, 1, 2.7, 6, 11} {
		mm := px * mmPerInch / ppi
		out, err := Spread(p, mm, ppi)
		if err != nil {
			t.Fatal(err)
		}
		if got := math.Sqrt(area(out) / math.Pi); math.Abs(got-r-px) > 0.1 {
			t.Errorf("spread by %g px: radius %.3f, want %.3f", px, got, r+px)
		}
		in, err := Choke(p, mm, ppi)
		if err != nil {
			t.Fatal(err)
		}
		if got := math.Sqrt(area(in) / math.Pi); math.Abs(got-r+px) > 0.1 {
			t.Errorf("choke by %g px: radius %.3f, want %.3f", px, got, r-px)
		}
		for i, c := range p.Cov {
			if out.Cov[i] < c || in.Cov[i] > c {
				t.Fatalf("%g px, pixel %d: %d spread to %d, choked to %d", px, i, c, out.Cov[i], in.Cov[i])
			}
		}
	}
}

// A tint keeps its coverage, spread and choked.
func TestSpreadTint(t *testing.T) {
	p := plate(40, 30, func(x, y int) float64 {
		switch {
		case x < 10 || x >= 30 || y < 8 || y >= 22:
			return 0
		case x < 20:
			return 0.3
		}
		return 0.8
	})
	out, err := Spread(p, 3, mmPerInch) // 3 pixels
	if err != nil {
		t.Fatal(err)
	}
	for x, want := range map[int]float64{6: 0, 7: 0.3, 15: 0.3, 19: 0.3, 20: 0.8, 32: 0.8, 33: 0} {
		if got := float64(out.Cov[15*40+x]) / halftone.Full; math.Abs(got-want) > 1e-4 {
			t.Errorf("spread, column %d: %.3f, want %g", x, got, want)
		}
	}
	in, err := Choke(p, 3, mmPerInch)
	if err != nil {
		t.Fatal(err)
	}
	for x, want := range map[int]float64{12: 0, 13: 0.3, 20: 0.8, 26: 0.8, 27: 0} {
		if got := float64(in.Cov[15*40+x]) / halftone.Full; math.Abs(got-want) > 1e-4 {
			t.Errorf("choked, column %d: %.3f, want %g", x, got, want)
		}
	}
}

// Nothing spreads from nothing, and a full plate has nowhere to spread.
func TestSpreadExtremes(t *testing.T) {
	for _, c := range []float64{0, 1, 0.4} {
		p := plate(9, 7, func(x, y int) float64 { return c })
		out, err := Spread(p, 2, 100)
		if err != nil {
			t.Fatal(err)
		}
		in, err := Choke(p, 2, 100)
		if err != nil {
			t.Fatal(err)
		}
		for i := range p.Cov {
			if out.Cov[i] != p.Cov[i] || in.Cov[i] != p.Cov[i] {
				t.Fatalf("coverage %g, pixel %d: %d spread to %d, choked to %d", c, i, p.Cov[i], out.Cov[i], in.Cov[i])
			}
		}
	}
}
