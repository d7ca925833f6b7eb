package halftone

import (
	"bytes"
	"math"
	"math/rand/v2"
	"sync"
	"testing"
)

// drawn renders inside(x, y), in pixels, as a plate anti-aliased by area.
func drawn(w, h int, inside func(x, y float64) float64) *Plate {
	const n = 12 // samples a side
	p := &Plate{Width: w, Height: h, Cov: make([]uint16, w*h)}
	for y := range h {
		for x := range w {
			sum := 0.0
			for j := range n {
				for i := range n {
					sum += inside(float64(x)+(float64(i)+0.5)/n, float64(y)+(float64(j)+0.5)/n)
				}
			}
			p.Cov[y*w+x] = uint16(math.Round(sum / (n * n) * Full))
		}
	}
	return p
}

func step(on bool) float64 {
	if on {
		return 1
	}
	return 0
}

// A straight edge between solid and nothing comes out hard, at its place
// within half a film pixel, whatever its angle and its place in the pixel.
func TestEdgeHardAndInPlace(t *testing.T) {
	const n = 30
	s := mustScreen(t, Spec{Ruling: 45, Angle: 22.5, DPI: 1200})
	line := mustScreen(t, Spec{Dot: None, DPI: 1200})
	for deg := 0.0; deg < 360; deg += 11.25 {
		for _, off := range []float64{0, 0.23, 0.5, 0.81} {
			sin, cos := math.Sincos(deg * math.Pi / 180)
			beyond := func(x, y float64) float64 { return (x-n/2-off)*cos + (y-n/2-off)*sin }
			p := drawn(n, n, func(x, y float64) float64 { return step(beyond(x, y) > 0) })
			for _, zoom := range []float64{1, 3.17, 4, 8} {
				for _, screen := range []*Screen{s, line} {
					w := int(math.Round(n * zoom))
					pix, _, _ := bitmap(mustRaster(t, p, w, w, screen, Options{}))
					worst := 0.0
					margin := int(math.Ceil(2 * zoom)) // beyond the picture an edge is not known
					for y := margin; y < w-margin; y++ {
						for x := margin; x < w-margin; x++ {
							d := beyond((float64(x)+0.5)*n/float64(w), (float64(y)+0.5)*n/float64(w))
							if (d > 0) != (pix[y*w+x] == 1) {
								worst = max(worst, math.Abs(d))
							}
						}
					}
					if limit := 0.5 / zoom; worst > limit {
						t.Errorf("zoom %g, edge at %g°, off %g, %v: a film pixel wrong %.3f plate pixels from the edge, limit %.3f", zoom, deg, off, screen.Spec().Dot, worst, limit)
					}
				}
			}
		}
	}
}

// Lines of solid ink a pixel wide, and gaps in a solid, stay in one piece and
// keep their area.
func TestThinLinesStay(t *testing.T) {
	const n, zoom = 40, 4
	s := mustScreen(t, Spec{Ruling: 45, Angle: 22.5, DPI: 1200})
	for _, width := range []float64{1, 1.4, 2, 3} {
		for deg := 0.0; deg < 180; deg += 7.5 {
			for _, off := range []float64{0, 0.25, 0.5, 0.7} {
				sin, cos := math.Sincos(deg * math.Pi / 180)
				for _, gap := range []bool{false, true} {
					p := drawn(n, n, func(x, y float64) float64 {
						return step(math.Abs((x-n/2-off)*sin-(y-n/2-off)*cos) < width/2 != gap)
					})
					pix, w, h := bitmap(mustRaster(t, p, n*zoom, n*zoom, s, Options{}))
					const border = 2 * zoom // beyond the picture a line is not known
					for i := range pix {
						if x, y := i%w, i/w; min(x, y, w-1-x, h-1-y) < border {
							pix[i] = uint8(step(gap))
						}
					}
					if gap {
						for i := range pix {
							pix[i] ^= 1
						}
					}
					if !connects(pix, w, h) {
						t.Errorf("width %g at %g°, off %g, gap %v: broken", width, deg, off, gap)
					}
					var want float64
					for i, c := range p.Cov {
						if x, y := i%n, i/n; min(x, y, n-1-x, n-1-y) >= border/zoom {
							want += math.Abs(step(gap) - float64(c)/Full)
						}
					}
					got := mean(pix) * n * n
					if math.Abs(got/want-1) > 0.4 {
						t.Errorf("width %g at %g°, off %g, gap %v: area %.3f of the line's", width, deg, off, gap, got/want)
					}
				}
			}
		}
	}
}

// connects reports whether all ink, joined along sides and corners, is one
// patch.
func connects(pix []uint8, w, h int) bool {
	seen := make([]bool, len(pix))
	patches := 0
	for start, p := range pix {
		if p == 0 || seen[start] {
			continue
		}
		patches++
		seen[start] = true
		for stack := []int{start}; len(stack) > 0; {
			i := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			for y := max(i/w-1, 0); y <= min(i/w+1, h-1); y++ {
				for x := max(i%w-1, 0); x <= min(i%w+1, w-1); x++ {
					if j := y*w + x; pix[j] == 1 && !seen[j] {
						seen[j] = true
						stack = append(stack, j)
					}
				}
			}
		}
	}
	return patches == 1
}

// A soft change of tone is screened, however steep, if it takes five pixels or
// more; its tone is kept.
func TestGradientScreened(t *testing.T) {
	const n, zoom = 120, 4
	s := mustScreen(t, Spec{Ruling: 60, Angle: 22.5, DPI: 1200})
	for _, length := range []float64{7, 12, 40, 119} {
		p := drawn(n, n, func(x, y float64) float64 { return min(max((x-0.5)/length, 0), 1) })
		pix, w, h := bitmap(mustRaster(t, p, n*zoom, n*zoom, s, Options{}))
		var want float64
		for _, c := range p.Cov {
			want += float64(c) / Full / (n * n)
		}
		if got := mean(pix); math.Abs(got-want) > 0.003 {
			t.Errorf("gradient over %g pixels: tone %.4f, want %.4f", length, got, want)
		}
		// Along the middle of the gradient both ink and paper are met.
		x, ink := int((length/2+0.5)*zoom), 0
		for y := range h {
			ink += int(pix[y*w+x])
		}
		if ink < h/4 || ink > h*3/4 {
			t.Errorf("gradient over %g pixels: %d of %d pixels ink along its middle: it was cut", length, ink, h)
		}
	}
}

// A tint's dots do not change next to a solid or to nothing, except on the
// outline itself.
func TestTintBesideSolid(t *testing.T) {
	const n, zoom = 64, 4
	s := mustScreen(t, Spec{Ruling: 60, Angle: 22.5, DPI: 1200})
	p := drawn(n, n, func(x, y float64) float64 {
		switch {
		case x < 20.4:
			return 1
		case x < 44.7:
			return 0.3
		}
		return 0
	})
	pix, w, h := bitmap(mustRaster(t, p, n*zoom, n*zoom, s, Options{}))
	tint := screenFlat(t, s, w, h, percent(30))
	for y := range h {
		for x := range w {
			want := tint[y*w+x]
			switch at := (float64(x) + 0.5) / zoom; {
			case at < 19.5:
				want = 1
			case at > 46:
				want = 0
			case at < 21.5, at > 43.5:
				continue
			}
			if pix[y*w+x] != want {
				t.Fatalf("pixel %d, %d is %d, want %d", x, y, pix[y*w+x], want)
			}
		}
	}
}

// mixed is a picture with tone, line work and flat parts.
func mixed(w, h int) *Plate {
	rng := rand.New(rand.NewPCG(1, 2))
	p := &Plate{Width: w, Height: h, Cov: make([]uint16, w*h)}
	for y := range h {
		for x := range w {
			var c float64
			switch {
			case x/40%3 == 1:
				c = step(math.Hypot(float64(x%40-20), float64(y%40-20)) < 12) * Full
			case x/40%3 == 2:
				c = float64(x*131+y*977) / float64(w*131+h*977) * Full
			case y > h/2:
				c = float64(rng.IntN(Full + 1))
			}
			p.Cov[y*w+x] = uint16(c)
		}
	}
	return p
}

// However rows are asked for, the bytes are the same, pad bits are 0, and
// nothing outside the rows is touched.
func TestRowsAnyOrder(t *testing.T) {
	comp, err := Compensation(nil, 5, 95)
	if err != nil {
		t.Fatal(err)
	}
	for _, size := range [][2]int{{997, 731}, {250, 190}, {130, 61}, {40, 333}, {64, 64}} {
		for _, dot := range []Dot{Round, None} {
			s := mustScreen(t, Spec{Ruling: 45, Angle: 22.5, DPI: 600, Dot: dot})
			r := mustRaster(t, mixed(250, 190), size[0], size[1], s, Options{Compensate: comp})
			w, h := r.Size()
			stride := (w+7)/8 + 3
			fresh := func() []byte { return bytes.Repeat([]byte{0xA5}, stride*h) }
			want := fresh()
			r.Rows(want, stride, 0, h)
			for y := range h {
				row := want[y*stride : (y+1)*stride]
				if w%8 != 0 && row[w/8]<<(w%8) != 0 {
					t.Fatalf("%d × %d: pad bits of row %d are set", w, h, y)
				}
				if !bytes.Equal(row[(w+7)/8:], []byte{0xA5, 0xA5, 0xA5}) {
					t.Fatalf("%d × %d: bytes behind row %d are touched", w, h, y)
				}
			}
			got := fresh()
			var wg sync.WaitGroup
			rng := rand.New(rand.NewPCG(3, 4))
			for y := 0; y < h; {
				end := min(y+1+rng.IntN(37), h)
				wg.Add(1)
				go func(y0, y1 int) {
					defer wg.Done()
					r.Rows(got[y0*stride:], stride, y0, y1)
				}(y, end)
				y = end
			}
			wg.Wait()
			if !bytes.Equal(got, want) {
				t.Errorf("%d × %d, %v: rows asked for in pieces differ", w, h, dot)
			}
		}
	}
}

// Enlarging a picture whose pixels are already film pixels changes nothing: a
// Tone at film size is screened as Screen.Row does.
func TestToneAtFilmSize(t *testing.T) {
	s := mustScreen(t, Spec{Ruling: 45, Angle: 22.5, DPI: 600})
	p := &Plate{Width: 333, Height: 50, Cov: make([]uint16, 333*50)}
	for i := range p.Cov {
		p.Cov[i] = uint16(5000 + i*3)
	}
	r := mustRaster(t, p, 333, 50, s, Options{})
	got, want := make([]byte, 42*50), make([]byte, 42*50)
	r.Rows(got, 42, 0, 50)
	for y := range 50 {
		s.Row(want[y*42:], p.Cov[y*333:(y+1)*333], y)
	}
	if !bytes.Equal(got, want) {
		t.Error("Raster and Screen.Row differ")
	}
}

// A film coarser than the plate keeps the tone and the place of edges.
func TestReduction(t *testing.T) {
	const n = 300
	s := mustScreen(t, Spec{Ruling: 20, Angle: 22.5, DPI: 300})
	p := drawn(n, n, func(x, y float64) float64 { return 0.37 + 0.2*math.Sin(x/3)*math.Sin(y/5) })
	pix, _, _ := bitmap(mustRaster(t, p, 210, 170, s, Options{}))
	if got := mean(pix); math.Abs(got-0.37) > 0.01 {
		t.Errorf("tone %.4f, want 0.37", got)
	}
	p = drawn(n, n, func(x, y float64) float64 { return step(math.Hypot(x-150, y-150) < 100) })
	disk, w, h := bitmap(mustRaster(t, p, 210, 170, s, Options{}))
	for y := range h {
		for x := range w {
			d := math.Hypot((float64(x)+0.5)*n/210-150, (float64(y)+0.5)*n/170-150) - 100
			if math.Abs(d) > 0.9 && (d < 0) != (disk[y*w+x] == 1) {
				t.Fatalf("film pixel %d, %d, %.2f plate pixels from the edge, is %d", x, y, d, disk[y*w+x])
			}
		}
	}
}

// Means over areas, by hand: 3 pixels onto 2 take 1½ each.
func TestReduceFigures(t *testing.T) {
	p := &Plate{Width: 3, Height: 1, Cov: []uint16{300, 600, 1200}}
	var dst [2]uint16
	reduce(p, 2, 1).Row(dst[:], 0)
	if dst != [2]uint16{400, 1000} {
		t.Errorf("got %v, want [400 1000]", dst)
	}
	q := &Plate{Width: 1, Height: 5, Cov: []uint16{100, 200, 300, 400, Full}}
	var one [1]uint16
	reduce(q, 1, 1).Row(one[:], 0)
	if want := uint16((100 + 200 + 300 + 400 + Full) / 5); one[0] != want {
		t.Errorf("got %d, want %d", one[0], want)
	}
}

// The tone of a picture passes through enlargement, screen and compensation.
func TestCompensatedTone(t *testing.T) {
	curve, err := NewCurve([][2]float64{{20, 30}, {50, 68}, {80, 93}})
	if err != nil {
		t.Fatal(err)
	}
	comp, err := Compensation(curve, 0, 100)
	if err != nil {
		t.Fatal(err)
	}
	s := mustScreen(t, Spec{Ruling: 45, Angle: 22.5, DPI: 600})
	for _, c := range [][2]float64{{30, 20}, {68, 50}, {93, 80}, {0, 0}, {100, 100}} { // wanted print, film
		r := mustRaster(t, flat{150, 150, percent(c[0])}, 600, 600, s, Options{Compensate: comp})
		pix, _, _ := bitmap(r)
		if got := 100 * mean(pix); math.Abs(got-c[1]) > 0.2 {
			t.Errorf("print %g %%: film has %.2f %%, want %g", c[0], got, c[1])
		}
	}
}

func TestNewRasterErrors(t *testing.T) {
	s := mustScreen(t, Spec{Dot: None, DPI: 600})
	for name, f := range map[string]func() (*Raster, error){
		"empty plate": func() (*Raster, error) { return NewRaster(&Plate{}, 9, 9, s, Options{}) },
		"short plate": func() (*Raster, error) {
			return NewRaster(&Plate{Width: 2, Height: 2, Cov: make([]uint16, 3)}, 9, 9, s, Options{})
		},
		"no film":   func() (*Raster, error) { return NewRaster(flat{2, 2, 0}, 0, 9, s, Options{}) },
		"no screen": func() (*Raster, error) { return NewRaster(flat{2, 2, 0}, 9, 9, nil, Options{}) },
	} {
		if _, err := f(); err == nil {
			t.Errorf("%s: want an error", name)
		}
	}
}
