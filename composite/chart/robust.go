package chart

import (
	"math"
	"slices"
	"sort"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
)

// A patch is doubtful when it is farther from what the others say than so many
// times the median of all, and farther than so much ΔE00: good prints bend by
// that much [calc: the largest departures in two offset conditions are 5 for a
// tint from its neighbors, 9 for an overlap of solids and 4 for one of tints].
const (
	doubtFactor  = 5
	doubtTint    = 6
	doubtOverlap = 15
	doubtMiddle  = 8
)

func (f *fitter) limit(off []float64, least float64) float64 {
	sorted := append([]float64(nil), off...)
	sort.Float64s(sorted)
	return math.Max(math.Max(least, 4*f.out.Repeat), doubtFactor*sorted[len(sorted)/2])
}

// ramps writes the tints of each ink, without those that stick out. As one bad
// tint spoils what is expected of its neighbors, the one goes first without which
// the others lie best, and it is held against how those lie then.
func (f *fitter) ramps() error {
	for i, u := range f.uses {
		for {
			var ramp []*patch
			for _, p := range f.patches {
				if m, solid := p.mask(); m == 1<<i && !solid && !p.OverBlack {
					ramp = append(ramp, p)
				}
			}
			sort.Slice(ramp, func(a, b int) bool { return ramp[a].Film[i] < ramp[b].Film[i] })
			u.Tints = nil
			for _, p := range ramp {
				u.Tints = append(u.Tints, ink.Tint{Film: p.Film[i], Color: p.Color})
			}
			if len(ramp) < 4 {
				break
			}
			worst, least := 0, math.Inf(1)
			var others []float64
			for n := range ramp {
				rest := &ink.Ink{Color: u.Color, Tints: slices.Delete(slices.Clone(u.Tints), n, n+1)}
				off, sum := make([]float64, len(rest.Tints)), 0.0
				for k, t := range rest.Tints {
					off[k] = deltaE(f.between(rest, k), t.Color)
					sum += off[k]
				}
				if sum < least {
					worst, least, others = n, sum, off
				}
			}
			most := deltaE(f.between(u, worst), ramp[worst].Color)
			if most <= f.limit(others, doubtTint) {
				break
			}
			f.drop(ramp[worst], most)
		}
		f.evenRamp(u)
	}
	return f.shelf.Prepare()
}

// between is the color of the n-th tint as the tints beside it have it: as far
// between them in cube roots, which the eye sees evenly, as its film is, along
// a parabola where there are enough.
func (f *fitter) between(u *ink.Ink, n int) spectrum.XYZ {
	type point struct {
		x float64
		c spectrum.XYZ
	}
	points := []point{{0, f.paper.Color}}
	for k, t := range u.Tints {
		if k != n {
			points = append(points, point{t.Film, t.Color})
		}
	}
	points = append(points, point{100, u.Color})
	x := u.Tints[n].Film
	sort.SliceStable(points, func(a, b int) bool { return math.Abs(points[a].x-x) < math.Abs(points[b].x-x) })
	if len(points) > 3 {
		points = points[:3]
	}
	var out spectrum.XYZ
	for c := range out {
		v := 0.0
		for a, p := range points {
			w := 1.0
			for b, q := range points {
				if a != b {
					w *= (x - q.x) / (p.x - q.x)
				}
			}
			v += w * math.Cbrt(p.c[c])
		}
		out[c] = math.Pow(math.Max(v, 0), 3)
	}
	return out
}

// overlaps writes the solids over each other. Each is held against what the
// solids alone say of it, as a bad one would spoil what is expected of others.
func (f *fitter) overlaps() error {
	m, err := f.model()
	if err != nil {
		return err
	}
	for {
		var at []*patch
		for _, p := range f.patches {
			if mask, solid := p.mask(); solid && mask&(mask-1) != 0 && !p.OverBlack {
				at = append(at, p)
			}
		}
		off := f.offs(m, at)
		worst, most := -1, 0.0
		for n, p := range at {
			if off[n] > most && p.n == 1 { // what was measured twice is so
				worst, most = n, off[n]
			}
		}
		if worst >= 0 && len(at) >= 3 && most > f.limit(off, doubtOverlap) {
			f.drop(at[worst], most)
			continue
		}
		f.even(m, at, off)
		for _, p := range at {
			f.shelf.Overprints = append(f.shelf.Overprints, f.overprint(&p.Sample))
		}
		return f.shelf.Prepare()
	}
}

func (f *fitter) overprint(s *Sample) ink.Overprint {
	o := ink.Overprint{On: f.paper.Name, Color: s.Color, Record: f.print.Record}
	solid := true
	for i, v := range s.Film {
		if v > 0 {
			o.Inks, o.Film = append(o.Inks, f.uses[i].Name), append(o.Film, v)
			solid = solid && v == 100
		}
	}
	if solid {
		o.Film = nil
	}
	return o
}

// worthwhile is the least share of an error that a measured constant must take
// away to replace that of the finish.
const worthwhile = .05

// surface looks for the surface's share with which the solids alone say most of
// their overlaps.
func (f *fitter) surface() error {
	f.paper.Surface = 0
	var at []*patch
	for _, p := range f.patches {
		if m, solid := p.mask(); solid && m&(m-1) != 0 && !p.OverBlack {
			at = append(at, p)
		}
	}
	if len(at) < 3 {
		return nil
	}
	bare := *f.shelf
	bare.Overprints = nil
	miss := func(re float64) (float64, error) {
		f.paper.Surface = re
		if err := bare.Prepare(); err != nil {
			return 0, err
		}
		m, err := composite.New(&bare, f.paper, composite.AsMeasured(f.uses...))
		if err != nil {
			return 0, err
		}
		sum := 0.0
		for _, p := range at {
			mask, _ := p.mask()
			sum += deltaE(m.Overprint(mask), p.Color) / float64(len(at))
		}
		return sum, nil
	}
	first, err := miss(0)
	if err != nil {
		return err
	}
	best, least := 0.0, first
	for _, re := range [...]float64{.002, .005, .01, .015, .02, .025, .03, .035, .04, .045, .05, .055, .06, .065, .07, .075, .08} {
		v, err := miss(re)
		if err != nil {
			return err
		}
		if v < least {
			best, least = re, v
		}
	}
	if least > (1-worthwhile)*first {
		best = 0
	}
	f.paper.Surface = best
	return f.shelf.Prepare()
}

// factor looks for the Yule–Nielsen factor with which tints of overlaps are met
// best, and without them the ramps by one coverage for all three channels.
// The ramps say little of it (in two offset conditions their best factor is
// .3 and 1 from that of the overlaps), so that they must gain more.
// A change from the factor of the finish costs a tenth of its logarithm.
func (f *fitter) factor() error {
	f.paper.N = 0
	start := f.shelf.Sheet(f.paper).N
	best, first, least := 0.0, 0.0, math.Inf(1)
	middles := f.tints()
	gain := worthwhile * (1 + f.out.Repeat) // what an uneven print seems to say is chance
	if len(middles) < 4 {
		gain *= 3
	}
	try := []float64{start}
	for n := 1.0; n < 3.05; n += .1 { // beyond, colors hardly change
		try = append(try, math.Round(n*10)/10)
	}
	for k, n := range try {
		f.paper.N = n
		var sum float64
		count := 0
		if len(middles) >= 4 {
			if err := f.shelf.Prepare(); err != nil {
				return err
			}
			m, err := f.model()
			if err != nil {
				return err
			}
			for _, d := range f.offs(m, middles) {
				sum += d
				count++
			}
		} else {
			for i, u := range f.uses {
				sum += f.oneCoverage(i, n) * float64(len(u.Tints))
				count += len(u.Tints)
			}
		}
		if count == 0 {
			f.paper.N = 0
			return nil
		}
		v := sum / float64(count) * (1 + .1*math.Abs(math.Log(n/start)))
		if k == 0 {
			first = v
		}
		if v < least {
			best, least = n, v
		}
	}
	if best == start || least > (1-gain)*first {
		best = 0
	}
	f.paper.N = best
	return f.shelf.Prepare()
}

// oneCoverage is the mean ΔE00 of an ink's tints predicted with a single
// coverage for all channels, the best for each.
func (f *fitter) oneCoverage(i int, n float64) float64 {
	u := f.uses[i]
	if len(u.Tints) == 0 {
		return 0
	}
	w := spectrum.White()
	root := func(c spectrum.XYZ) (r [3]float64) {
		for k := range r {
			r[k] = math.Pow(c[k]/w[k], 1/n)
		}
		return r
	}
	p, s := root(f.paper.Color), root(u.Color)
	sum := 0.0
	for _, t := range u.Tints {
		r := root(t.Color)
		up, down := 0.0, 1e-12
		for c := range r {
			up += (p[c] - r[c]) * (p[c] - s[c])
			down += (p[c] - s[c]) * (p[c] - s[c])
		}
		a := up / down
		var c spectrum.XYZ
		for k := range c {
			c[k] = w[k] * math.Pow(math.Max(0, p[k]+a*(s[k]-p[k])), n)
		}
		sum += deltaE(c, t.Color)
	}
	return sum / float64(len(u.Tints))
}

// tints are the patches of overlaps that hold a tint.
func (f *fitter) tints() []*patch {
	var out []*patch
	for _, p := range f.patches {
		if m, solid := p.mask(); !solid && m&(m-1) != 0 && !p.OverBlack {
			out = append(out, p)
		}
	}
	return out
}

func (f *fitter) offs(m *composite.Model, at []*patch) []float64 {
	e := m.NewEvaluator()
	cov := make([]float64, m.Inks())
	off := make([]float64, len(at))
	for n, p := range at {
		off[n] = deltaE(e.XYZ(p.coverage(cov)), p.Color)
	}
	return off
}

// middles writes the tints of overlaps that say more than the noise of this
// print.
func (f *fitter) middles() error {
	for {
		at := f.tints()
		if len(at) == 0 {
			return nil
		}
		m, err := f.model()
		if err != nil {
			return err
		}
		off := f.offs(m, at)
		worst, most := -1, 0.0
		for n, p := range at {
			if off[n] > most && p.n == 1 {
				worst, most = n, off[n]
			}
		}
		if worst >= 0 && len(at) >= 4 && most > f.limit(off, doubtMiddle) {
			f.drop(at[worst], most)
			continue
		}
		f.even(m, at, off)
		for _, p := range at {
			f.shelf.Overprints = append(f.shelf.Overprints, f.overprint(&p.Sample))
		}
		return f.shelf.Prepare()
	}
}
