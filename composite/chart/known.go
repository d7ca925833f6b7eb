package chart

import (
	"math"

	"platewright/composite/spectrum"
)

// correctKnown are the patches' colors, raw being their light over paper, corrected
// by an instrument's readings of solids and overlaps of this chart: first as a sensor
// that sees otherwise than the eye, then by what is still off in each overlap.
func (c *Chart) correctKnown(raw [][3]float64, ref []Sample) []spectrum.XYZ {
	paper := c.Paper.xyz.Linear()
	var seen, want [][3]float64
	for i := range ref {
		var mean [3]float64
		n := 0.0
		for k, p := range c.Patches {
			s := Sample{Film: p.Film, OverBlack: p.OverBlack}
			if s.key() == ref[i].key() {
				for ch, v := range raw[k] {
					mean[ch] += v
				}
				n++
			}
		}
		if n == 0 {
			continue
		}
		w := ref[i].Color.Linear()
		for ch := range w {
			mean[ch] /= n
			w[ch] /= paper[ch]
		}
		seen, want = append(seen, mean), append(want, w)
	}
	var f correction
	f.fit(seen, want, knownRidge, knownPaper)
	xyz := make([]spectrum.XYZ, len(raw))
	for n, v := range raw {
		xyz[n] = c.color(f.apply(v))
	}
	rest := c.fitKnown(xyz, ref)
	for n, p := range c.Patches {
		xyz[n] = rest.apply(xyz[n], p.Film)
	}
	return xyz
}

// known holds how far a sensor is off in the solids and overlaps of this very
// chart that an instrument measured: the inks' own spectra are what a card of
// other dyes cannot stand for. What is known of parts of an overlap adds up in
// it, and a tint is off by the mean of what it lies between, as its inks cover.
type known struct {
	off [][3]float64 // by mask, in cube roots of X, Y, Z, which the eye sees evenly
}

// fitKnown finds what the sensor is off by; seen are the colors read, by patch.
func (c *Chart) fitKnown(seen []spectrum.XYZ, ref []Sample) known {
	part := make([][3]float64, 1<<len(c.Inks))
	root := make([][3]float64, len(part)) // of what was seen
	out := known{make([][3]float64, len(part))}
	for mask := 1; mask < len(part); mask++ {
		var sum, mean [3]float64
		n := 0.0
		for i, p := range c.Patches {
			s := Sample{Film: p.Film}
			if m, solid := s.mask(); solid && m == uint(mask) && !p.OverBlack {
				for ch, v := range seen[i] {
					mean[ch] += v
				}
				n++
			}
		}
		for ch := range mean {
			root[mask][ch] = math.Cbrt(mean[ch] / math.Max(n, 1))
		}
		for sub := (mask - 1) & mask; sub > 0; sub = (sub - 1) & mask {
			for ch := range sum {
				// An ink's share of what is off goes down with the light left.
				sum[ch] += part[sub][ch] * math.Min(1, root[mask][ch]/math.Max(root[sub][ch], .1))
			}
		}
		for i := range ref {
			m, solid := ref[i].mask()
			if !solid || m != uint(mask) || ref[i].OverBlack || n == 0 {
				continue
			}
			for ch := range sum {
				d := math.Cbrt(ref[i].Color[ch]) - root[mask][ch]
				part[mask][ch] = d - sum[ch]
				sum[ch] = d
			}
		}
		out.off[mask] = sum
	}
	return out
}

// apply corrects the color read of a patch with these film percents.
func (f *known) apply(c spectrum.XYZ, film []float64) spectrum.XYZ {
	for ch := range c {
		d := 0.0
		for mask, off := range f.off {
			w := 1.0
			for i, p := range film {
				a := p / 100
				a += gainGuess * a * (1 - a)
				if mask>>i&1 == 0 {
					a = 1 - a
				}
				w *= a
			}
			d += w * off[ch]
		}
		c[ch] = math.Pow(math.Max(math.Cbrt(c[ch])+d, 0), 3)
	}
	return c
}

// gainGuess is how much more than the film's percent a tint counts for: half of
// a film prints like 65 percent [common practice]. It only places a correction.
const gainGuess = .6
