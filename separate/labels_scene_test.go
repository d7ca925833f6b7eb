package separate

import (
	"math"
	"testing"
)

// scenePalette are the colors of the scenes, by label. The middle gray and the
// half-strong colors tempt: antialiased edges of the others pass through them.
var scenePalette = [][3]uint8{
	{255, 255, 255}, {0, 0, 0}, {214, 52, 40}, {30, 90, 200},
	{250, 200, 30}, {128, 128, 128}, {235, 150, 145}, {20, 130, 70},
}

// nearestOf assigns the nearest color of a palette.
func nearestOf(palette [][3]uint8) func([3]uint8) uint16 {
	return func(c [3]uint8) uint16 {
		best, least := 0, math.MaxInt
		for i, q := range palette {
			d := 0
			for k := range c {
				e := int(c[k]) - int(q[k])
				d += e * e
			}
			if d < least {
				best, least = i, d
			}
		}
		return uint16(best)
	}
}

// sceneCov gives each label its index in binary as solids of three inks.
func sceneCov() [][]uint16 {
	cov := make([][]uint16, len(scenePalette))
	for i := range cov {
		cov[i] = make([]uint16, 3)
		for k := range cov[i] {
			if i>>k&1 == 1 {
				cov[i][k] = 0xffff
			}
		}
	}
	return cov
}

// A scene gives the label at a point; pixel x covers x … x+1.
type scene func(x, y float64) int

// render draws a scene with area coverage by 16 × 16 samples a pixel, blended in
// encoded values.
func render(w, h int, s scene) []uint8 {
	const n = 16
	pix := make([]uint8, 0, 3*w*h)
	for y := range h {
		for x := range w {
			var sum [3]float64
			for j := range n {
				for i := range n {
					c := scenePalette[s(float64(x)+(float64(i)+.5)/n, float64(y)+(float64(j)+.5)/n)]
					for k := range sum {
						sum[k] += float64(c[k])
					}
				}
			}
			for k := range sum {
				pix = append(pix, uint8(sum[k]/(n*n)+.5))
			}
		}
	}
	return pix
}

func labelScene(w, h int, s scene) *Labels {
	return NewLabels(render(w, h, s), w, h, nearestOf(scenePalette), sceneCov(), 0)
}

// film gives the labels of a whole film.
func film(l *Labels, w, h int) [][]uint16 {
	rows := make([][]uint16, h)
	for y := range rows {
		rows[y] = make([]uint16, w)
		l.FilmRow(rows[y], y, w, h)
	}
	return rows
}

// halfPlane is label a where (x, y) lies before the line through px, py whose
// normal points at angle deg, else b.
func halfPlane(px, py, deg float64, a, b int) scene {
	nx, ny := math.Cos(deg*math.Pi/180), math.Sin(deg*math.Pi/180)
	return func(x, y float64) int {
		if (x-px)*nx+(y-py)*ny < 0 {
			return a
		}
		return b
	}
}

// strip is label a within width/2 of a line through px, py with normal deg.
func strip(px, py, deg, width float64, a, b int) scene {
	nx, ny := math.Cos(deg*math.Pi/180), math.Sin(deg*math.Pi/180)
	return func(x, y float64) int {
		if math.Abs((x-px)*nx+(y-py)*ny) < width/2 {
			return a
		}
		return b
	}
}

// strays counts film pixels of a label that the scene has nowhere.
func strays(rows [][]uint16, allowed ...uint16) int {
	n := 0
	for _, r := range rows {
	next:
		for _, v := range r {
			for _, a := range allowed {
				if v == a {
					continue next
				}
			}
			n++
		}
	}
	return n
}

var sceneScales = []float64{4, 3.17, 1, 8, 1.5, 0.6}

func scaled(n int, f float64) int { return int(math.Round(float64(n) * f)) }

// The edge between two flats lies within .15 artwork pixel of the truth at any
// angle, and no third label shows.
func TestLabelsEdge(t *testing.T) {
	const w, h = 48, 40
	worst := 0.0
	for _, pair := range [][2]int{{0, 1}, {0, 2}, {3, 2}, {4, 1}, {5, 0}} {
		for deg := 0.0; deg < 360; deg += 11.3 {
			l := labelScene(w, h, halfPlane(24.31, 20.17, deg, pair[0], pair[1]))
			for _, f := range sceneScales {
				fw, fh := scaled(w, f), scaled(h, f)
				rows := film(l, fw, fh)
				if n := strays(rows, uint16(pair[0]), uint16(pair[1])); n != 0 {
					t.Errorf("labels %v, %.1f°, scale %g: %d pixels of a third label", pair, deg, f, n)
				}
				if f < 3 {
					continue
				}
				nx, ny := math.Cos(deg*math.Pi/180), math.Sin(deg*math.Pi/180)
				for y := range fh {
					for x := range fw {
						d := ((float64(x)+.5)*w/float64(fw)-24.31)*nx + ((float64(y)+.5)*h/float64(fh)-20.17)*ny
						want := uint16(pair[0])
						if d >= 0 {
							want = uint16(pair[1])
						}
						ax, ay := (float64(x)+.5)*w/float64(fw), (float64(y)+.5)*h/float64(fh)
						if rows[y][x] != want && ax > 2 && ay > 2 && ax < w-2 && ay < h-2 {
							worst = max(worst, math.Abs(d))
						}
					}
				}
			}
		}
	}
	t.Logf("largest edge error %.3f artwork pixels", worst)
	if worst > .15 {
		t.Errorf("edge is off by %.3f artwork pixels, want at most .15", worst)
	}
}

// A thin line has its true width to a tenth of a pixel, is continuous, in the
// right place, and has no third label, whatever its angle.
func TestLabelsThinLine(t *testing.T) {
	const w, h, px, py = 56, 48, 31.37, 26.21
	for _, width := range []float64{.3, .5, .7, 1, 1.3, 1.6, 2, 3} {
		worst, off := 0.0, 0.0
		for _, pair := range [][2]uint16{{1, 0}, {0, 1}, {2, 0}} {
			for deg := 0.0; deg < 180; deg += 12.2 {
				line := strip(px, py, deg, width, int(pair[0]), int(pair[1]))
				l := labelScene(w, h, func(x, y float64) int {
					if x < 6 && y < 6 {
						return int(pair[0]) // the line's color as a flat
					}
					return line(x, y)
				})
				for _, f := range []float64{8, 4, 3.17, 1} {
					rows := film(l, scaled(w, f), scaled(h, f))
					if n := strays(rows, pair[0], pair[1]); n != 0 {
						t.Errorf("width %g, %.1f°, scale %g: %d pixels of a third label", width, deg, f, n)
					}
					if !crosses(rows, pair[0], 13*f, deg) {
						t.Errorf("labels %v, width %g, %.1f°, scale %g: the line is broken", pair, width, deg, f)
					}
					if f < 3 {
						continue
					}
					got, far := lineWidth(rows, pair[0], f, deg, px, py)
					grid := 0.0 // a line along the film's rows has a whole number of them
					if math.Mod(deg, 90) == 0 {
						grid = 1 / f
					} else if width*f < 2 {
						grid = .06
					}
					worst = max(worst, math.Abs(got-width)-grid)
					off = max(off, far-width/2)
				}
			}
		}
		t.Logf("width %g: mean width wrong by up to %.3f, outline by up to %.3f artwork pixels", width, worst, off)
		if worst > .1 {
			t.Errorf("width %g: mean width off by %.3f pixels, want at most .1", width, worst)
		}
		if off > .28 {
			t.Errorf("width %g: outline off by %.3f pixels, want at most .28", width, off)
		}
	}
}

// lineWidth measures the mean width of a line in artwork pixels within 12
// pixels of its middle, and how far its pixels reach from the middle line.
func lineWidth(rows [][]uint16, label uint16, f, deg, px, py float64) (mean, far float64) {
	nx, ny := math.Cos(deg*math.Pi/180), math.Sin(deg*math.Pi/180)
	n := 0
	for y, r := range rows {
		for x, v := range r {
			dx, dy := (float64(x)+.5)*56/float64(len(r))-px, (float64(y)+.5)*48/float64(len(rows))-py
			along, across := -dx*ny+dy*nx, dx*nx+dy*ny
			if math.Abs(along) < 12 && math.Abs(across) < 8 && v == label {
				n++
				far = max(far, math.Abs(across))
			}
		}
	}
	return float64(n) / (f * f) / 24, far
}

// crosses tells whether pixels of the label join, by sides and corners, across
// the middle of the film.
func crosses(rows [][]uint16, label uint16, margin, deg float64) bool {
	h, w := len(rows), len(rows[0])
	m := int(margin)
	steep := math.Abs(math.Cos(deg*math.Pi/180)) > math.Sqrt(.5) // the line runs down
	seen := make([]bool, w*h)
	var stack []int
	mx, my := m, 0
	if steep {
		mx, my = 0, m
	}
	push := func(x, y int) {
		if x >= mx && x < w-mx && y >= my && y < h-my && rows[y][x] == label && !seen[y*w+x] {
			seen[y*w+x] = true
			stack = append(stack, y*w+x)
		}
	}
	for i := 0; i < w && steep; i++ {
		push(i, m)
	}
	for i := 0; i < h && !steep; i++ {
		push(m, i)
	}
	for len(stack) > 0 {
		x, y := stack[len(stack)-1]%w, stack[len(stack)-1]/w
		stack = stack[:len(stack)-1]
		if steep && y == h-m-1 || !steep && x == w-m-1 {
			return true
		}
		for dy := -1; dy <= 1; dy++ {
			for dx := -1; dx <= 1; dx++ {
				push(x+dx, y+dy)
			}
		}
	}
	return false
}
