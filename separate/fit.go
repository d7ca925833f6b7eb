package separate

import (
	"fmt"
	"math"
	"sort"

	"platewright/composite/spectrum"
)

// fitSample is the number of pixels that the fit is measured on.
const fitSample = 30000

// fitPlanes compares the predicted print with the wanted colors on pixels
// spread evenly over the picture. Where flats were labeled, pixels on an edge
// between two of them are left out: the film cuts the edge inside them.
func (e *engine) fitPlanes() {
	pixels := e.p.Width * e.p.Height
	// A stride that shares no factor with the width walks all columns.
	stride := max(1, pixels/fitSample)
	for stride > 1 && gcd(stride, e.p.Width) > 1 {
		stride++
	}
	n := (pixels + stride - 1) / stride
	de := make([]float64, n)
	many := make([]bool, n)
	tinted := make([]bool, n) // near the paper and yet printed
	edge := make([]bool, n)
	bare := e.bareSet()
	full := 255.0
	if e.p.Pix == nil {
		full = 65535
	}
	parallel(n, e.opt.Workers, func() func(int) {
		ev := e.m.NewEvaluator()
		c, cov := make([]float64, e.res.inks), make([]uint16, e.res.inks)
		return func(j int) {
			i := j * stride
			x, y := i%e.p.Width, i/e.p.Width
			if e.res.Labels != nil && !e.plain(x, y) {
				edge[j] = true
				return
			}
			inks, most := 0, 0.0
			e.res.At(x, y, cov)
			for ink, v := range cov {
				c[ink] = float64(v) / 65535
				most = max(most, c[ink])
				if c[ink] > .02 {
					inks++
				}
			}
			many[j] = inks > e.opt.inksPerSpot()
			r, g, b := e.p.At(x, y)
			if e.p.Alpha != nil && e.p.Alpha[i] == 0 || bare.has(uint16(r*full+.5), uint16(g*full+.5), uint16(b*full+.5)) {
				return
			}
			want := e.read.wanted([3]float64{r, g, b})
			de[j] = spectrum.DeltaE(want, ev.XYZ(c).Lab())
			tinted[j] = most > .004 && most < .3 && spectrum.DeltaE(want, e.read.paper) < 8
		}
	})
	fit := &e.res.Fit
	sum := 0.0
	reach, over, tint := 0, 0, 0
	kept := de[:0]
	for j, d := range de {
		if edge[j] {
			continue
		}
		kept = append(kept, d)
		sum += d
		if d <= ReachDE {
			reach++
		}
		if many[j] {
			over++
		}
		if tinted[j] {
			tint++
		}
	}
	de, n = kept, len(kept)
	if n == 0 {
		return
	}
	sort.Float64s(de)
	fit.MeanDE = sum / float64(n)
	fit.P95DE = percentile(de, .95)
	fit.MaxDE = de[n-1]
	fit.InReach = 100 * float64(reach) / float64(n)
	fit.ManyInks = 100 * float64(over) / float64(n)
	if share := float64(tint) / float64(n); share > .25 {
		e.find("background-tint", "warning",
			fmt.Sprintf("%.0f %% of the picture is nearly the color of the paper and would print as a pale tint", 100*share),
			"leave it to the paper with --unprinted and the color of that background")
	}
}

// plain reports whether the pixel is like one beside it and one above or below.
func (e *engine) plain(x, y int) bool {
	r, g, b := e.p.At(x, y)
	same := func(x, y int) bool {
		if x < 0 || y < 0 || x >= e.p.Width || y >= e.p.Height {
			return true
		}
		r2, g2, b2 := e.p.At(x, y)
		const near = 2.5 / 255 // what JPEG leaves of a flat
		return math.Abs(r-r2) < near && math.Abs(g-g2) < near && math.Abs(b-b2) < near
	}
	return (same(x-1, y) || same(x+1, y)) && (same(x, y-1) || same(x, y+1))
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// findings says what the figures mean for the printer.
func (e *engine) findings() {
	fit := &e.res.Fit
	if fit.InReach < 90 {
		e.find("out-of-reach", "warning",
			fmt.Sprintf("%.0f %% of the picture is more than %d ΔE away from what these inks print (mean %.1f)", 100-fit.InReach, ReachDE, fit.MeanDE),
			"compare with other inks, or keep the steps between the colors with --out-of-reach ease")
	}
	if fit.ManyInks > 5 {
		e.find("many-inks", "note",
			fmt.Sprintf("%.0f %% of the picture needs more than %d inks in one spot", fit.ManyInks, e.opt.inksPerSpot()),
			"allow more with --inks-per-spot, or take an ink that makes these colors alone")
	}
}
