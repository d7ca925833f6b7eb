package spread

import (
	"fmt"
	"math"
	"testing"

	"platewright/halftone"
)

func mustFind(t testing.TB, p *halftone.Plate, ppi float64, l Limits) []Thin {
	t.Helper()
	f, err := Find(p, ppi, l)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func negative(p *halftone.Plate) *halftone.Plate {
	n := &halftone.Plate{Width: p.Width, Height: p.Height, Cov: make([]uint16, len(p.Cov))}
	for i, c := range p.Cov {
		n.Cov[i] = halftone.Full - c
	}
	return n
}

// A line of any width, angle and place is found where it is below the limit,
// as one place in one box, its width right to a quarter of a pixel.
func TestFindLine(t *testing.T) {
	const n, ppi = 100, 254.0 // 10 pixels a millimetre
	for _, width := range []float64{1.3, 2, 2.6, 3.5, 4.5, 6} {
		for deg := 0.0; deg < 180; deg += 22.5 {
			sin, cos := math.Sincos(deg * math.Pi / 180)
			p := drawn(n, n, func(x, y float64) bool {
				u, v := (x-50.3)*cos+(y-49.8)*sin, (y-49.8)*cos-(x-50.3)*sin
				return math.Abs(u) < 30 && math.Abs(v) < width/2
			})
			for _, gap := range []bool{false, true} {
				name := fmt.Sprintf("width %g at %g°, gap %v", width, deg, gap)
				q, kind, limits := p, Line, Limits{Line: 0.35, Dot: 0.35}
				if gap {
					q, kind, limits = negative(p), Gap, Limits{Gap: 0.35, Hole: 0.35}
				}
				found := mustFind(t, q, ppi, limits)
				if width > 3.75 {
					if len(found) != 0 {
						t.Errorf("%s: found %v, want nothing", name, found)
					}
					continue
				} else if width > 3.25 {
					continue
				}
				if len(found) != 1 || found[0].Kind != kind {
					t.Errorf("%s: found %v, want one %v", name, found, kind)
					continue
				}
				f := found[0]
				if math.Abs(f.Width*10-width) > 0.25 {
					t.Errorf("%s: width %.3f mm", name, f.Width)
				}
				if math.Abs(f.X+f.Wd/2-5.03) > 0.1 || math.Abs(f.Y+f.Ht/2-4.98) > 0.1 {
					t.Errorf("%s: box %+v is not centered on the line", name, f)
				}
				if long := math.Hypot(f.Wd, f.Ht); math.Abs(long-6) > 0.6 {
					t.Errorf("%s: box %+v is not as long as the line", name, f)
				}
			}
		}
	}
}

// Spots are told from lines and from large areas.
func TestFindDot(t *testing.T) {
	const n, ppi = 60, 254.0
	for _, d := range []float64{2, 3, 3.2, 4, 6, 12} {
		for _, off := range []float64{0, 0.3, 0.5} {
			p := drawn(n, n, func(x, y float64) bool { return math.Hypot(x-30-off, y-30.2) < d/2 })
			for _, hole := range []bool{false, true} {
				q, kind, limits := p, Dot, Limits{Line: 0.35, Dot: 0.35}
				if hole {
					q, kind, limits = negative(p), Hole, Limits{Gap: 0.35, Hole: 0.35}
				}
				found := mustFind(t, q, ppi, limits)
				if d > 3.75 && len(found) != 0 || d < 3.25 && (len(found) != 1 || found[0].Kind != kind) {
					t.Errorf("diameter %g px, off %g: found %+v", d, off, found)
				} else if d < 3.25 && math.Abs(found[0].Width*10-d) > 0.4 {
					t.Errorf("diameter %g px, off %g: width %.3f mm", d, off, found[0].Width)
				}
			}
		}
	}
}

// Corners and tips of large shapes are not too thin; a neck and the gap between
// two disks are.
func TestFindShapes(t *testing.T) {
	const n, ppi = 120, 254.0
	limits := Limits{Line: 0.5, Gap: 0.5, Dot: 0.5, Hole: 0.5}
	for deg := 0.0; deg < 90; deg += 11.25 {
		sin, cos := math.Sincos(deg * math.Pi / 180)
		turned := func(f func(u, v float64) bool) *halftone.Plate {
			return drawn(n, n, func(x, y float64) bool { return f((x-60)*cos+(y-60)*sin, (y-60)*cos-(x-60)*sin) })
		}
		for name, c := range map[string]struct {
			p    *halftone.Plate
			want []Kind
		}{
			"square":   {turned(func(u, v float64) bool { return math.Abs(u) < 25 && math.Abs(v) < 25 }), nil},
			"triangle": {turned(func(u, v float64) bool { return v > -20 && math.Abs(u) < (30-v)/2.2 }), nil},
			"ring":     {turned(func(u, v float64) bool { r := math.Hypot(u, v); return r > 20 && r < 30 }), nil},
			"neck": {turned(func(u, v float64) bool {
				return math.Abs(v) < 20 && math.Abs(u) < 30 && math.Abs(v) < 1.5+u*u/20
			}), []Kind{Line}},
			"two disks": {turned(func(u, v float64) bool { return math.Hypot(math.Abs(u)-18.5, v) < 17 }), []Kind{Gap}},
			"thin ring": {turned(func(u, v float64) bool { r := math.Hypot(u, v); return r > 20 && r < 22.5 }), []Kind{Line}},
		} {
			found := mustFind(t, c.p, ppi, limits)
			ok := len(found) == len(c.want)
			for i := range c.want {
				ok = ok && found[i].Kind == c.want[i]
			}
			if !ok {
				t.Errorf("%s at %g°: found %+v, want %v", name, deg, found, c.want)
			}
		}
	}
}

// A tint's lines are judged as a solid's, and limits of 0 look for nothing.
func TestFindTintAndNoLimits(t *testing.T) {
	p := plate(50, 50, func(x, y int) float64 { return 0.3 * one(x >= 20 && x < 22 && y > 10 && y < 40) })
	if f := mustFind(t, p, 254, Limits{Line: 0.35}); len(f) != 1 || math.Abs(f[0].Width-0.2) > 0.03 {
		t.Errorf("a tint's line of 0.2 mm: %+v", f)
	}
	if f := mustFind(t, p, 254, Limits{}); len(f) != 0 {
		t.Errorf("without limits: %+v", f)
	}
}
