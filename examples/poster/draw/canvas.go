package main

import (
	"image"
	"image/color"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

// Three inks make eight colors: each spot of the poster is a set of inks.
const (
	amber = 1 << iota
	coral
	blue
	night = coral | blue
	dark  = amber | coral | blue
)

// over is the samples a side of each pixel: edges are smooth because every
// pixel is the mean of over² spots.
const over = 3

// canvas holds the set of inks of every spot. Lengths are in mm.
type canvas struct {
	w, h  int // spots
	perMM float64
	ink   []uint8
}

func newCanvas(wMM, hMM, ppi float64) *canvas {
	w, h := int(math.Round(wMM*ppi/25.4))*over, int(math.Round(hMM*ppi/25.4))*over
	return &canvas{w, h, ppi / 25.4 * over, make([]uint8, w*h)}
}

// op changes the inks of a spot.
type op func(uint8) uint8

func set(inks uint8) op { return func(uint8) uint8 { return inks } }
func put(inks uint8) op { return func(v uint8) uint8 { return v | inks } }
func cut(inks uint8) op { return func(v uint8) uint8 { return v &^ inks } }

// on applies o only where the spot holds exactly these inks.
func on(inks uint8, o op) op {
	return func(v uint8) uint8 {
		if v == inks {
			return o(v)
		}
		return v
	}
}

type point struct{ x, y float64 }

// path is a list of closed outlines of straight steps, fine enough to pass
// for curves.
type path [][]point

func poly(xy ...float64) path {
	var out []point
	for i := 0; i+1 < len(xy); i += 2 {
		out = append(out, point{xy[i], xy[i+1]})
	}
	return path{out}
}

func rect(x, y, w, h float64) path { return poly(x, y, x+w, y, x+w, y+h, x, y+h) }

func ellipse(cx, cy, rx, ry float64) path {
	var out []point
	for i := range 180 {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 180)
		out = append(out, point{cx + rx*c, cy + ry*s})
	}
	return path{out}
}

// pill is a bar with round ends, the mean of a cloud and a highlight.
func pill(x, y, w, h float64) path {
	var out []point
	r := h / 2
	for i := range 41 {
		s, c := math.Sincos(-math.Pi/2 + math.Pi*float64(i)/40)
		out = append(out, point{x + w - r + r*c, y + r + r*s})
	}
	for i := range 41 {
		s, c := math.Sincos(math.Pi/2 + math.Pi*float64(i)/40)
		out = append(out, point{x + r + r*c, y + r + r*s})
	}
	return path{out}
}

// blob is a smooth closed curve through the given points (Catmull–Rom).
func blob(xy ...float64) path {
	p := poly(xy...)[0]
	var out []point
	n := len(p)
	for i := range p {
		a, b, c, d := p[(i+n-1)%n], p[i], p[(i+1)%n], p[(i+2)%n]
		for s := range 16 {
			t := float64(s) / 16
			out = append(out, point{spline(a.x, b.x, c.x, d.x, t), spline(a.y, b.y, c.y, d.y, t)})
		}
	}
	return path{out}
}

func spline(a, b, c, d, t float64) float64 {
	return .5 * (2*b + (c-a)*t + (2*a-5*b+4*c-d)*t*t + (3*b-a-3*c+d)*t*t*t)
}

// ribbon is a stroke along y = f(x), its width varying with w(x).
func ribbon(x0, x1, step float64, f, w func(float64) float64) path {
	var top, bottom []point
	for x := x0; x <= x1; x += step {
		top = append(top, point{x, f(x) - w(x)/2})
		bottom = append(bottom, point{x, f(x) + w(x)/2})
	}
	for i := len(bottom) - 1; i >= 0; i-- {
		top = append(top, bottom[i])
	}
	return path{top}
}

// stroke is a straight line of constant width.
func stroke(x0, y0, x1, y1, w float64) path {
	l := math.Hypot(x1-x0, y1-y0)
	dx, dy := (y1-y0)/l*w/2, -(x1-x0)/l*w/2
	return poly(x0+dx, y0+dy, x1+dx, y1+dy, x1-dx, y1-dy, x0-dx, y0-dy)
}

func (p path) turned(cx, cy, deg float64) path {
	s, c := math.Sincos(deg * math.Pi / 180)
	for _, o := range p {
		for i, v := range o {
			o[i] = point{cx + (v.x-cx)*c - (v.y-cy)*s, cy + (v.x-cx)*s + (v.y-cy)*c}
		}
	}
	return p
}

// draw applies o to every spot whose middle lies inside p.
func (c *canvas) draw(p path, o op) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, l := range p {
		for _, v := range l {
			x0, x1 = math.Min(x0, v.x), math.Max(x1, v.x)
			y0, y1 = math.Min(y0, v.y), math.Max(y1, v.y)
		}
	}
	left, top := max(0, int(x0*c.perMM)-1), max(0, int(y0*c.perMM)-1)
	w, h := min(c.w, int(x1*c.perMM)+2)-left, min(c.h, int(y1*c.perMM)+2)-top
	if w <= 0 || h <= 0 {
		return
	}
	r := vector.NewRasterizer(w, h)
	at := func(v point) (float32, float32) {
		return float32(v.x*c.perMM) - float32(left), float32(v.y*c.perMM) - float32(top)
	}
	for _, l := range p {
		for i, v := range l {
			x, y := at(v)
			if i == 0 {
				r.MoveTo(x, y)
			} else {
				r.LineTo(x, y)
			}
		}
		r.ClosePath()
	}
	mask := image.NewAlpha(image.Rect(0, 0, w, h))
	r.Draw(mask, mask.Rect, image.Opaque, image.Point{})
	for y := range h {
		row := c.ink[(top+y)*c.w+left:]
		for x, a := range mask.Pix[y*mask.Stride : y*mask.Stride+w] {
			if a >= 128 {
				row[x] = o(row[x])
			}
		}
	}
}

// text is the outline of s with its baseline at y, its capitals size mm
// high, letters set apart by space mm; x is its left end, or its middle
// when middle is set. It returns its width too.
func text(f *sfnt.Font, s string, x, y, size, space float64, middle bool) (path, float64) {
	var buf sfnt.Buffer
	const em = 1000
	m, err := f.Metrics(&buf, fixed.I(em), font.HintingNone)
	if err != nil {
		panic(err)
	}
	scale := size / (float64(m.CapHeight) / 64)
	var out path
	pen := 0.0
	for _, ch := range s {
		g, err := f.GlyphIndex(&buf, ch)
		if err != nil {
			panic(err)
		}
		segs, err := f.LoadGlyph(&buf, g, fixed.I(em), nil)
		if err != nil {
			panic(err)
		}
		at := func(p fixed.Point26_6) point {
			return point{pen + float64(p.X)/64*scale, y + float64(p.Y)/64*scale}
		}
		var line []point
		for _, sg := range segs {
			switch sg.Op {
			case sfnt.SegmentOpMoveTo:
				if line != nil {
					out = append(out, line)
				}
				line = []point{at(sg.Args[0])}
			case sfnt.SegmentOpLineTo:
				line = append(line, at(sg.Args[0]))
			case sfnt.SegmentOpQuadTo:
				a, b, e := line[len(line)-1], at(sg.Args[0]), at(sg.Args[1])
				for i := 1; i <= 12; i++ {
					t := float64(i) / 12
					line = append(line, point{
						(1-t)*(1-t)*a.x + 2*t*(1-t)*b.x + t*t*e.x,
						(1-t)*(1-t)*a.y + 2*t*(1-t)*b.y + t*t*e.y})
				}
			}
		}
		if line != nil {
			out = append(out, line)
		}
		adv, err := f.GlyphAdvance(&buf, g, fixed.I(em), font.HintingNone)
		if err != nil {
			panic(err)
		}
		pen += float64(adv)/64*scale + space
	}
	pen -= space
	shift := x
	if middle {
		shift = x - pen/2
	}
	for _, l := range out {
		for i := range l {
			l[i].x += shift
		}
	}
	return out, pen
}

func face(ttf []byte) *sfnt.Font {
	f, err := opentype.Parse(ttf)
	if err != nil {
		panic(err)
	}
	return f
}

// picture gives every set of inks its color and averages the spots of each
// pixel in the encoding, as drawing programs do. shade, when not nil, may
// change a color by its place in mm.
func (c *canvas) picture(colors [8]color.RGBA, shade func(inks uint8, x, y float64, c [3]float64) [3]float64) *image.RGBA {
	w, h := c.w/over, c.h/over
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			o := m.PixOffset(x, y)
			first := c.ink[y*over*c.w+x*over]
			if shade == nil && c.allOf(x, y, first) {
				k := colors[first]
				m.Pix[o], m.Pix[o+1], m.Pix[o+2], m.Pix[o+3] = k.R, k.G, k.B, k.A
				continue
			}
			var sum [3]float64
			for sy := range over {
				for sx := range over {
					px, py := x*over+sx, y*over+sy
					inks := c.ink[py*c.w+px]
					k := colors[inks]
					v := [3]float64{float64(k.R), float64(k.G), float64(k.B)}
					if shade != nil {
						v = shade(inks, float64(px)/c.perMM, float64(py)/c.perMM, v)
					}
					for i := range sum {
						sum[i] += v[i]
					}
				}
			}
			for i := range sum {
				m.Pix[o+i] = uint8(sum[i]/(over*over) + .5)
			}
			m.Pix[o+3] = 255
		}
	}
	return m
}

// allOf reports whether all spots of a pixel hold the same inks.
func (c *canvas) allOf(x, y int, inks uint8) bool {
	for sy := range over {
		row := c.ink[(y*over+sy)*c.w+x*over:]
		for _, v := range row[:over] {
			if v != inks {
				return false
			}
		}
	}
	return true
}
