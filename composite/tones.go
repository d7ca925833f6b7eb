package composite

import (
	"math"

	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

// inkTones returns the tone curves of an ink per channel of XYZ, nil where
// nothing is known of its tints. They are coverages, so that they hold on any
// paper. From tints: the coverage that the model needs in that channel to meet
// each, a = (Pp^(1/n) − Pt^(1/n)) / (Pp^(1/n) − Ps^(1/n)) (Yule and Nielsen
// 1951), on the paper that the ink was measured on.
func inkTones(shelf *ink.Shelf, i *ink.Ink) (*[3]Tone, error) {
	switch {
	case len(i.Tints) > 0:
		p, err := shelf.Paper(i.On)
		if err != nil {
			return nil, err
		}
		return tintTones(p.Color, i.Color, i.Tints, shelf.Sheet(p).N), nil
	case len(i.ToneCurve) > 0:
		x, y := []float64{0}, []float64{0}
		for _, q := range i.ToneCurve {
			if q[0] > 0 && q[0] < 100 {
				x, y = append(x, q[0]/100), append(y, q[1]/100)
			}
		}
		t := monotone(append(x, 1), append(y, 1))
		return &[3]Tone{*t, *t, *t}, nil
	}
	return nil, nil
}

func tintTones(paper, solid spectrum.XYZ, tints []ink.Tint, n float64) *[3]Tone {
	white := spectrum.White()
	root := func(c spectrum.XYZ) (r [3]float64) {
		for i := range r {
			r[i] = math.Pow(c[i]/white[i], 1/n)
		}
		return r
	}
	p, s := root(paper), root(solid)
	total := 0.0
	for c := range p {
		total += (p[c] - s[c]) * (p[c] - s[c])
	}
	if total < 1e-6 {
		return nil // nothing to see, and so nothing to tell coverage by
	}
	x := []float64{0}
	y := [3][]float64{{0}, {0}, {0}}
	for _, t := range tints {
		r := root(t.Color)
		common := 0.0
		for c := range r {
			common += (p[c] - r[c]) * (p[c] - s[c])
		}
		common /= total
		// A channel in which paper and solid hardly differ says little of
		// coverage: there the common one takes over.
		const weak = 1e-3
		x = append(x, t.Film/100)
		for c := range r {
			d := p[c] - s[c]
			a := (d*(p[c]-r[c]) + weak*total*common) / (d*d + weak*total)
			y[c] = append(y[c], a)
		}
	}
	x = append(x, 1)
	var out [3]Tone
	for c := range out {
		out[c] = *monotone(x, rising(append(y[c], 1)))
	}
	return &out
}

// rising replaces each stretch that falls by its mean (pool adjacent
// violators), within 0 … 1, keeping the ends.
func rising(y []float64) []float64 {
	type run struct {
		sum float64
		n   int
	}
	var runs []run
	for _, v := range y[1 : len(y)-1] {
		runs = append(runs, run{v, 1})
		for k := len(runs) - 1; k > 0 && runs[k-1].sum/float64(runs[k-1].n) > runs[k].sum/float64(runs[k].n); k-- {
			runs[k-1].sum += runs[k].sum
			runs[k-1].n += runs[k].n
			runs = runs[:k]
		}
	}
	out := []float64{y[0]}
	for _, r := range runs {
		for range r.n {
			out = append(out, math.Max(0, math.Min(1, r.sum/float64(r.n))))
		}
	}
	return append(out, y[len(y)-1])
}

// monotone samples the monotone cubic through the points (Fritsch and Carlson
// 1980, with the slopes of Fritsch and Butland 1984). x rises from 0 to 1.
func monotone(x, y []float64) *Tone {
	n := len(x)
	slope := make([]float64, n)
	sec := make([]float64, n-1)
	for i := range sec {
		sec[i] = (y[i+1] - y[i]) / (x[i+1] - x[i])
	}
	for i := 1; i < n-1; i++ {
		if sec[i-1]*sec[i] > 0 {
			h0, h1 := x[i]-x[i-1], x[i+1]-x[i]
			w0, w1 := 2*h1+h0, h1+2*h0
			slope[i] = (w0 + w1) / (w0/sec[i-1] + w1/sec[i])
		}
	}
	slope[0] = endSlope(x, sec, 0, 1)
	slope[n-1] = endSlope(x, sec, n-2, n-3)
	var t Tone
	k := 0
	for i := range t {
		v := float64(i) / toneSteps
		for k < n-2 && v > x[k+1] {
			k++
		}
		h := x[k+1] - x[k]
		u := (v - x[k]) / h
		t[i] = y[k] + u*(h*slope[k]+u*(3*(y[k+1]-y[k])-h*(2*slope[k]+slope[k+1])+u*(h*(slope[k]+slope[k+1])-2*(y[k+1]-y[k]))))
	}
	t[0], t[toneSteps] = 0, 1
	return &t
}

// endSlope is the three-point slope at an end, cut so that nothing overshoots.
func endSlope(x, sec []float64, near, next int) float64 {
	if len(sec) < 2 {
		return sec[near]
	}
	h0, h1 := x[near+1]-x[near], x[next+1]-x[next]
	d := ((2*h0+h1)*sec[near] - h0*sec[next]) / (h0 + h1)
	if d*sec[near] <= 0 {
		return 0
	}
	if math.Abs(d) > 3*math.Abs(sec[near]) {
		return 3 * sec[near]
	}
	return d
}
