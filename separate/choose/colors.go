package choose

import (
	"cmp"
	"math"
	"slices"

	"platewright/composite/spectrum"
	"platewright/separate"
	"platewright/separate/artwork"
)

const (
	// searchColors stand for the picture while many sets are tried: enough
	// that twice as many change no choice on the example pictures.
	searchColors = 32
	// finalColors stand for it in the figures.
	finalColors = 128

	// binShift leaves five bits of each channel in the histogram.
	binShift = 3

	// leastShare is the share of the picture from which a color may found a
	// cluster: below it lie noise and the pixels of antialiased edges.
	leastShare = 1e-4
	// floorShare is the part of what is printed that a distinct color counts for
	// at least in the ranking, so that a small lantern in a large night is not
	// given up.
	floorShare = 2e-3
	// distinctDE is how far, in CIEDE2000, a color is from all others to be
	// called distinct.
	distinctDE = 12
	// newColor is the distance in CIELAB below which no further cluster is
	// founded.
	newColor = 1

	// colorSample bounds the pixels that are counted.
	colorSample = 4 << 20
)

// palette is the main colors of a picture. Shares add up to 1 together with
// bare, the share that stays paper.
type palette struct {
	want  []spectrum.Lab // as the print should have them
	rgb   [][3]uint8     // as the artwork has them
	share []float64
	count []float64 // weights in the ranking, which a mask changes
	bare  float64
}

// bin is one cell of the histogram.
type bin struct {
	sum    [3]float64 // encoded 0 … 1
	n      float64    // share of the pixels
	weight float64    // the same, weighted by the mask
	rgb    [3]float64
	lab    spectrum.Lab
}

// A Mask says how much each pixel counts: 0 … 255, row-major, in the picture's
// size. nil counts all alike.
type Mask []uint8

// A histogram is the colors of what is printed and the share that is bare,
// without and with the mask.
type histogram struct {
	bins        []bin
	bare, blank float64
	masked      bool
}

// newHistogram counts the colors of p. With flat set only pixels count that are
// like their neighbors: the others are edges, which take the color of either
// side. Where most pixels are like that, all count.
func newHistogram(p *artwork.Picture, paper spectrum.XYZ, mask Mask, flat bool, opt *separate.Options) *histogram {
	isBare := separate.Bare(p, paper, opt)
	wanted := separate.Wanted(p.Space, paper, opt)
	step := 1
	for p.Width*p.Height/(step*step) > colorSample {
		step++
	}
	cells := make([]bin, 1<<(3*(8-binShift)))
	h := &histogram{masked: mask != nil}
	var all, weights float64
	edges := 0.0
	deep := p.Pix == nil
	at := func(i int) (c [3]uint8) {
		if deep {
			for j := range c {
				c[j] = uint8(p.Pix16[i+j] >> 8)
			}
			return c
		}
		return [3]uint8(p.Pix[i : i+3])
	}
	const like = 6 // as flat areas of a JPEG differ
	for y := 0; y < p.Height; y += step {
		for x := 0; x < p.Width; x += step {
			i := y*p.Width + x
			w := 1.0
			if mask != nil {
				w = float64(mask[i]) / 255
			}
			if flat && x+1 < p.Width && y+1 < p.Height {
				a, b, c := at(3*i), at(3*i+3), at(3*(i+p.Width))
				if apart(a, b) > like || apart(a, c) > like {
					edges++
					continue
				}
			}
			all++
			weights += w
			if isBare(x, y) {
				h.bare++
				h.blank += w
				continue
			}
			c := at(3 * i)
			b := &cells[int(c[0]>>binShift)<<10|int(c[1]>>binShift)<<5|int(c[2]>>binShift)]
			if deep {
				for j := range c {
					b.sum[j] += float64(p.Pix16[3*i+j]) / 65535
				}
			} else {
				for j := range c {
					b.sum[j] += float64(c[j]) / 255
				}
			}
			b.n++
			b.weight += w
		}
	}
	if edges > all {
		return newHistogram(p, paper, mask, false, opt)
	}
	if all == 0 {
		return &histogram{bare: 1, blank: 1}
	}
	weights = max(weights, 1e-9)
	for _, b := range cells {
		if b.n == 0 {
			continue
		}
		for j := range b.rgb {
			b.rgb[j] = b.sum[j] / b.n
		}
		b.lab = wanted(b.rgb)
		b.n /= all
		b.weight /= weights
		h.bins = append(h.bins, b)
	}
	h.bare /= all
	h.blank /= weights
	return h
}

func apart(a, b [3]uint8) int {
	d := 0
	for i := range a {
		e := int(a[i]) - int(b[i])
		d = max(d, e, -e)
	}
	return d
}

// cluster gathers the bins in up to n main colors: started from the heaviest
// bin and then always the one farthest from all so far, which small distinct
// colors are too, and improved as weighted k-means. It depends on nothing but
// the bins.
func (h *histogram) cluster(n int) *palette {
	bins := h.bins
	p := &palette{bare: h.bare}
	if len(bins) == 0 {
		return p
	}
	seed := 0
	for i := range bins {
		if bins[i].n > bins[seed].n {
			seed = i
		}
	}
	var centers []spectrum.Lab
	far := make([]float64, len(bins))
	for i := range far {
		far[i] = math.Inf(1)
	}
	least := leastShare * (1 - p.bare)
	for len(centers) < n && seed >= 0 {
		c := bins[seed].lab
		centers = append(centers, c)
		seed = -1
		best := 0.0
		for i := range bins {
			far[i] = min(far[i], distance2(bins[i].lab, c))
			// Of the far ones the larger first, but not by much.
			if v := far[i] * math.Pow(bins[i].n, .25); far[i] > newColor*newColor && bins[i].n >= least && v > best {
				best, seed = v, i
			}
		}
	}
	of := make([]int, len(bins))
	for range 10 {
		sum := make([]spectrum.Lab, len(centers))
		weight := make([]float64, len(centers))
		for i := range bins {
			of[i] = nearest(centers, bins[i].lab)
			weight[of[i]] += bins[i].n
			for j, v := range bins[i].lab {
				sum[of[i]][j] += v * bins[i].n
			}
		}
		moved := false
		for c := range centers {
			if weight[c] == 0 {
				continue
			}
			for j := range sum[c] {
				v := sum[c][j] / weight[c]
				moved = moved || math.Abs(v-centers[c][j]) > 1e-3
				centers[c][j] = v
			}
		}
		if !moved {
			break
		}
	}
	return p.fill(h, centers, of)
}

// fill sets the palette from clusters, heaviest first.
func (p *palette) fill(h *histogram, centers []spectrum.Lab, of []int) *palette {
	share := make([]float64, len(centers))
	weight := make([]float64, len(centers))
	rgb := make([][3]float64, len(centers))
	for i := range h.bins {
		b := &h.bins[i]
		share[of[i]] += b.n
		weight[of[i]] += b.weight
		for j, v := range b.rgb {
			rgb[of[i]][j] += v * b.n
		}
	}
	order := make([]int, 0, len(centers))
	for c := range centers {
		if share[c] > 0 {
			order = append(order, c)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		if share[a] != share[b] {
			if share[a] > share[b] {
				return -1
			}
			return 1
		}
		return a - b
	})
	sum := 0.0
	for _, c := range order {
		p.want = append(p.want, centers[c])
		p.share = append(p.share, share[c])
		var code [3]uint8
		for j, v := range rgb[c] {
			code[j] = uint8(math.Round(255 * v / share[c]))
		}
		p.rgb = append(p.rgb, code)
		w := weight[c]
		if least := floorShare * (1 - p.bare); !h.masked && w < least && distinct(centers, c) {
			w = least
		}
		p.count = append(p.count, w)
		sum += w
	}
	if sum == 0 { // the mask leaves nothing: all counts as it is
		copy(p.count, p.share)
		return p
	}
	for i := range p.count {
		p.count[i] *= (1 - h.blank) / sum
	}
	return p
}

func distinct(centers []spectrum.Lab, c int) bool {
	for i := range centers {
		if i != c && spectrum.DeltaE(centers[i], centers[c]) < distinctDE {
			return false
		}
	}
	return true
}

func nearest(centers []spectrum.Lab, c spectrum.Lab) int {
	best, at := math.Inf(1), 0
	for i := range centers {
		if d := distance2(centers[i], c); d < best {
			best, at = d, i
		}
	}
	return at
}

func distance2(a, b spectrum.Lab) float64 {
	d0, d1, d2 := a[0]-b[0], a[1]-b[1], a[2]-b[2]
	return float64(d0*d0) + float64(d1*d1) + float64(d2*d2)
}

// figures returns the mean and 95th percentile of CIEDE2000 over the area, and
// the percentage of it within separate.ReachDE; bare paper counts as met.
func (p *palette) figures(printed []spectrum.Lab) (mean, p95, reach float64) {
	type part struct{ de, share float64 }
	parts := []part{{0, p.bare}}
	for c, w := range p.want {
		d := spectrum.DeltaE(w, printed[c])
		parts = append(parts, part{d, p.share[c]})
		mean += d * p.share[c]
	}
	slices.SortFunc(parts, func(a, b part) int { return cmp.Compare(a.de, b.de) })
	sum := 0.0
	for _, q := range parts {
		sum += q.share
		if q.de <= separate.ReachDE {
			reach += 100 * q.share
		}
		if sum-q.share < .95 {
			p95 = q.de
		}
	}
	return mean, p95, reach
}
