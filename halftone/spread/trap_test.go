package spread

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"platewright/halftone"
)

func TestUnder(t *testing.T) {
	pale, dark := Ink{Darkness: 0.1}, Ink{Darkness: 0.8}
	paleOpaque, darkOpaque := Ink{0.1, 0.9}, Ink{0.8, 0.9}
	for _, c := range []struct {
		name          string
		first, second Ink
		want          bool
	}{
		{"lighter first", pale, dark, true},
		{"lighter second", dark, pale, false},
		{"equal", dark, dark, true},
		{"opaque light over dark", dark, paleOpaque, true},
		{"opaque dark over light", pale, darkOpaque, true},
		{"opaque dark first, light over it", darkOpaque, pale, false},
		{"opaque light first, dark over it", paleOpaque, dark, true},
	} {
		if got := Under(c.first, c.second); got != c.want {
			t.Errorf("%s: first spreads %v, want %v", c.name, got, c.want)
		}
	}
}

// blobs is a random map of patches of n kinds.
func blobs(w, h, n int, seed uint64) []int {
	rng := rand.New(rand.NewPCG(seed, 7))
	type site struct{ x, y, kind int }
	sites := make([]site, 3+rng.IntN(25))
	for i := range sites {
		sites[i] = site{rng.IntN(w), rng.IntN(h), rng.IntN(n)}
	}
	kinds := make([]int, w*h)
	for i := range kinds {
		best := math.MaxInt
		for _, s := range sites {
			if d := (s.x-i%w)*(s.x-i%w) + (s.y-i/w)*(s.y-i/w); d < best {
				best, kinds[i] = d, s.kind
			}
		}
	}
	return kinds
}

// However one plate of two that fill the sheet is shifted, by up to the trap's
// width, no bare pixel opens.
func TestTrapCoversShift(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(5, 60).Draw(t, "w"), rapid.IntRange(5, 60).Draw(t, "h")
		radius := rapid.IntRange(1, 6).Draw(t, "radius")
		kinds := blobs(w, h, 2, rapid.Uint64().Draw(t, "map"))
		plates := make([]*halftone.Plate, 2)
		for k := range plates {
			plates[k] = plate(w, h, func(x, y int) float64 { return one(kinds[y*w+x] == k) })
		}
		inks := []Ink{{Darkness: rapid.Float64Range(0, 1).Draw(t, "first")}, {Darkness: rapid.Float64Range(0, 1).Draw(t, "second")}}
		trapped, err := Trap(plates, inks, float64(radius), mmPerInch) // a pixel is a millimetre
		if err != nil {
			t.Fatal(err)
		}
		for dy := -radius; dy <= radius; dy++ {
			for dx := -radius; dx <= radius; dx++ {
				if dx*dx+dy*dy > radius*radius {
					continue
				}
				for y := radius; y < h-radius; y++ { // at the rim the shifted plate ends
					for x := radius; x < w-radius; x++ {
						a, b := trapped[0].Cov[y*w+x], trapped[1].Cov[(y-dy)*w+x-dx]
						if max(a, b) != halftone.Full {
							t.Fatalf("shift %d, %d bares pixel %d, %d to %d, %d", dx, dy, x, y, a, b)
						}
					}
				}
			}
		}
	})
}

func one(on bool) float64 {
	if on {
		return 1
	}
	return 0
}

// The same with bare paper between some patches and anti-aliased seams: where
// the two plates met, none opens; and no ink comes to where neither printed.
func TestTrapSeamAndPaper(t *testing.T) {
	const n, radius = 90, 5
	in := func(x, y float64) (left, right bool) {
		ring := math.Hypot(x-45, y-45)
		seam := 45 + 6*math.Sin(y/7)
		return ring < 35 && x < seam, ring < 35 && x >= seam
	}
	a := drawn(n, n, func(x, y float64) bool { l, _ := in(x, y); return l })
	b := drawn(n, n, func(x, y float64) bool { _, r := in(x, y); return r })
	out, err := Trap([]*halftone.Plate{a, b}, []Ink{{Darkness: 0.2}, {Darkness: 0.9}}, radius, mmPerInch)
	if err != nil {
		t.Fatal(err)
	}
	if out[1] != b {
		t.Error("the darker plate changed")
	}
	for y := range n {
		for x := range n {
			i := y*n + x
			if out[0].Cov[i] > a.Cov[i] && inside(b, x, y) == 0 {
				t.Fatalf("pixel %d, %d: ink came where neither prints", x, y)
			}
			// 4 pixels right of the seam both print, away from the outline
			_, r := in(float64(x)+0.5, float64(y)+0.5)
			l, _ := in(float64(x)+0.5-4, float64(y)+0.5)
			if r && l && math.Hypot(float64(x)-44.5, float64(y)-44.5) < 33 && out[0].Cov[i] < halftone.Full*9/10 {
				t.Fatalf("pixel %d, %d beside the seam has only %d", x, y, out[0].Cov[i])
			}
		}
	}
}

// Ink under a tint is no darker than the tint; plates apart are left alone.
func TestTrapTintAndApart(t *testing.T) {
	light := plate(40, 5, func(x, y int) float64 { return one(x < 10) })
	tint := plate(40, 5, func(x, y int) float64 { return 0.4 * one(x >= 10 && x < 20) })
	apart := plate(40, 5, func(x, y int) float64 { return one(x >= 25) })
	plates := []*halftone.Plate{light, tint, apart}
	out, err := Trap(plates, []Ink{{Darkness: 0.1}, {Darkness: 0.5}, {Darkness: 0.9}}, 6, mmPerInch)
	if err != nil {
		t.Fatal(err)
	}
	for x, want := range map[int]float64{9: 1, 10: 0.4, 15: 0.4, 16: 0, 25: 0} {
		if got := float64(out[0].Cov[2*40+x]) / halftone.Full; math.Abs(got-want) > 1e-4 {
			t.Errorf("column %d: %.3f, want %g", x, got, want)
		}
	}
	if out[1] != tint || out[2] != apart {
		t.Error("plates that touch no darker one changed")
	}
}

// Where inks lie over each other already, outlines stay; a tint beneath the other
// ink does not hide that the rest of its ink ends.
func TestTrapOverprint(t *testing.T) {
	pale := plate(60, 5, func(x, y int) float64 {
		switch {
		case x >= 10 && x < 30:
			return 1
		case x >= 40:
			return .1 + .9*one(x < 50)
		}
		return 0
	})
	dark := plate(60, 5, func(x, y int) float64 { return one(x < 20 || x >= 50) })
	out, err := Trap([]*halftone.Plate{pale, dark}, []Ink{{Darkness: 0.1}, {Darkness: 0.9}}, 4, mmPerInch)
	if err != nil {
		t.Fatal(err)
	}
	for x := range 60 {
		want := float64(pale.Cov[2*60+x]) / halftone.Full
		if x >= 50 && x < 54 {
			want = 1
		}
		if got := float64(out[0].Cov[2*60+x]) / halftone.Full; math.Abs(got-want) > 1e-4 {
			t.Errorf("column %d: %.3f, want %g", x, got, want)
		}
	}
}

// A speck of a tint in another ink does not spread to a disk; a solid dot does.
func TestTrapSpecks(t *testing.T) {
	const n = 30
	for _, c := range []struct{ speck, want float64 }{{.1, 0}, {.8, 0}, {1, 1}} {
		pale := plate(n, n, func(x, y int) float64 { return c.speck * one(x == 15 && y == 15) })
		dark := plate(n, n, func(x, y int) float64 { return one(x != 15 || y != 15) })
		out, err := Trap([]*halftone.Plate{pale, dark}, []Ink{{Darkness: .1}, {Darkness: .9}}, 5, mmPerInch)
		if err != nil {
			t.Fatal(err)
		}
		if got := float64(out[0].Cov[15*n+18]) / halftone.Full; got != c.want {
			t.Errorf("a speck of %g gives %.2f beside it, want %g", c.speck, got, c.want)
		}
	}
}

// Where a seam pixel between two tints prints more than either, and the other ink
// leaves it out, it is not drawn out to a streak; a tint spreads as dark as it is.
func TestTrapSeamOfTints(t *testing.T) {
	const n = 60
	side := func(x, y int) int { return x - 30 - int(5*math.Sin(float64(y)/9)) }
	pale := plate(n, n, func(x, y int) float64 {
		switch d := side(x, y); {
		case d < 0:
			return .6
		case d == 0:
			return .85
		}
		return 0
	})
	dark := plate(n, n, func(x, y int) float64 {
		switch d := side(x, y); {
		case x < 10 || d > 0:
			return 1
		}
		return 0
	})
	line := plate(n, n, func(x, y int) float64 { return one(side(x, y) != 0) })
	for name, c := range map[string]struct {
		over  *halftone.Plate
		under float64 // what comes beneath it
	}{
		"against an ink":                        {dark, .6},
		"against an ink that leaves out a seam": {line, 0},
	} {
		out, err := Trap([]*halftone.Plate{pale, c.over}, []Ink{{Darkness: .1}, {Darkness: .9}}, 6, mmPerInch)
		if err != nil {
			t.Fatal(err)
		}
		for y := 3; y < n-3; y++ {
			for x := range n {
				was, now := float64(pale.Cov[y*n+x])/halftone.Full, float64(out[0].Cov[y*n+x])/halftone.Full
				if now > max(was, .6)+1e-4 {
					t.Fatalf("%s: pixel %d, %d came to %.2f from %.2f", name, x, y, now, was)
				}
				if d := side(x, y); c.under > 0 && d > 0 && d < 4 && math.Abs(now-c.under) > 1e-4 {
					t.Fatalf("%s: pixel %d, %d has %.2f beneath it, want %.2f", name, x, y, now, c.under)
				}
			}
		}
	}
}
