package separate

import (
	"math"

	"platewright/composite"
	"platewright/composite/spectrum"
	"platewright/separate/artwork"
)

// A reading says which color the print should have where the artwork has a
// given encoded color. It does not change and is safe for concurrent use.
type reading struct {
	space  artwork.Space
	paper  spectrum.Lab
	light  bool           // white of the artwork is bare paper
	clear  []spectrum.Lab // colors the user called unprinted
	easing *easing
}

// lightPaper is the L* from which white of the artwork is left to the paper.
// Below it white has to be printed.
const lightPaper = 70

func newReading(space artwork.Space, m *composite.Model, opt *Options) *reading {
	r := &reading{space: space, paper: m.Overprint(0).Lab()}
	r.light = r.paper[0] >= lightPaper
	for _, c := range opt.Unprinted {
		r.clear = append(r.clear, c.Lab())
	}
	if opt.OutOfReach == Ease {
		r.easing = newEasing(m)
	}
	return r
}

// wanted is the color of the artwork as the print means it: what is lighter
// than a light paper goes toward the paper's own color, so that coverage runs
// out without a step before the white that is bare paper.
func (r *reading) wanted(rgb [3]float64) spectrum.Lab {
	c := r.space.XYZ(rgb[0], rgb[1], rgb[2]).Lab()
	if r.light && c[0] > r.paper[0] && r.paper[0] < 99.9 {
		u := math.Min(1, (c[0]-r.paper[0])/(100-r.paper[0]))
		chroma2 := c[1]*c[1] + c[2]*c[2]
		u *= math.Exp(-chroma2 / (30 * 30))
		white := spectrum.Lab{100, 0, 0}
		for i := range c {
			c[i] += float64(u * (r.paper[i] - white[i]))
		}
	}
	for _, b := range r.clear {
		// An unprinted color fades within 8 ΔE of CIELAB in the same way.
		d2 := 0.0
		for i := range c {
			d2 += (c[i] - b[i]) * (c[i] - b[i])
		}
		if w := math.Exp(-d2 / (8 * 8)); w > 1e-6 {
			for i := range c {
				c[i] += float64(w * (r.paper[i] - b[i]))
			}
		}
	}
	return c
}

// target is what the solver goes for at an encoded color.
func (r *reading) target(rgb [3]float64) target {
	c := r.wanted(rgb)
	if r.easing != nil {
		c = r.easing.ease(c)
	}
	return newTarget(c)
}

// bareCodes returns the encoded values, in steps of 1/full, that are bare
// paper: white on light paper, the paper itself and the unprinted colors.
func (r *reading) bareCodes(opt *Options, full float64) [][3]uint16 {
	code := func(c spectrum.XYZ) (v [3]uint16) {
		e := r.space.Encode(c)
		for i := range v {
			v[i] = uint16(math.Round(math.Max(0, math.Min(1, e[i])) * full))
		}
		return v
	}
	bare := [][3]uint16{code(r.paper.XYZ())}
	if r.light {
		w := uint16(full)
		bare = append(bare, [3]uint16{w, w, w})
	}
	for _, c := range opt.Unprinted {
		bare = append(bare, code(c))
	}
	return bare
}

// An easing fits all colors of a display into what the inks print: white
// becomes paper, black the darkest overprint, and chroma is drawn in hue by
// hue, the strong colors most.
type easing struct {
	light, dark spectrum.Lab
	reach, want [easeHues][easeLevels + 1]float64 // largest chroma: printed, asked for
}

const (
	easeHues   = 36
	easeLevels = 16
)

func newEasing(m *composite.Model) *easing {
	e := &easing{light: m.Overprint(0).Lab(), dark: spectrum.Lab{200}}
	for mask := uint(0); mask < 1<<m.Inks(); mask++ {
		c := m.Overprint(mask).Lab()
		if c[0] < e.dark[0] {
			e.dark = c
		}
		if c[0] > e.light[0] { // white ink on dark paper
			e.light = c
		}
	}
	for _, c := range newStartTable(m).lab {
		e.note(&e.reach, c)
	}
	const n = 24
	for i := 0; i <= n; i++ {
		for j := 0; j <= n; j++ {
			a, b := float64(i)/n, float64(j)/n
			for _, v := range [][3]float64{{0, a, b}, {1, a, b}, {a, 0, b}, {a, 1, b}, {a, b, 0}, {a, b, 1}} {
				e.note(&e.want, e.axial(spectrum.RGB(v).XYZ().Lab()))
			}
		}
	}
	e.fill(&e.reach)
	e.fill(&e.want)
	return e
}

// axial maps lightness between paper and darkest overprint and lays the gray
// axis of the artwork on the line between the two.
func (e *easing) axial(c spectrum.Lab) spectrum.Lab {
	t := c[0] / 100
	span := math.Max(0, (e.light[0]-e.dark[0])/100)
	return spectrum.Lab{
		e.dark[0] + float64(t*(e.light[0]-e.dark[0])),
		e.dark[1] + float64(t*(e.light[1]-e.dark[1])) + float64(c[1]*span),
		e.dark[2] + float64(t*(e.light[2]-e.dark[2])) + float64(c[2]*span),
	}
}

// polar returns lightness 0 … 1 along the gray axis, chroma and hue in turns.
func (e *easing) polar(c spectrum.Lab) (t, chroma, hue, a0, b0 float64) {
	if d := e.light[0] - e.dark[0]; d > 0 {
		t = math.Max(0, math.Min(1, (c[0]-e.dark[0])/d))
	}
	a0 = e.dark[1] + t*(e.light[1]-e.dark[1])
	b0 = e.dark[2] + t*(e.light[2]-e.dark[2])
	a, b := c[1]-a0, c[2]-b0
	hue = math.Atan2(b, a) / (2 * math.Pi)
	return t, math.Hypot(a, b), hue - math.Floor(hue), a0, b0
}

func (e *easing) note(table *[easeHues][easeLevels + 1]float64, c spectrum.Lab) {
	t, chroma, hue, _, _ := e.polar(c)
	h := int(hue*easeHues) % easeHues
	l := int(math.Round(t * easeLevels))
	table[h][l] = math.Max(table[h][l], chroma)
}

// fill closes the holes between the samples and rounds off the rest.
func (e *easing) fill(table *[easeHues][easeLevels + 1]float64) {
	for pass := 0; pass < 3; pass++ {
		old := *table
		for h := range table {
			for l := range table[h] {
				sum, n := old[h][l], 1.0
				for _, d := range []int{-1, 1} {
					sum += old[(h+d+easeHues)%easeHues][l]
					n++
					if l+d >= 0 && l+d <= easeLevels {
						sum += old[h][l+d]
						n++
					}
				}
				if mean := sum / n; pass == 2 || old[h][l] < mean {
					table[h][l] = mean
				}
			}
		}
	}
}

func (e *easing) lookup(table *[easeHues][easeLevels + 1]float64, t, hue float64) float64 {
	x := hue*easeHues - .5
	h := int(math.Floor(x))
	fh := x - float64(h)
	y := t * easeLevels
	l := min(int(y), easeLevels-1)
	fl := y - float64(l)
	at := func(h, l int) float64 { return table[(h+easeHues)%easeHues][l] }
	return (1-fh)*((1-fl)*at(h, l)+fl*at(h, l+1)) + fh*((1-fl)*at(h+1, l)+fl*at(h+1, l+1))
}

// ease maps a wanted color into reach. Below seven tenths of the printable
// chroma it stays; from there the rest of the range is drawn in with slope
// one at the start, so that steps shrink but none vanishes.
func (e *easing) ease(c spectrum.Lab) spectrum.Lab {
	c = e.axial(c)
	t, chroma, hue, a0, b0 := e.polar(c)
	reach, want := e.lookup(&e.reach, t, hue), e.lookup(&e.want, t, hue)
	const knee = .7
	if want <= reach || chroma <= knee*reach || chroma == 0 {
		return c
	}
	top, room := want-knee*reach, (1-knee)*reach
	d := math.Min(chroma-knee*reach, top)
	if room < 1e-6 {
		return spectrum.Lab{c[0], a0, b0}
	}
	s := (knee*reach + d/(1+d*(1/room-1/top))) / chroma
	return spectrum.Lab{c[0], a0 + s*(c[1]-a0), b0 + s*(c[2]-b0)}
}
