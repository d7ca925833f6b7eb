package halftone

import (
	"image"
	"math"
	"testing"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// A rim of tint beside a solid prints the ink it has, whichever way it runs and
// wherever in the pixels it begins; a rim taken for an edge is off by 0.14 or more.
func TestRimKeepsTint(t *testing.T) {
	const n, zoom = 32, 8
	s := mustScreen(t, Spec{Ruling: 60, Angle: 22.5, DPI: 1200})
	for _, tint := range []float64{0.3, 0.7} {
		for _, width := range []float64{2.5, 3, 3.5, 4} {
			for deg := 0.0; deg < 180; deg += 22.5 {
				sin, cos := math.Sincos(deg * math.Pi / 180)
				var got, want, there float64 // film pixels
				for _, off := range []float64{0, 0.25, 0.5, 0.75} {
					beyond := func(x, y float64) float64 { return (x-n/2-off)*cos + (y-n/2-off)*sin }
					p := drawn(n, n, func(x, y float64) float64 {
						d := beyond(x, y)
						return step(d < 0) + tint*step(d >= 0 && d < width)
					})
					pix, w, _ := bitmap(mustRaster(t, p, n*zoom, n*zoom, s, Options{}))
					for i, ink := range pix {
						d := beyond((float64(i%w)+0.5)/zoom, (float64(i/w)+0.5)/zoom)
						if d < -2 || d > width+2 { // beyond what the pixels of the rim reach
							continue
						}
						got += float64(ink)
						want += step(d < 0)
						if d >= 0 && d < width {
							want += tint
							there++
						}
					}
				}
				if off := (got - want) / there; math.Abs(off) > 0.1 {
					t.Errorf("rim of %g %%, %g wide at %g°: tone off by %.2f", 100*tint, width, deg, off)
				}
			}
		}
	}
}

// What a trap of 0.5 mm, 2.5 pixels at 127 ppi, leaves under a tint of 50 %, and one
// of 2 pixels: half of the film is ink all the way to the rim's last whole pixel.
func TestTrapUnderTint(t *testing.T) {
	const n, zoom = 48, 8
	s := mustScreen(t, Spec{Ruling: 60, Angle: 22.5, DPI: 1016})
	for _, rim := range [][]float64{{50, 50}, {50, 50, 25}} {
		for _, down := range []bool{false, true} {
			p := &Plate{Width: n, Height: n, Cov: make([]uint16, n*n)}
			for i := range p.Cov {
				x, y := i%n, i/n
				if down {
					x, y = y, x
				}
				if x < 20 {
					p.Cov[i] = Full
				} else if x < 20+len(rim) {
					p.Cov[i] = percent(rim[x-20])
				}
			}
			pix, w, _ := bitmap(mustRaster(t, p, n*zoom, n*zoom, s, Options{}))
			for _, at := range []float64{20.5, 21, 21.4} {
				ink := 0
				for k := range w {
					i := k*w + int(at*zoom)
					if down {
						i = int(at*zoom)*w + k
					}
					ink += int(pix[i])
				}
				if share := float64(ink) / float64(w); math.Abs(share-0.5) > 0.2 {
					t.Errorf("rim %v, down %v: at %g pixels %.0f %% ink, want about 50", rim, down, at, 100*share)
				}
			}
		}
	}
}

// An edge softened over up to three pixels, by enlargement or by a blur, comes
// out hard: no dots beside it.
func TestSoftEdgeHard(t *testing.T) {
	const n, zoom = 30, 6
	s := mustScreen(t, Spec{Ruling: 45, Angle: 22.5, DPI: 1200})
	for name, soft := range map[string]func(d float64) float64{
		"linear over 2": func(d float64) float64 { return min(max(0.5+d/2, 0), 1) },
		"cubic over 2":  func(d float64) float64 { d = min(max(0.5+d/2, 0), 1); return d * d * (3 - 2*d) },
		"blur of 0.5":   func(d float64) float64 { return 0.5 * math.Erfc(-d/0.5/math.Sqrt2) },
	} {
		for deg := 0.0; deg < 360; deg += 22.5 {
			for _, off := range []float64{0, 0.23, 0.5} {
				sin, cos := math.Sincos(deg * math.Pi / 180)
				beyond := func(x, y float64) float64 { return (x-n/2-off)*cos + (y-n/2-off)*sin }
				p := drawn(n, n, func(x, y float64) float64 { return soft(beyond(x, y)) })
				pix, w, h := bitmap(mustRaster(t, p, n*zoom, n*zoom, s, Options{}))
				for i, ink := range pix {
					x, y := i%w, i/w
					if min(x, y, w-1-x, h-1-y) < 3*zoom { // beyond the picture an edge is not known
						continue
					}
					if d := beyond((float64(x)+0.5)/zoom, (float64(y)+0.5)/zoom); math.Abs(d) > 0.4 && (d > 0) != (ink == 1) {
						t.Fatalf("%s at %g°, off %g: a film pixel %.2f plate pixels from the edge is wrong", name, deg, off, d)
					}
				}
			}
		}
	}
}

// Where strokes of small type meet, no pixel is taken for a tint.
func TestTypeIsNoTint(t *testing.T) {
	s := mustScreen(t, Spec{Ruling: 45, Angle: 22.5, DPI: 1200})
	for name, ttf := range map[string][]byte{"regular": goregular.TTF, "bold": gobold.TTF} {
		face, err := opentype.Parse(ttf)
		if err != nil {
			t.Fatal(err)
		}
		for _, em := range []float64{12.5, 15, 19, 25, 38, 75} { // pixels: 6 … 18 points at 150 ppi, 9 and 18 at 300
			set, err := opentype.NewFace(face, &opentype.FaceOptions{Size: em, DPI: 72})
			if err != nil {
				t.Fatal(err)
			}
			line := int(em * 1.5)
			img := image.NewAlpha(image.Rect(0, 0, 28*line, 5*line))
			for i, text := range []string{"Sphinx of black quartz, judge my vow & wink", "the ferry @ pier 3: 24 fjords, 680 boxes", "HAMBURG KNOXVILLE WARSZAWA (AVMXYZ)?"} {
				d := font.Drawer{Dst: img, Src: image.Opaque, Face: set, Dot: fixed.P(line, (i+1)*line)}
				d.DrawString(text)
			}
			p := &Plate{Width: img.Rect.Dx(), Height: img.Rect.Dy()}
			for _, a := range img.Pix {
				p.Cov = append(p.Cov, uint16(a)*257)
			}
			st := newStrip(mustRaster(t, p, p.Width, p.Height, s, Options{}))
			falls, tints := 0, 0
			for y := range p.Height {
				row := st.settle(y)
				for x := range p.Width {
					fall := row.fall.from(x) & 1
					falls += int(fall)
					tints += int(fall &^ row.edge.from(x))
				}
			}
			if falls < 1000 || tints > 0 {
				t.Errorf("%s, %g pixels an em: %d of %d pixels on edges taken for a tint", name, em, tints, falls)
			}
		}
	}
}
