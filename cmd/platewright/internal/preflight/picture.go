package preflight

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"platewright/composite/spectrum"
	"platewright/separate"
	"platewright/separate/artwork"
)

// Facts are the figures of a picture at its print size.
type Facts struct {
	WidthMM   float64 `json:"width_mm"`
	HeightMM  float64 `json:"height_mm"`
	PPI       float64 `json:"ppi"`
	Width     int     `json:"width"` // pixels
	Height    int     `json:"height"`
	Shape     string  `json:"shape"` // 3:2, or 1:1.37
	Format    string  `json:"format"`
	Profile   string  `json:"profile"`
	Colors    int     `json:"distinct_colors"`
	Flat      bool    `json:"flat"`        // areas of few plain colors
	Plain     int     `json:"flat_colors"` // how many plain colors, where flat
	Clear     float64 `json:"transparent_percent"`
	HalfClear float64 `json:"half_transparent_percent"`
	Wide      float64 `json:"wide_gamut_percent"` // beyond sRGB
}

// sample is about how many pixels are looked at where not all need be.
const sample = 200_000

// mostColors is where counting distinct colors ends.
const mostColors = 1 << 20

// Picture looks at a picture before its transparency is flattened.
func Picture(p *artwork.Picture, wMM, hMM float64, r Rules) (Facts, []Finding) {
	c := &checker{p: p, wMM: wMM, hMM: hMM, rules: r}
	c.facts = Facts{WidthMM: round(wMM, 2), HeightMM: round(hMM, 2), Width: p.Width, Height: p.Height,
		PPI: round(float64(p.Width)/wMM*25.4, 1), Shape: Shape(p.Width, p.Height), Format: p.Format, Profile: p.Profile, Colors: p.Distinct(mostColors)}
	c.fits()
	c.colors()
	c.resolution()
	c.transparency()
	c.softEdges()
	c.gamut()
	return c.facts, c.found
}

type checker struct {
	p        *artwork.Picture
	wMM, hMM float64
	rules    Rules
	facts    Facts
	found    []Finding
}

func (c *checker) find(code string, level Level, message, mend, client string, places ...Place) {
	c.found = append(c.found, Finding{code, level, message, mend, client, places})
}

// fits compares the print with the paper and the frame, either way around.
func (c *checker) fits() {
	for _, b := range []struct {
		what, code string
		size       [2]float64
	}{{"sheet", "larger-than-sheet", c.rules.SheetMM}, {"frame", "larger-than-frame", c.rules.FrameMM}} {
		w, h := b.size[0], b.size[1]
		const slack = .05 // rounding of typed inches
		if w == 0 || c.wMM <= w+slack && c.hMM <= h+slack || c.wMM <= h+slack && c.hMM <= w+slack {
			continue
		}
		fit := max(min(w/c.wMM, h/c.hMM), min(w/c.hMM, h/c.wMM))
		c.find(b.code, Fault, fmt.Sprintf("the print is %.1f × %.1f mm and the %s holds %g × %g mm", c.wMM, c.hMM, b.what, w, h),
			fmt.Sprintf("print it %.1f mm wide with --width, or take a larger %s", math.Floor(c.wMM*fit*10)/10, b.what),
			fmt.Sprintf("At %.0f × %.0f mm the picture is larger than what we can print. Tell us a smaller size; %.0f mm wide fits.", c.wMM, c.hMM, math.Floor(c.wMM*fit)))
	}
}

// resolution holds the pixels against the ruling: three a line (common
// practice), or 300 an inch for line work.
func (c *checker) resolution() {
	ppi := c.facts.PPI
	if !c.rules.SizeStated {
		c.find("size-not-stated", Note, fmt.Sprintf("nothing states the print size; %.0f × %.0f mm is a guess", c.wMM, c.hMM), "give --width or --height",
			"How large shall it be printed? The file does not say.")
	}
	wanted, kind := 300.0, "line work wants"
	if !c.facts.Flat {
		wanted, kind = 3*c.rules.RulingLPI, fmt.Sprintf("tints of %.0f lines per inch want", c.rules.RulingLPI)
	}
	if wanted == 0 || ppi >= .97*wanted { // a few pixels less change nothing
		return
	}
	level := Note
	if ppi < wanted/2 {
		level = Warning
	}
	if !c.facts.Flat && ppi < wanted/3 && c.rules.SizeStated {
		level = Fault
	}
	need := int(math.Ceil(wanted * c.wMM / 25.4))
	mend := fmt.Sprintf("take a picture of %d pixels across", need)
	if fits := c.wMM * ppi / wanted; fits >= 10 {
		mend += fmt.Sprintf(", or print it %.0f mm wide", fits)
	}
	c.find("resolution-low", level, fmt.Sprintf("%.0f ppi at this size; %s %.0f", ppi, kind, wanted), mend,
		fmt.Sprintf("The picture is %d pixels wide. For a print %.0f mm wide please send it with %d pixels or more, from the original and not enlarged.", c.p.Width, c.wMM, need))
}

// Shape is a proportion in small whole numbers, or as 1 to something.
func Shape(w, h int) string {
	for b := 1; b <= 10; b++ {
		a := math.Round(float64(b) * float64(w) / float64(h))
		if a >= 1 && a <= 20 && math.Abs(a/float64(b)*float64(h)/float64(w)-1) < .003 {
			return fmt.Sprintf("%g:%d", a, b)
		}
	}
	if w > h {
		return fmt.Sprintf("%.2f:1", float64(w)/float64(h))
	}
	return fmt.Sprintf("1:%.2f", float64(h)/float64(w))
}

// nearColors is the CIEDE2000 difference below which two plain colors were
// hardly meant as two: seen side by side at most.
const nearColors = 3

// colors looks for plain colors that are nearly one.
func (c *checker) colors() {
	pix := c.p.Pix
	if pix == nil {
		pix = make([]uint8, len(c.p.Pix16))
		for i, v := range c.p.Pix16 {
			pix[i] = uint8((uint32(v)*255 + 32767) / 65535)
		}
	}
	flat := separate.Flatness(pix, c.p.Width, c.p.Height)
	c.facts.Flat = flat.Flat
	if !flat.Flat {
		return
	}
	c.facts.Plain = flat.Colors
	main := c.plain(pix)
	lab := make([]spectrum.Lab, len(main))
	for i, rgb := range main {
		lab[i] = c.p.Space.XYZ(float64(rgb[0])/255, float64(rgb[1])/255, float64(rgb[2])/255).Lab()
	}
	pairs, first, rarer := 0, "", [3]uint8{}
	for i := range main {
		for k := i + 1; k < len(main); k++ { // the larger area first
			if d := spectrum.DeltaE(lab[i], lab[k]); d < nearColors {
				if pairs++; pairs == 1 {
					first, rarer = fmt.Sprintf("%s and %s (ΔE %.1f)", hex(main[i]), hex(main[k]), d), main[k]
				}
			}
		}
	}
	if pairs == 0 {
		return
	}
	t := newTiles(c.p.Width, c.p.Height, c.wMM, c.hMM)
	for i := 0; i < c.p.Width*c.p.Height; i += stride(c.p.Width, c.p.Height, sample) {
		t.add(i%c.p.Width, i/c.p.Width, [3]uint8(pix[3*i:]) == rarer)
	}
	more := ""
	switch {
	case pairs == 2:
		more = ", and one more pair"
	case pairs > 2:
		more = fmt.Sprintf(", and %d more pairs", pairs-1)
	}
	c.find("near-colors", Warning, "nearly one color: "+first+more, "make them one, or tell which ink each is meant for with --pin",
		"Some colors are almost the same: "+first+more+". Are they meant to be one color?", t.places(.3)...)
}

// plain are the colors that fill areas of their own, the largest first. What
// lossy compression adds to one color counts as that color there, elsewhere two
// colors are two.
func (c *checker) plain(pix []uint8) [][3]uint8 {
	if c.p.Format == "JPEG" || c.p.Format == "WebP" {
		return nil
	}
	const least = .003 // of the picture
	w, h := c.p.Width, c.p.Height
	count := make(map[[3]uint8]int)
	n := 0
	for i := 0; i < w*(h-1)-1; i += stride(w, h, sample) {
		n++
		if v := [3]uint8(pix[3*i:]); v == [3]uint8(pix[3*i+3:]) && v == [3]uint8(pix[3*(i+w):]) && c.opacity(i) > 0 {
			count[v]++
		}
	}
	var out [][3]uint8
	for v, k := range count {
		if float64(k) >= least*float64(n) {
			out = append(out, v)
		}
	}
	slices.SortFunc(out, func(a, b [3]uint8) int { return cmp.Or(cmp.Compare(count[b], count[a]), slices.Compare(a[:], b[:])) })
	return out[:min(len(out), 64)]
}

func hex(c [3]uint8) string { return fmt.Sprintf("#%02x%02x%02x", c[0], c[1], c[2]) }

func (c *checker) opacity(i int) float64 {
	switch {
	case c.p.Alpha != nil:
		return float64(c.p.Alpha[i]) / 255
	case c.p.Alpha16 != nil:
		return float64(c.p.Alpha16[i]) / 65535
	}
	return 1
}

// transparency looks for areas that are neither clear nor opaque. The pixel or
// two of an edge are as they should be.
func (c *checker) transparency() {
	if c.p.Alpha == nil && c.p.Alpha16 == nil {
		return
	}
	w, h := c.p.Width, c.p.Height
	half := func(x, y int) bool {
		a := c.opacity(y*w + x)
		return a > .02 && a < .98
	}
	t := newTiles(w, h, c.wMM, c.hMM)
	clear, n := 0, 0
	for i := 0; i < w*h; i += stride(w, h, sample) {
		x, y := i%w, i/w
		n++
		if c.opacity(i) == 0 {
			clear++
		}
		const wide = 3
		inside := half(x, y) && (half(max(x-wide, 0), y) && half(min(x+wide, w-1), y) && half(x, max(y-wide, 0)) && half(x, min(y+wide, h-1)))
		t.add(x, y, inside)
	}
	c.facts.Clear, c.facts.HalfClear = round(100*float64(clear)/float64(n), 2), round(100*t.share(), 2)
	if t.share() > .002 {
		c.find("transparency", Warning, fmt.Sprintf("%.1f %% of the picture is half transparent; it is laid over the color of the paper", c.facts.HalfClear),
			"flatten it onto the color it is meant to stand on",
			"Parts of the picture are half transparent, and paper cannot be. Please flatten the picture onto the background it is meant to have.", t.places(.2)...)
	}
}

// gamut looks for colors beyond sRGB, where displays show less than the file
// says.
func (c *checker) gamut() {
	if c.p.Space.IsSRGB() {
		return
	}
	w, h := c.p.Width, c.p.Height
	t := newTiles(w, h, c.wMM, c.hMM)
	for i := 0; i < w*h; i += stride(w, h, sample) {
		r, g, b := c.p.At(i%w, i/w)
		const slack = .02
		out := false
		for _, v := range c.p.Space.XYZ(r, g, b).RGB() {
			out = out || v < -slack || v > 1+slack
		}
		t.add(i%w, i/w, out && c.opacity(i) > 0)
	}
	c.facts.Wide = round(100*t.share(), 2)
	if t.share() > .005 {
		c.find("wide-gamut", Note, fmt.Sprintf("%.1f %% of the picture has colors beyond sRGB; the proof shows them cut", c.facts.Wide),
			"judge these places on a test print, not on the display",
			"Some colors are stronger than most displays show, so what you see may differ from the proof we send.", t.places(.3)...)
	}
}

func round(v float64, decimals int) float64 {
	p := math.Pow10(decimals)
	return math.Round(v*p) / p
}
