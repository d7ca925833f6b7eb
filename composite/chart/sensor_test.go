package chart

import (
	"math"
	"math/rand/v2"
	"testing"

	"platewright/composite/spectrum"
)

// manySensors are those of the pictures and others of their kinds, at random.
func manySensors() []*sensor {
	out := append(scanners(), phones()...)
	rnd := rand.New(rand.NewPCG(41, 3))
	u := func(a, b float64) float64 { return a + (b-a)*rnd.Float64() }
	for range 4 {
		out = append(out, newSensor("other LED", [3]float64{u(610, 640), u(515, 535), u(455, 475)}, [3]float64{u(15, 30), u(25, 38), u(20, 32)}),
			newSensor("other CCD", [3]float64{u(590, 615), u(525, 550), u(445, 470)}, [3]float64{u(50, 90), u(60, 110), u(50, 90)}))
	}
	return out
}

// reading is the light of patches and of a card's over that of the paper, as a
// sensor sees them without a lens between.
func (s *scene) reading(q *sensor, seed uint64) (raw, card [][3]float64) {
	rnd := rand.New(rand.NewPCG(seed, 5))
	paper := q.rgb(s.press.spectrum([5]uint8{}))
	over := func(r *spectrum.Reflectance) [3]float64 {
		v := q.rgb(r)
		for k := range v {
			v[k] = math.Max(v[k]/paper[k]*(1+.006*rnd.NormFloat64())+.0008*rnd.NormFloat64(), 0)
		}
		return v
	}
	for _, p := range s.chart.Patches {
		var st [5]uint8
		for k, f := range p.Film {
			st[k] = uint8(f)
		}
		if p.OverBlack {
			st[4] = 1
		}
		raw = append(raw, over(s.press.spectrum(st)))
	}
	dyes, _ := cardSpectra()
	for _, r := range dyes {
		card = append(card, over(r))
	}
	return raw, card
}

// Readings of solids and overlaps mend every kind of sensor, narrow LEDs most; of
// single solids alone they still do; and readings that are off by the color
// difference between instruments cost little. A card of other dyes mends less, and
// harms none. Each is held against paper alone.
func TestReferencesOnManySensors(t *testing.T) {
	var total [5]float64
	for _, file := range []string{"fogra29l-uncoated.csv", "fogra39l-coated.csv"} {
		s := &scene{press: newPress(t, file)}
		s.chart = chartFor(t, s.press, 210, 297)
		for k, v := range s.tryReferences(t) {
			total[k] += v / 2
		}
	}
	t.Logf("in all: %.2f", total)
	if total[1] > .9*total[0] || total[2] > .8*total[0] || total[4] > .57*total[0] {
		t.Errorf("in all: %.2f", total)
	}
}

// tryReferences returns the mean errors by paper alone, a card, single solids, all
// solids and overlaps off by 1, and as they are.
func (s *scene) tryReferences(t *testing.T) (total [5]float64) {
	ref, all := s.references()
	paper := s.chart.Paper.xyz.Linear()
	var want [][3]float64
	for _, d := range ref.card {
		w := d.Color.Linear()
		for k := range w {
			w[k] /= paper[k]
		}
		want = append(want, w)
	}
	rnd := rand.New(rand.NewPCG(4, 4))
	var single, noisy []Sample
	for _, k := range all.known {
		if m, _ := k.mask(); m&(m-1) == 0 {
			single = append(single, k)
		}
		lab := k.Color.Lab()
		for c := range lab {
			lab[c] += .6 * rnd.NormFloat64()
		}
		k.Color = lab.XYZ()
		noisy = append(noisy, k)
	}
	mean := func(xyz []spectrum.XYZ) (m float64) {
		for i := range xyz {
			m += deltaE(xyz[i], s.truth(&s.chart.Patches[i])) / float64(len(xyz))
		}
		return m
	}
	sensors := manySensors()
	for i, q := range sensors {
		raw, card := s.reading(q, uint64(i))
		apply := func(f correction) []spectrum.XYZ {
			xyz := make([]spectrum.XYZ, len(raw))
			for n, v := range raw {
				xyz[n] = s.chart.color(f.apply(v))
			}
			return xyz
		}
		var dyes correction
		dyes.fit(card, want, cardRidge, cardPaper)
		off := [5]float64{mean(apply(correction{})), mean(apply(dyes)), mean(s.chart.correctKnown(raw, single)), mean(s.chart.correctKnown(raw, noisy)), mean(s.chart.correctKnown(raw, all.known))}
		t.Logf("%-18s by paper alone %.2f, a card %.2f, single solids %.2f, all solids and overlaps %.2f or %.2f with an instrument off by 1", q.name, off[0], off[1], off[2], off[4], off[3])
		for k, v := range off {
			total[k] += v / float64(len(sensors))
		}
		if off[1] > off[0]+.15 || off[2] > off[0]+.02 || off[4] > off[2] || off[3] > off[4]+.25 || off[4] > 2.2 {
			t.Errorf("%s: %.2f", q.name, off)
		}
	}
	return total
}
