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
	"strings"
	"sync"
	"testing"

	"platewright/composite/ink"
)

var (
	allScans = flag.Int("scans", 0, "read so many simulated scans and photos, 60 for the figures of record; 0: a few")
	onlyScan = flag.Int("scan", -1, "of the simulated pictures only this one")
	keepIn   = flag.String("keep", "", "folder for pictures to look at")
)

// scene is a print of the chart that several tests take pictures of.
type scene struct {
	press *press
	chart *Chart
	shift [][2]int // tenths of a millimetre, by ink
	print *print
}

// uncoated is a scene that several tests share.
func uncoated(t testing.TB) *scene {
	t.Helper()
	sceneOnce.Do(func() { scenePrint = makeScene(t, "fogra29l-uncoated.csv", 4) })
	if scenePrint == nil {
		t.Fatal("no scene")
	}
	return scenePrint
}

var (
	sceneOnce  sync.Once
	scenePrint *scene
)

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
// flatbed patches within ΔE00 1.5 in the mean where solids and overlaps are known by
// an instrument, photos within 3, register within 0.1 mm. The figures of record: see
// the package comment.
func TestScansAndPhotos(t *testing.T) {
	count := *allScans
	if count == 0 {
		count = 5
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
		if *onlyScan >= 0 && n != *onlyScan {
			found++
			continue
		}
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
		for i, v := range g.raw {
			r.Samples[i].Color = s.chart.color(fix.apply(v))
		}
		off[1], _ = s.off(r)
		for i, c := range s.chart.correctKnown(g.raw, known.known) {
			r.Samples[i].Color = c
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
	if *onlyScan >= 0 {
		t.Logf("register within %.3f mm", register)
	}
	t.Logf("found %d of %d; register within %.3f mm", found, count, register)
	for k, b := range total {
		t.Logf("%s: %.2f, %.2f, %.2f", []string{"flatbed", "photo"}[k], b.plain/b.n, b.card/b.n, b.known/b.n)
	}
	if *onlyScan >= 0 {
		return
	}
	if found < count*99/100 {
		t.Errorf("found %d of %d", found, count)
	}
	if v := total[0].known / total[0].n; !(v <= 1.5) {
		t.Errorf("flatbed patches are off by %.2f", v)
	}
	if v := total[1].plain / total[1].n; !(v <= 3) {
		t.Errorf("photo patches are off by %.2f", v)
	}
}

// What each source of error costs: pictures that have only one, by a sensor that
// sees as the eye does, and last by others. The light is flattened and the middle of
// patches read, so that nothing costs more than a third of what pulls by hand vary by.
func TestErrorBudget(t *testing.T) {
	s := uncoated(t)
	eye := &sensor{name: "eye", eye: true}
	plain := shot{sensor: eye, level: .8, dpi: 110, seed: 9}
	rows := []struct {
		name   string
		change func(*shot)
		most   float64
	}{
		{"nothing but eight bits", func(*shot) {}, .45},
		{"turned by 4°", func(h *shot) { h.turn = 4 }, .45},
		{"noise of 1 %", func(h *shot) { h.noise = .01 }, .5},
		{"blur of half a millimetre", func(h *shot) { h.blur = 2 }, .75},
		{"JPEG of quality 75", func(h *shot) { h.quality = 75 }, 1},
		{"eighty specks of dust", func(h *shot) { h.dust = 80 }, .45},
		{"light uneven by 30 %", func(h *shot) { h.uneven = .3 }, .6},
		{"seen 25° from the side", func(h *shot) { h.photo, h.tilt, h.axis = true, 25, 30 }, .45},
	}
	if *allScans > 0 {
		for _, q := range append(scanners(), phones()...) {
			rows = append(rows, struct {
				name   string
				change func(*shot)
				most   float64
			}{q.name + " sensor", func(h *shot) { h.sensor = q }, 5})
		}
	}
	for _, row := range rows {
		h := plain
		row.change(&h)
		m, ppi := h.take(s.press, s.print, s.chart)
		r, err := s.chart.Read([]*Picture{picture(row.name, m, ppi)}, nil)
		if err != nil {
			t.Error(err)
			continue
		}
		off, register := s.off(r)
		t.Logf("%-28s patches ΔE00 %.2f, register %.3f mm", row.name, off, register)
		if !(off <= row.most) || register > .1 {
			t.Errorf("%s: patches are off by %.2f, register by %.3f mm; want %g and .1", row.name, off, register, row.most)
		}
	}
}

// Several pictures are averaged, and how far they vary is told for each patch.
func TestSeveralPulls(t *testing.T) {
	s := uncoated(t)
	var pictures []*Picture
	var each [][]Sample
	for n := range 2 {
		m, ppi := shot{sensor: scanners()[n], level: .8, dpi: 100, seed: uint64(n), turn: float64(2 * n)}.take(s.press, s.print, s.chart)
		p := picture("pull", m, ppi)
		r, err := s.chart.Read([]*Picture{p}, nil)
		if err != nil {
			t.Fatal(err)
		}
		pictures, each = append(pictures, p), append(each, r.Samples)
	}
	r, err := s.chart.Read(pictures, nil)
	if err != nil {
		t.Fatal(err)
	}
	told := 0
	for i := range r.Samples {
		a, b := each[0][i].Color, each[1][i].Color
		for k, v := range r.Samples[i].Color {
			if math.Abs(v-(a[k]+b[k])/2) > 1e-9 {
				t.Fatalf("patch %d is no mean: %v of %v and %v", i+1, r.Samples[i].Color, a, b)
			}
		}
		if d := deltaE(a, b); d > 2 && r.Samples[i].Spread < d/3 {
			t.Errorf("patch %d: the pulls differ by %.1f and ±%.2f is told", i+1, d, r.Samples[i].Spread)
		} else if d > 2 {
			told++
		}
	}
	if told < 5 {
		t.Errorf("only %d patches differ", told)
	}
}

func TestNewReference(t *testing.T) {
	c := layOut(t, 2, 210, 297)
	for _, tt := range []struct {
		text, want string
		card       int
		known      int
	}{
		{"x_mm,y_mm,L,a,b\n5,5,20,0,0\n15,5,50,0,0\n25,5,80,0,0\n", "", 3, 0},
		{"straw,poppy,L,a,b\n0,0,95,0,2\n100,0,88,-5,80\n100,100,50,60,40\n50,0,90,0,40\n", "", 0, 2},
		{"x_mm,y_mm,L,a,b\n5,5,20,0,0\n", "3 or more are needed", 0, 0},
		{"x_mm,L,a,b\n5,20,0,0\n", "needs both x_mm and y_mm", 0, 0},
		{"L,a,b\n20,0,0\n", "no column holds film percents", 0, 0},
		{"straw,poppy,L,a,b\n50,0,90,0,40\n", "no solid among the reference", 0, 0},
	} {
		tab, err := read(t, tt.text)
		if err != nil {
			t.Fatal(err)
		}
		r, err := c.NewReference(tab)
		if tt.want != "" {
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("%q: %v, want %q", tt.text, err, tt.want)
			}
			continue
		}
		if err != nil || len(r.card) != tt.card || len(r.known) != tt.known {
			t.Errorf("%q: %+v, %v", tt.text, r, err)
		}
	}
}

// A gray card mends a scanner whose tone curve is not what it says.
func TestGrayCard(t *testing.T) {
	s := uncoated(t)
	m, ppi := shot{sensor: &sensor{eye: true}, level: .8, dpi: 110, seed: 2, card: true}.take(s.press, s.print, s.chart)
	p := picture("scan", m, ppi)
	bent := *p
	bent.Row = func(y int, dst []float32) {
		p.Row(y, dst)
		for i, v := range dst {
			dst[i] = float32(math.Pow(math.Max(float64(v), 0), 1.15))
		}
	}
	dyes, places := cardSpectra()
	gray := &Reference{}
	for i, r := range dyes {
		c := r.XYZ()
		if lab := c.Lab(); math.Hypot(lab[1], lab[2]) < 8 {
			gray.card, gray.places = append(gray.card, Sample{Color: c}), append(gray.places, places[i])
		}
	}
	if len(gray.card) < 3 {
		t.Fatalf("%d grays", len(gray.card))
	}
	var off [2]float64
	for k, ref := range []*Reference{nil, gray} {
		r, err := s.chart.Read([]*Picture{&bent}, ref)
		if err != nil {
			t.Fatal(err)
		}
		off[k], _ = s.off(r)
	}
	t.Logf("bent tones cost ΔE %.2f, with a gray card %.2f", off[0], off[1])
	if off[0] < 1.5 || off[1] > .6*off[0] {
		t.Errorf("off by %.2f, with a gray card %.2f", off[0], off[1])
	}
}

// A scan of 600 dpi says what one of 100 does.
func TestFineScan(t *testing.T) {
	s := uncoated(t)
	m, _ := shot{sensor: scanners()[2], level: .8, dpi: 100, seed: 1}.take(s.press, s.print, s.chart)
	coarse := picture("coarse", m, 100)
	const by = 6
	fine := &Picture{Name: "fine", Width: by * coarse.Width, Height: by * coarse.Height, PPI: 100 * by}
	row := make([]float32, 3*coarse.Width)
	fine.Row = func(y int, dst []float32) {
		if y%by == 0 || y == 0 {
			coarse.Row(y/by, row)
		}
		for x := range fine.Width {
			copy(dst[3*x:3*x+3], row[3*(x/by):])
		}
	}
	a, err := s.chart.Read([]*Picture{coarse}, nil)
	if err != nil {
		t.Fatal(err)
	}
	b, err := s.chart.Read([]*Picture{fine}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := range a.Samples {
		if d := deltaE(a.Samples[i].Color, b.Samples[i].Color); d > .3 {
			t.Errorf("patch %d differs by %.2f", i+1, d)
		}
	}
}

// From a picture of the chart to all patches of the printing condition: what the
// new shelf predicts of them, most of which were never printed on the chart.
func TestPictureToShelf(t *testing.T) {
	s := uncoated(t)
	for _, tt := range []struct {
		name string
		shot shot
		most float64
	}{
		{"CCD scanner", shot{sensor: scanners()[2], level: .8, dpi: 110, seed: 1, turn: 3, noise: .004, blur: .4, uneven: .05, dust: 20}, 1.7},
		{"phone", shot{sensor: phones()[0], photo: true, level: .6, dpi: 110, seed: 2, turn: 100, tilt: 20, axis: 70, noise: .008, blur: .6, uneven: .25, quality: 85}, 2.5},
	} {
		m, ppi := tt.shot.take(s.press, s.print, s.chart)
		r, err := s.chart.Read([]*Picture{picture(tt.name, m, ppi)}, nil)
		if err != nil {
			t.Error(err)
			continue
		}
		f := fit(t, r.Samples, ink.Uncoated)
		e := Predict(reload(t, f.Shelf), s.press.list)
		t.Logf("%s: %v over %d patches; repeats ±%.2f, %d left out", tt.name, e, e.Patches, f.Repeat, len(f.Doubtful))
		if !(e.Mean <= tt.most) {
			t.Errorf("%s: all patches are predicted with %v, want a mean of %g", tt.name, e, tt.most)
		}
	}
}
