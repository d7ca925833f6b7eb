package chart

import (
	"flag"
	"fmt"
	"image"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"platewright/composite/spectrum"
)

var (
	allScans = flag.Int("scans", 0, "read so many simulated scans and photos, 500 for the figures of record; 0: a few")
	keepIn   = flag.String("keep", "", "folder for pictures to look at")
)

// scene is a print of the chart that several tests take pictures of.
type scene struct {
	press *press
	chart *Chart
	shift [][2]int // tenths of a millimetre, by ink
	print *print
}

func makeScene(t testing.TB, file string, seed uint64) *scene {
	t.Helper()
	s := &scene{press: newPress(t, file)}
	s.chart = chartFor(t, s.press, 210, 297)
	rnd := rand.New(rand.NewPCG(seed, 3))
	for range 4 {
		s.shift = append(s.shift, [2]int{rnd.IntN(13) - 6, rnd.IntN(13) - 6})
	}
	s.print = pull(s.chart, s.shift, nil)
	return s
}

// truth is what was really printed on a patch.
func (s *scene) truth(p *Patch) (c [3]float64) {
	var st [5]uint8
	for k, f := range p.Film {
		st[k] = uint8(f)
	}
	if p.OverBlack {
		st[4] = 1
	}
	return s.press.color(st)
}

// off is the mean ΔE00 of patches read, and the largest error of the register in mm.
func (s *scene) off(r *Reading) (mean, register float64) {
	for i := range s.chart.Patches {
		mean += deltaE(r.Samples[i].Color, s.truth(&s.chart.Patches[i])) / float64(len(s.chart.Patches))
	}
	mark := s.shift[s.chart.MarkInk]
	for i, reg := range r.Register {
		if i == s.chart.MarkInk {
			continue
		}
		x, y := float64(s.shift[i][0]-mark[0])/10, float64(s.shift[i][1]-mark[1])/10
		register = math.Max(register, math.Hypot(reg.X-x, reg.Y-y))
		if !reg.Read {
			register = 99
		}
	}
	return mean, register
}

// references are a card, or an instrument's readings of solids and overlaps.
func (s *scene) references() (card, known *Reference) {
	card, known = &Reference{}, &Reference{}
	dyes, places := cardSpectra()
	for _, r := range dyes {
		card.card = append(card.card, Sample{Color: r.XYZ()})
	}
	card.places = places
	for i := range s.chart.Patches {
		p := &s.chart.Patches[i]
		q := Sample{Film: p.Film, Color: s.truth(p)}
		if m, solid := q.mask(); solid && m > 0 && !p.OverBlack {
			known.known = append(known.known, q)
		}
	}
	return card, known
}

// randomShot is a scan, or a photo every other time, as people take them.
func randomShot(n int) shot {
	rnd := rand.New(rand.NewPCG(uint64(n), 11))
	s := shot{seed: uint64(n), level: .6 + .35*rnd.Float64(), dust: rnd.IntN(80), quality: 75 + rnd.IntN(22)}
	quarter := float64(90 * rnd.IntN(4))
	if n%2 == 0 {
		sets := scanners()
		s.sensor = sets[n/2%len(sets)]
		s.turn = quarter + 10*rnd.Float64() - 5
		s.uneven, s.noise, s.blur = .06*rnd.Float64(), .002+.006*rnd.Float64(), .3+.6*rnd.Float64()
		s.dpi = 150
		if n%8 == 0 {
			s.dpi = 300
		}
		if n%4 == 0 {
			s.quality = 0
		}
		return s
	}
	sets := phones()
	s.photo, s.sensor = true, sets[n/2%len(sets)]
	s.turn = quarter + 30*rnd.Float64() - 15
	s.tilt, s.axis = 25*rnd.Float64(), 360*rnd.Float64()
	s.uneven, s.noise, s.blur = .3*rnd.Float64(), .004+.01*rnd.Float64(), .5+rnd.Float64()
	s.level = .45 + .4*rnd.Float64()
	s.dpi = 130 + 60*rnd.Float64()
	return s
}

func keep(t testing.TB, name string, m image.Image) {
	if *keepIn == "" {
		return
	}
	f, err := os.Create(filepath.Join(*keepIn, name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := png.Encode(f, m); err != nil {
		t.Fatal(err)
	}
}

// Scans and photos of charts printed by measured presses. Marks: 99 of 100 found,
// flatbed patches within ΔE00 1.7 in the mean where solids and overlaps are known by
// an instrument, photos within 3, register within 0.1 mm. The figures of record,
// from go test -scans 500: see the package comment.
func TestScansAndPhotos(t *testing.T) {
	count := *allScans
	if count == 0 {
		count = 6
	}
	type sums struct{ n, plain, card, known float64 }
	bySensor := map[string]*sums{}
	found, register := 0, 0.0
	var total [2]sums
	var s *scene
	for n := range count {
		if n%10 == 0 {
			file := "fogra29l-uncoated.csv"
			if n/10%2 == 1 {
				file = "fogra39l-coated.csv"
			}
			s = makeScene(t, file, uint64(n))
		}
		sh := randomShot(n)
		sh.card = true
		m, ppi := sh.take(s.press, s.print, s.chart)
		keep(t, fmt.Sprintf("shot-%03d.png", n), m)
		card, known := s.references()
		pic := picture(fmt.Sprintf("shot %d", n), m, ppi)
		r, err := s.chart.Read([]*Picture{pic}, nil)
		if err != nil {
			t.Logf("%v (%+v)", err, sh)
			continue
		}
		var off [3]float64
		var reg float64
		off[0], reg = s.off(r)
		register = math.Max(register, reg)
		if reg > .1 {
			t.Errorf("shot %d: register off by %.3f mm: %v, printed %v", n, reg, r.Register, s.shift)
		}
		keep(t, fmt.Sprintf("shot-%03d-read.png", n), r.Overlay(0))
		// The corrections of Read with a reference, on what is read already.
		g := r.pages[0]
		fix, err := s.chart.calibrate(g, card.card, card.places)
		if err != nil {
			t.Error(err)
		}
		seen := make([]spectrum.XYZ, len(g.raw))
		for i, v := range g.raw {
			seen[i] = r.Samples[i].Color
			r.Samples[i].Color = s.chart.color(fix.apply(v))
		}
		off[1], _ = s.off(r)
		k := s.chart.fitKnown(seen, known.known)
		for i, p := range s.chart.Patches {
			r.Samples[i].Color = k.apply(seen[i], p.Film)
		}
		off[2], _ = s.off(r)
		if n%50 == 49 {
			t.Logf("%d shots, %d found, register within %.3f mm", n+1, found+1, register)
		}
		found++
		kind := 0
		if sh.photo {
			kind = 1
		}
		b := bySensor[sh.sensor.name]
		if b == nil {
			b = &sums{}
			bySensor[sh.sensor.name] = b
		}
		for _, a := range []*sums{b, &total[kind]} {
			a.n++
			a.plain += off[0]
			a.card += off[1]
			a.known += off[2]
		}
	}
	for name, b := range bySensor {
		t.Logf("%-16s %3.0f pictures: mean ΔE00 %.2f by paper alone, %.2f with a card, %.2f with solids and overlaps known", name, b.n, b.plain/b.n, b.card/b.n, b.known/b.n)
	}
	t.Logf("found %d of %d; register within %.3f mm", found, count, register)
	for k, b := range total {
		t.Logf("%s: %.2f, %.2f, %.2f", []string{"flatbed", "photo"}[k], b.plain/b.n, b.card/b.n, b.known/b.n)
	}
	if found < count*99/100 {
		t.Errorf("found %d of %d", found, count)
	}
	if v := total[0].known / total[0].n; !(v <= 1.7) {
		t.Errorf("flatbed patches are off by %.2f", v)
	}
	if v := total[1].plain / total[1].n; !(v <= 3) {
		t.Errorf("photo patches are off by %.2f", v)
	}
}
