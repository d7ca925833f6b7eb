package spread

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"platewright/halftone"
)

// labelMap is a picture of labels.
type labelMap struct {
	w, h  int
	label []uint16
}

func (m *labelMap) Size() (w, h int) { return m.w, m.h }

func (m *labelMap) Row(dst []uint16, y int) { copy(dst, m.label[y*m.w:(y+1)*m.w]) }

// allOf gives label l the inks of its bits, solid.
func allOf(inks int) [][]uint16 {
	cov := make([][]uint16, 1<<inks)
	for l := range cov {
		cov[l] = make([]uint16, inks)
		for i := range inks {
			cov[l][i] = uint16(l>>i&1) * halftone.Full
		}
	}
	return cov
}

func drawMap(t *rapid.T, kinds int) *labelMap {
	m := &labelMap{w: rapid.IntRange(1, 150).Draw(t, "w"), h: rapid.IntRange(1, 60).Draw(t, "h")}
	for _, k := range blobs(m.w, m.h, kinds, rapid.Uint64().Draw(t, "map")) {
		m.label = append(m.label, uint16(k))
	}
	return m
}

func drawInks(t *rapid.T, n int) []Ink {
	inks := make([]Ink, n)
	for i := range inks {
		inks[i] = Ink{Darkness: rapid.Float64Range(0, 1).Draw(t, "darkness"), Opacity: rapid.Float64Range(0, 1).Draw(t, "opacity")}
	}
	return inks
}

// onFilm is the film of an ink, a byte a pixel.
func onFilm(b halftone.Bits) []uint8 {
	w, h := b.Size()
	stride := (w + 7) / 8
	packed, out := make([]byte, stride*h), make([]uint8, w*h)
	b.Rows(packed, stride, 0, h)
	for i := range out {
		x, y := i%w, i/w
		out[i] = packed[y*stride+x/8] >> (7 - x%8) & 1
	}
	return out
}

// Every film pixel is as the rule says, tried pixel by pixel.
func TestFlatsByRule(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 4).Draw(t, "inks")
		cov := allOf(n)
		m, inks := drawMap(t, len(cov)), drawInks(t, n)
		mm := rapid.Float64Range(0, 7).Draw(t, "trap") // a pixel is a millimetre
		f, err := NewFlats(m, cov, inks, mm, mmPerInch)
		if err != nil {
			t.Fatal(err)
		}
		at := func(x, y, ink int) bool {
			return x >= 0 && y >= 0 && x < m.w && y < m.h && cov[m.label[y*m.w+x]][ink] != 0
		}
		i := rapid.IntRange(0, n-1).Draw(t, "ink")
		under := func(i, o int) bool {
			switch {
			case o > i:
				return Under(inks[i], inks[o])
			case o < i:
				return !Under(inks[o], inks[i])
			}
			return false
		}
		goesBeneath := func(o int) bool { return under(i, o) }
		circle := func(q int) bool { // the third of three that go beneath each other
			for o := range n {
				if under(i, o) && under(o, q) && under(q, i) {
					return true
				}
			}
			return false
		}
		beneath := func(x, y int) bool { // without the ink, where it may be added
			for o := range n {
				if (goesBeneath(o) || circle(o)) && at(x, y, o) && !at(x, y, i) {
					return true
				}
			}
			return false
		}
		touches := func(x, y int) bool { // with the ink, beside one it goes beneath that is not here
			for d := range 9 {
				for o := range n {
					if at(x, y, i) && goesBeneath(o) && !at(x, y, o) && at(x+d%3-1, y+d/3-1, o) {
						return true
					}
				}
			}
			return false
		}
		got := onFilm(f.Bits(i))
		radius, err := pixels(mm, mmPerInch) // as rounded there
		if err != nil {
			t.Fatal(err)
		}
		reach := int(radius + .5)
		for k := range got {
			x, y := k%m.w, k/m.w
			want := at(x, y, i)
			if beneath(x, y) && radius >= .5 {
				for dy := -reach; dy <= reach; dy++ {
					for dx := -reach; dx <= reach; dx++ {
						if math.Hypot(float64(dx), float64(dy)) <= radius+.5 && touches(x+dx, y+dy) {
							want = true
						}
					}
				}
			}
			if (got[k] == 1) != want {
				t.Fatalf("ink %d, pixel %d, %d of %d × %d, trap %g: %d, want %v", i, x, y, m.w, m.h, mm, got[k], want)
			}
		}
		tone := f.Tone(i)
		row := make([]uint16, m.w)
		for y := range m.h {
			tone.Row(row, y)
			for x, v := range row {
				if v != uint16(got[y*m.w+x])*halftone.Full {
					t.Fatalf("pixel %d, %d: coverage %d and bit %d", x, y, v, got[y*m.w+x])
				}
			}
		}
	})
}

// Two inks that fill the sheet, one on top of the other in places: however one
// of them is shifted, by up to the trap's width, no pixel is bared.
func TestFlatsCoverShift(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cov := allOf(2)
		m, inks := drawMap(t, 3), drawInks(t, 2)
		for i := range m.label {
			m.label[i]++ // no bare paper
		}
		radius := rapid.IntRange(1, 9).Draw(t, "trap")
		f, err := NewFlats(m, cov, inks, float64(radius), mmPerInch)
		if err != nil {
			t.Fatal(err)
		}
		a, b := onFilm(f.Bits(0)), onFilm(f.Bits(1))
		for dy := -radius; dy <= radius; dy++ {
			for dx := -radius; dx <= radius; dx++ {
				if dx*dx+dy*dy > radius*radius {
					continue
				}
				for y := radius; y < m.h-radius; y++ {
					for x := radius; x < m.w-radius; x++ {
						if a[y*m.w+x]|b[(y-dy)*m.w+x-dx] == 0 {
							t.Fatalf("shift %d, %d bares pixel %d, %d", dx, dy, x, y)
						}
					}
				}
			}
		}
	})
}

// The same of three and four inks of any opacity that meet in points.
func TestFlatsCoverShiftAtPoints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.IntRange(3, 4).Draw(t, "inks")
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		m, inks := &labelMap{w: 70, h: 50}, make([]Ink, k)
		for i := range inks {
			inks[i] = Ink{rng.Float64(), rng.Float64()}
		}
		type site struct{ x, y, label int }
		sites := make([]site, 14)
		for i := range sites {
			sites[i] = site{rng.IntN(m.w), rng.IntN(m.h), 1<<rng.IntN(k) | (1<<rng.IntN(k))*(rng.IntN(3)/2)}
		}
		for y := range m.h {
			for x := range m.w {
				near := slices.MinFunc(sites, func(a, b site) int {
					return (a.x-x)*(a.x-x) + (a.y-y)*(a.y-y) - (b.x-x)*(b.x-x) - (b.y-y)*(b.y-y)
				})
				m.label = append(m.label, uint16(near.label))
			}
		}
		for range 3 { // lines, some narrower than the trap
			label, from, width := uint16(1<<rng.IntN(k)), rng.IntN(m.w), 1+rng.IntN(5)
			for y := range m.h {
				for x := from; x < min(m.w, from+width); x++ {
					m.label[y*m.w+x] = label
				}
			}
		}
		radius := 1 + rng.IntN(6)
		f, err := NewFlats(m, allOf(k), inks, float64(radius), mmPerInch)
		if err != nil {
			t.Fatal(err)
		}
		films := make([][]uint8, k)
		for i := range films {
			films[i] = onFilm(f.Bits(i))
		}
		for i := range k {
			for range 8 {
				dx, dy := rng.IntN(2*radius+1)-radius, rng.IntN(2*radius+1)-radius
				if dx*dx+dy*dy > radius*radius {
					continue
				}
				for y := radius; y < m.h-radius; y++ {
					for x := radius; x < m.w-radius; x++ {
						ink := films[i][(y-dy)*m.w+x-dx]
						for o := range k {
							if o != i {
								ink |= films[o][y*m.w+x]
							}
						}
						if ink == 0 {
							t.Fatalf("ink %d of %v, trap %d: shift %d, %d bares pixel %d, %d", i, inks, radius, dx, dy, x, y)
						}
					}
				}
			}
		}
	})
}

// Beneath a tint an ink is no darker than the tint, and a tint spreads as one.
func TestFlatsTints(t *testing.T) {
	cov := [][]uint16{{0, 0}, {halftone.Full, 0}, {0, 20000}, {9000, 0}, {0, halftone.Full}}
	m := &labelMap{w: 40, h: 2}
	for range m.h {
		for x := range m.w {
			m.label = append(m.label, []uint16{1, 2, 3, 4}[x/10])
		}
	}
	f, err := NewFlats(m, cov, []Ink{{Darkness: .2}, {Darkness: .9}}, 3, mmPerInch)
	if err != nil {
		t.Fatal(err)
	}
	row := make([]uint16, m.w)
	f.Tone(0).Row(row, 1)
	for x, want := range map[int]uint16{9: halftone.Full, 10: 20000, 12: 20000, 13: 0, 16: 0, 17: 9000, 19: 9000, 20: 9000, 30: 9000, 32: 9000, 33: 0} {
		if row[x] != want {
			t.Errorf("column %d: %d, want %d", x, row[x], want)
		}
	}
}

// Rows in any order are the same rows.
func TestFlatsAnyOrder(t *testing.T) {
	m := &labelMap{w: 211, h: 90}
	for _, k := range blobs(m.w, m.h, 8, 5) {
		m.label = append(m.label, uint16(k))
	}
	f, err := NewFlats(m, allOf(3), []Ink{{Darkness: .1}, {Darkness: .9, Opacity: .8}, {Darkness: .5}}, 5.5, mmPerInch)
	if err != nil {
		t.Fatal(err)
	}
	b := f.Bits(0)
	want := onFilm(b)
	row := make([]byte, 27)
	rng := rand.New(rand.NewPCG(1, 2))
	for range 300 {
		y := rng.IntN(m.h)
		b.Rows(row, len(row), y, y+1)
		for x := range m.w {
			if row[x/8]>>(7-x%8)&1 != want[y*m.w+x] {
				t.Fatalf("pixel %d, %d differs when its row is asked for alone", x, y)
			}
		}
	}
}

// Inks that lie over each other keep their outlines; where they only just do, the
// trap makes up what is lacking.
func TestFlatsOverprint(t *testing.T) {
	m := &labelMap{w: 60, h: 1}
	for x := range m.w {
		m.label = append(m.label, []uint16{1, 3, 2, 0, 1, 2}[x/10])
	}
	for x := 12; x < 20; x++ {
		m.label[x] = 2 // an overlap of 2 pixels, and from 20 on a wide one
	}
	for x := 20; x < 30; x++ {
		m.label[x] = 3
	}
	f, err := NewFlats(m, allOf(2), []Ink{{Darkness: .1}, {Darkness: .9}}, 4, mmPerInch)
	if err != nil {
		t.Fatal(err)
	}
	got := onFilm(f.Bits(0))
	for x, v := range got {
		want := x < 14 || x >= 20 && x < 30 || x >= 40 && x < 54
		if (v == 1) != want {
			t.Errorf("column %d is %d", x, v)
		}
	}
}

func BenchmarkFlats(b *testing.B) {
	// A strip of an A3 film at 1200 dpi, with a trap of 0.5 mm.
	m := &labelMap{w: 14031, h: 300}
	for y := range m.h {
		for x := range m.w {
			m.label = append(m.label, uint16((x/90+y/70)%4))
		}
	}
	f, err := NewFlats(m, allOf(2), []Ink{{Darkness: .1}, {Darkness: .9}}, .5, 1200)
	if err != nil {
		b.Fatal(err)
	}
	stride := (m.w + 7) / 8
	rows := make([]byte, stride*m.h)
	bits := f.Bits(0)
	b.SetBytes(int64(m.w * m.h))
	for b.Loop() {
		bits.Rows(rows, stride, 0, m.h)
	}
}

// A choked underbase stays a trap's width within the inks over it, keeps its own
// outline where it shows, and agrees with the plate that is choked.
func TestChoked(t *testing.T) {
	const n, mm = 80, 5
	cov := [][]uint16{{0, 0}, {halftone.Full, 0}, {halftone.Full, halftone.Full}}
	m := &labelMap{w: n, h: n}
	plates := []*halftone.Plate{{Width: n, Height: n}, {Width: n, Height: n}}
	for y := range n {
		for x := range n {
			l := uint16(0)
			if math.Hypot(float64(x-40), float64(y-40)) < 30 {
				l = 1 + uint16(x/40) // white on the left, ink over it on the right
			}
			m.label = append(m.label, l)
			for i := range plates {
				plates[i].Cov = append(plates[i].Cov, cov[l][i])
			}
		}
	}
	f, err := NewFlats(m, cov, make([]Ink, 2), 0, mmPerInch)
	if err != nil {
		t.Fatal(err)
	}
	b, err := f.Choked(0, mm, mmPerInch)
	if err != nil {
		t.Fatal(err)
	}
	film := onFilm(b)
	plate, err := ChokeUnder(plates[0], plates[1:], mm, mmPerInch)
	if err != nil {
		t.Fatal(err)
	}
	for k, got := range film {
		x, y := k%n, k/n
		edge := 30 - math.Hypot(float64(x-40), float64(y-40)) // inside the outline
		want := edge > 0
		if x >= 40 {
			want = edge > mm
		}
		near := math.Abs(edge) < 1.5 || math.Abs(edge-mm) < 1.5 || x < 46 && x >= 40
		if !near && (got == 1) != want {
			t.Fatalf("film pixel %d, %d, %.1f inside, is %d", x, y, edge, got)
		}
		if v := plate.Cov[k]; !near && (v == halftone.Full) != want {
			t.Fatalf("plate pixel %d, %d, %.1f inside, is %d", x, y, edge, v)
		}
	}
}
