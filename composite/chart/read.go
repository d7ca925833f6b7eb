package chart

import (
	"fmt"
	"math"
	"sort"

	"platewright/composite/spectrum"
)

// A Reading is what pictures of a printed chart say.
type Reading struct {
	Samples  []Sample // one for each patch of the chart, in its order
	Register []Register
	Findings []string // what is unwise but did not stop the reading
	pages    []*page
}

// Register is how far an ink printed out of register with the ink of the
// targets.
type Register struct {
	X, Y float64 // mm to the right and down
	MM   float64 // the distance
	Read bool    // false of the ink of the targets itself, and where its marks are not found
}

// A ReadError says why a picture cannot be read, and the mend.
type ReadError struct {
	Picture string
	Kind    Fault
	Text    string
}

func (e *ReadError) Error() string { return e.Picture + ": " + e.Text }

// Fault is what is wrong with a picture.
type Fault string

const (
	NotFound Fault = "not found"
	CutOff   Fault = "cut off"
	Dark     Fault = "dark"
	Blurred  Fault = "blurred"
	Mirrored Fault = "mirrored"
	Wrong    Fault = "wrong chart"
	Swapped  Fault = "swapped inks"
	Small    Fault = "small"
)

// page is one picture in which the sheet is found.
type page struct {
	*plane
	view  view
	light light
	raw   [][3]float64 // the patches' light over that of the paper around
	noise []float64    // how far a patch varies within, as a share of its light
	boxes [][4]point
}

// Read finds the chart in each picture and reads its patches: the robust mean of
// the middle 60 percent in linear light, over the light of the bare paper around.
// Several pictures are of several pulls and are averaged. ref may be nil. What is
// wrong with a picture is a *ReadError; nothing is read then.
func (c *Chart) Read(pictures []*Picture, ref *Reference) (*Reading, error) {
	if len(pictures) == 0 {
		return nil, fmt.Errorf("no picture of the chart")
	}
	if c.Swatches {
		return nil, fmt.Errorf("this chart is for the eye, made with --swatches; print one without to measure it")
	}
	r := &Reading{}
	var colors [][]spectrum.XYZ
	for _, p := range pictures {
		g, err := c.find(p)
		if err != nil {
			return nil, err
		}
		if g.clip > .02 {
			r.Findings = append(r.Findings, fmt.Sprintf("%s: %.0f %% of the picture are as light as its file can hold; scan or expose darker, the lightest tints are lost", p.Name, 100*g.clip))
		}
		c.readPatches(g)
		var fix correction
		if ref != nil && ref.places != nil {
			if fix, err = c.calibrate(g, ref.card, ref.places); err != nil {
				return nil, err
			}
		}
		xyz := make([]spectrum.XYZ, len(g.raw))
		for n, v := range g.raw {
			xyz[n] = c.color(fix.apply(v))
		}
		if err := c.checkInks(g, xyz); err != nil {
			return nil, err
		}
		if ref != nil && ref.known != nil {
			xyz = c.correctKnown(g.raw, ref.known)
		}
		colors = append(colors, xyz)
		r.pages = append(r.pages, g)
		g.plane.dropSearch()
	}
	c.average(r, colors)
	c.register(r)
	return r, nil
}

// color takes light over paper to a color: the channels of the paper's own
// color, as the shelf has it.
func (c *Chart) color(rel [3]float64) spectrum.XYZ {
	p := c.Paper.xyz.Linear()
	l := [3]float64{rel[0] * p[0], rel[1] * p[1], rel[2] * p[2]}
	x := linear(l)
	for i, v := range x {
		x[i] = math.Max(v, .05)
	}
	return x
}

// linear is the color of linear sRGB light, D50.
func linear(l [3]float64) spectrum.XYZ {
	var x spectrum.XYZ
	for i, full := range [3]spectrum.RGB{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}} {
		f := full.XYZ()
		for k := range x {
			x[k] += l[i] * f[k]
		}
	}
	return x
}

// Blocks of a patch and places in each, in a row. A block holds two dots of a
// coarse screen and more, so that its mean is a tint and not ink or paper; dust
// spoils few blocks.
const (
	blocks = 6
	within = 10
)

// box reads a rectangle on the sheet: of the means of its blocks the mean of the
// middle half, in each channel, and how far the green half of them lies from it,
// as a share.
func (g *page) box(x, y, w, h float64) (mid [3]float64, noise float64, ok bool) {
	const n, all = blocks * within, blocks * blocks
	var v [3][all]float64
	for j := range n {
		for i := range n {
			p := g.view.at(x+(float64(i)+.5)/n*w, y+(float64(j)+.5)/n*h)
			if !g.inside(p, 1) {
				return mid, 0, false
			}
			b := j/within*blocks + i/within
			for c := range v {
				v[c][b] += g.at(c, p.x, p.y) / (within * within)
			}
		}
	}
	for c := range v {
		sort.Float64s(v[c][:])
		for _, s := range v[c][all/4 : all*3/4] {
			mid[c] += s / (all / 2)
		}
	}
	noise = (v[1][all*3/4] - v[1][all/4]) / math.Max(mid[1], .01) / 1.35
	return mid, noise, true
}

// middlePart is the share of a patch's width that is read.
const middlePart = .6

func (p *Patch) core() (x, y, w, h float64) {
	return p.X + p.W*(1-middlePart)/2, p.Y + p.H*(1-middlePart)/2, p.W * middlePart, p.H * middlePart
}

// readPatches fits the light to the bare paper and reads the patches under it.
func (c *Chart) readPatches(g *page) {
	var bare []sampleAt
	gap := pitchX - size
	for i := range c.Patches {
		p := &c.Patches[i]
		if p.OverBlack {
			continue
		}
		places := [][4]float64{{p.X + p.W + .8, p.Y + 1.5, gap - 1.6, p.H - 3}}
		if s := (&Sample{Film: p.Film}); func() bool { m, _ := s.mask(); return m == 0 }() {
			x, y, w, h := p.core()
			places = append(places, [4]float64{x, y, w, h})
		}
		for _, b := range places {
			if c.covered(b) {
				continue
			}
			if mid, _, ok := g.box(b[0], b[1], b[2], b[3]); ok {
				bare = append(bare, sampleAt{b[0] + b[2]/2, b[1] + b[3]/2, mid})
			}
		}
	}
	g.light = fitLight(bare, c.Width, c.Height)
	for i := range c.Patches {
		x, y, w, h := c.Patches[i].core()
		mid, noise, _ := g.box(x, y, w, h)
		l := g.light.at(x+w/2, y+h/2)
		for k := range mid {
			mid[k] /= l[k]
		}
		g.raw, g.noise = append(g.raw, mid), append(g.noise, noise)
		g.boxes = append(g.boxes, [4]point{g.view.at(x, y), g.view.at(x+w, y), g.view.at(x+w, y+h), g.view.at(x, y+h)})
	}
}

// covered reports whether a box on the sheet touches a patch or the black bar.
func (c *Chart) covered(b [4]float64) bool {
	for i := range c.Patches {
		p := &c.Patches[i]
		edge := 0.0
		if p.OverBlack {
			edge = 2
		} else if m, _ := (&Sample{Film: p.Film}).mask(); m == 0 {
			continue
		}
		if b[0] < p.X+p.W+edge && b[0]+b[2] > p.X-edge && b[1] < p.Y+p.H+edge && b[1]+b[3] > p.Y-edge {
			return true
		}
	}
	return b[0]+b[2] > c.Width-1
}

// average takes the mean of pictures in linear light and says how far they vary.
func (c *Chart) average(r *Reading, colors [][]spectrum.XYZ) {
	n := float64(len(colors))
	for i, p := range c.Patches {
		s := Sample{Name: fmt.Sprintf("patch %d", i+1), Film: p.Film, OverBlack: p.OverBlack}
		for _, xyz := range colors {
			for k := range s.Color {
				s.Color[k] += xyz[i][k] / n
			}
		}
		for k, xyz := range colors {
			d := deltaE(xyz[i], s.Color)
			v := s.Color
			for ch := range v {
				v[ch] *= 1 + r.pages[k].noise[i]
			}
			within := deltaE(v, s.Color)
			s.Spread += d*d/math.Max(n-1, 1) + within*within/n
		}
		s.Spread = math.Sqrt(s.Spread)
		r.Samples = append(r.Samples, s)
	}
}

// checkInks refuses a print in which inks stand for each other: their solids fit
// the expected colors far better in another order.
func (c *Chart) checkInks(g *page, xyz []spectrum.XYZ) error {
	k := len(c.Inks)
	solid := make([]spectrum.XYZ, k)
	for i := range c.Patches {
		s := Sample{Film: c.Patches[i].Film}
		if m, full := s.mask(); full && m&(m-1) == 0 && m > 0 && !c.Patches[i].OverBlack {
			for b := range k {
				if m == 1<<b {
					solid[b] = xyz[i]
				}
			}
		}
	}
	same := 0.0
	for i := range k {
		same += deltaE(solid[i], c.Inks[i].xyz)
	}
	best, order := same, []int(nil)
	perm := make([]int, k)
	for i := range perm {
		perm[i] = i
	}
	var try func(int)
	try = func(n int) {
		if n == k {
			sum := 0.0
			for i, j := range perm {
				sum += deltaE(solid[i], c.Inks[j].xyz)
			}
			if sum < best {
				best, order = sum, append([]int(nil), perm...)
			}
			return
		}
		for i := n; i < k; i++ {
			perm[n], perm[i] = perm[i], perm[n]
			try(n + 1)
			perm[n], perm[i] = perm[i], perm[n]
		}
	}
	try(0)
	if order == nil || best > .5*same || same-best < 20 {
		return nil
	}
	for i, j := range order {
		if i != j {
			return &ReadError{g.name, Swapped, fmt.Sprintf("inks are swapped: the film of %s is printed in what looks like %s; print each film in its own ink, or change the order of inks in chart.toml where the names are wrong", c.Inks[i].Name, c.Inks[j].Name)}
		}
	}
	return nil
}

// dropSearch frees what only the search needs.
func (q *plane) dropSearch() { q.paper = nil }
