package artwork

import (
	"bytes"
	"math"
	"runtime"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"platewright/composite/spectrum"
)

func TestFlatten(t *testing.T) {
	paper := spectrum.RGB{.95, .9, .8}.XYZ() // 242.25, 229.5, 204
	p := &Picture{Width: 4, Height: 1,
		Pix:   []uint8{10, 20, 30, 10, 20, 30, 10, 20, 30, 255, 0, 0},
		Alpha: []uint8{0, 255, 128, 51}}
	p.Flatten(paper)
	// round((a·v + (255 − a)·paper) / 255) [calc]
	want := []uint8{242, 230, 204, 10, 20, 30, 126, 125, 117, 245, 184, 163}
	if p.Pix[1] == 229 { // 229.5 may round either way after two conversions
		want[1] = 229
	}
	if !slices.Equal(p.Pix, want) || !slices.Equal(p.Alpha, []uint8{0, 255, 255, 255}) {
		t.Errorf("got %v %v, want %v", p.Pix, p.Alpha, want)
	}
	if !p.Bare(0, 0) || p.Bare(2, 0) {
		t.Error("bare pixels are wrong")
	}
}

// A transparent pixel is exactly the paper, an opaque one exactly itself, and
// all between lie between, at both depths, whatever the paper and the space.
func TestFlattenProperties(t *testing.T) {
	wide := open(t, "png", "display_p3.png").Space
	rapid.Check(t, func(t *rapid.T) {
		var space Space
		if rapid.Bool().Draw(t, "wide") {
			space = wide
		}
		v := rapid.Float64Range(0, 1)
		paper := spectrum.RGB{v.Draw(t, "r"), v.Draw(t, "g"), v.Draw(t, "b")}.XYZ()
		deep := rapid.Bool().Draw(t, "deep")
		n := rapid.IntRange(1, 80).Draw(t, "n")
		p := &Picture{Width: 1, Height: n, Space: space}
		full := 255.0
		if deep {
			full = 65535
			p.Pix16, p.Alpha16 = make([]uint16, 3*n), make([]uint16, n)
		} else {
			p.Pix, p.Alpha = make([]uint8, 3*n), make([]uint8, n)
		}
		was := make([]float64, 3*n)
		opacity := make([]float64, n)
		for i := range n {
			a := rapid.SampledFrom([]float64{0, 1, .25, .9}).Draw(t, "a")
			opacity[i] = math.Round(a * full)
			for c := range 3 {
				was[3*i+c] = math.Round(v.Draw(t, "v") * full)
				if deep {
					p.Pix16[3*i+c] = uint16(was[3*i+c])
				} else {
					p.Pix[3*i+c] = uint8(was[3*i+c])
				}
			}
			if deep {
				p.Alpha16[i] = uint16(opacity[i])
			} else {
				p.Alpha[i] = uint8(opacity[i])
			}
		}
		p.Flatten(paper)
		e := space.Encode(paper)
		for i := range n {
			if bare := p.Bare(0, i); bare != (opacity[i] == 0) {
				t.Fatalf("pixel %d of opacity %v: bare %v", i, opacity[i], bare)
			}
			for c := range 3 {
				got := 0.0
				if deep {
					got = float64(p.Pix16[3*i+c])
				} else {
					got = float64(p.Pix[3*i+c])
				}
				under := math.Round(math.Max(0, math.Min(1, e[c])) * full)
				exact := (opacity[i]*was[3*i+c] + (full-opacity[i])*under) / full
				if math.Abs(got-exact) > .5 {
					t.Fatalf("pixel %d: %v, want %v", i, got, exact)
				}
			}
		}
		if p.Alpha16 != nil {
			t.Fatal("Alpha16 is left")
		}
	})
}

func TestFlattenOpaque(t *testing.T) {
	p := open(t, "tiff", "photo8.png")
	before := slices.Clone(p.Pix)
	p.Flatten(spectrum.XYZ{10, 10, 10})
	if !bytes.Equal(p.Pix, before) || p.Alpha != nil {
		t.Error("an opaque picture changed")
	}
	q := &Picture{Width: 1, Height: 1, Pix: []uint8{1, 2, 3}, Alpha: []uint8{9}}
	q.Flatten(spectrum.White())
	if q.Alpha != nil {
		t.Error("a picture without bare pixels keeps an alpha channel")
	}
}

func TestDistinct(t *testing.T) {
	p := &Picture{Width: 5, Height: 1, Pix: []uint8{1, 2, 3, 1, 2, 3, 3, 2, 1, 1, 2, 3, 0, 0, 0}}
	for most, want := range map[int]int{0: 1, 1: 2, 2: 3, 3: 3, 100: 3} {
		if got := p.Distinct(most); got != want {
			t.Errorf("at most %d: %d, want %d", most, got, want)
		}
	}
	q := &Picture{Width: 2, Height: 1, Pix16: []uint16{256, 1, 1, 256, 1, 2}}
	if got := q.Distinct(10); got != 2 {
		t.Errorf("16 bits: %d, want 2", got)
	}
	if got := open(t, "tiff", "photo8.png").Distinct(1000); got < 300 || got > 23*19 {
		t.Errorf("a photograph of 23 × 19 pixels has %d colors", got)
	}
}

func TestPreviewAtOwnSize(t *testing.T) {
	p := open(t, "tiff", "see-through.png")
	m := p.Preview(0)
	for i := range p.Width * p.Height {
		q := m.Pix[4*i : 4*i+4]
		if q[3] != p.Alpha[i] || q[3] > 0 && !bytes.Equal(q[:3], p.Pix[3*i:3*i+3]) {
			t.Fatalf("pixel %d is %v, want %v %v", i, q, p.Pix[3*i:3*i+3], p.Alpha[i])
		}
	}
	if n := p.Preview(1000); n.Rect != m.Rect || !bytes.Equal(n.Pix, m.Pix) {
		t.Error("a small picture is not left alone")
	}
}

func TestPreviewReduces(t *testing.T) {
	// Halves of black and white average to half the light: 188 (IEC 61966-2-1).
	p := &Picture{Width: 200, Height: 100, Pix: make([]uint8, 3*200*100)}
	for i := range p.Pix {
		p.Pix[i] = uint8(255 * (i / 3 % 2))
	}
	m := p.Preview(50)
	if m.Rect.Dx() != 50 || m.Rect.Dy() != 25 {
		t.Fatalf("size %v", m.Rect)
	}
	for i, v := range m.Pix {
		if want := []uint8{188, 188, 188, 255}[i%4]; v != want {
			t.Fatalf("value %d is %d, want %d", i, v, want)
		}
	}
	thin := &Picture{Width: 1000, Height: 1, Pix: make([]uint8, 3000)}
	if r := thin.Preview(10).Rect; r.Dx() != 10 || r.Dy() != 1 {
		t.Errorf("a line becomes %v", r)
	}
}

// The preview of a wide picture shows its colors in sRGB, not its numbers.
func TestPreviewConverts(t *testing.T) {
	p := open(t, "png", "display_p3.png")
	m := p.Preview(0)
	worst := 0.0
	moved := false
	for i := 0; i < p.Width*p.Height; i += 97 {
		r, g, b := p.At(i%p.Width, i/p.Width)
		want := p.Space.XYZ(r, g, b).RGB().Clamp()
		for c := range 3 {
			worst = math.Max(worst, math.Abs(float64(m.Pix[4*i+c])-want[c]*255))
			moved = moved || m.Pix[4*i+c] != p.Pix[3*i+c]
		}
	}
	if worst > .501 || !moved {
		t.Errorf("worst difference %.3f, changed at all: %v", worst, moved)
	}
}

// The same bytes however many processors work on it.
func TestSameOnOneProcessor(t *testing.T) {
	read := func() (all []byte) {
		for _, path := range []string{"tiff/photo8-tiles.tif", "webp/yellow_rose.lossy-with-alpha.webp", "jpeg/exif6.jpg"} {
			p := open(t, path)
			m := p.Preview(40)
			p.Flatten(spectrum.White())
			all = append(append(append(all, p.Pix...), p.Alpha...), m.Pix...)
		}
		return all
	}
	many := read()
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if one := read(); !bytes.Equal(one, many) {
		t.Error("the result depends on the number of processors")
	}
}

func TestPanicBecomesError(t *testing.T) {
	defer func() {
		if v := recover(); v != "job 7" {
			t.Errorf("recovered %v", v)
		}
	}()
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(4))
	eachJob(20, func(next func() (int, bool)) {
		for i, ok := next(); ok; i, ok = next() {
			if i == 7 {
				panic("job 7")
			}
		}
	})
}
