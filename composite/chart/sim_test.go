package chart

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"platewright/composite/ink"
	"platewright/composite/internal/cholesky"
	"platewright/composite/spectrum"
)

// A simulated print and the pictures of it. Patch colors come from measured
// offset prints, not from the model under test; spectra from measured ramps of
// other inks bent to those colors; sensors, lamps and lenses are invented within
// published shapes (LED line scanners: three bands 25 … 35 nm wide; CCD scanners
// and phones: filters 60 … 110 nm wide) [memory].

const simPerMM = 10

// print is a printed chart as states, simPerMM pixels to the millimetre.
type print struct {
	w, h   int
	index  []uint16
	states [][5]uint8
}

// pull prints the films of a chart, shifted by tenths of a millimetre, and with
// inks in the order given.
func pull(c *Chart, shift [][2]int, order []int) *print {
	p := &print{w: int(c.Width * simPerMM), h: int(c.Height * simPerMM)}
	layer := make([][]uint8, 5)
	for i := range layer {
		layer[i] = make([]uint8, p.w*p.h)
	}
	films := c.Films()
	black := len(films) - len(c.Inks)
	for n, f := range films {
		to, dx, dy := 4, 0.0, 0.0
		if n >= black {
			to = n - black
			if order != nil {
				to = order[to]
			}
			if shift != nil {
				dx, dy = float64(shift[n-black][0])/10, float64(shift[n-black][1])/10
			}
		}
		l := layer[to]
		rect := func(x, y, w, h, v float64) {
			x0, x1 := int(math.Round((x+dx)*simPerMM)), int(math.Round((x+dx+w)*simPerMM))
			y0, y1 := int(math.Round((y+dy)*simPerMM)), int(math.Round((y+dy+h)*simPerMM))
			for j := max(0, y0); j < min(p.h, y1); j++ {
				for i := max(0, x0); i < min(p.w, x1); i++ {
					l[j*p.w+i] = uint8(v)
				}
			}
		}
		for _, t := range f.Tints {
			rect(t.X, t.Y, t.W, t.H, t.Percent)
		}
		for _, d := range f.Discs {
			for j := int((d.Y + dy - d.R) * simPerMM); j <= int((d.Y+dy+d.R)*simPerMM)+1; j++ {
				for i := int((d.X + dx - d.R) * simPerMM); i <= int((d.X+dx+d.R)*simPerMM)+1; i++ {
					r := math.Hypot((float64(i)+.5)/simPerMM-d.X-dx, (float64(j)+.5)/simPerMM-d.Y-dy)
					if r < d.R && r >= d.Inner && i >= 0 && j >= 0 && i < p.w && j < p.h {
						l[j*p.w+i] = 100
					}
				}
			}
		}
		for _, w := range f.Words { // strokes in the place of letters
			for k := range []rune(w.Text) {
				if x := float64(k) * w.Height * .6; x < w.Width && k%7 != 6 {
					rect(w.X+x, w.Y-w.Height*.7, .2, w.Height*.7, 100)
					rect(w.X+x, w.Y-.2, w.Height*.4, .2, 100)
				}
			}
		}
	}
	p.index = make([]uint16, p.w*p.h)
	ids := map[[5]uint8]uint16{}
	var last [5]uint8
	var lastID uint16
	for i := range p.index {
		s := [5]uint8{layer[0][i], layer[1][i], layer[2][i], layer[3][i], layer[4][i] / 100}
		if i == 0 || s != last {
			id, ok := ids[s]
			if !ok {
				id = uint16(len(p.states))
				ids[s] = id
				p.states = append(p.states, s)
			}
			last, lastID = s, id
		}
		p.index[i] = lastID
	}
	return p
}

// sensor is three sensitivities, lamp included, and the matrix to linear sRGB
// that its maker found for it on everyday things.
type sensor struct {
	name string
	eye  bool // sees as the standard observer does
	s    [3]spectrum.Reflectance
	m    [3][3]float64
}

func newSensor(name string, peak, width [3]float64) *sensor {
	s := &sensor{name: name}
	for c := range s.s {
		sum := 0.0
		for b := range s.s[c] {
			d := (380 + 10*float64(b) - peak[c]) / (width[c] / 2.355)
			s.s[c][b] = math.Exp(-d*d/2) + .01
			sum += s.s[c][b]
		}
		for b := range s.s[c] {
			s.s[c][b] /= sum
		}
	}
	rnd := rand.New(rand.NewPCG(7, 7))
	var seen, want [][3]float64
	for range 150 {
		r, ok := spectrum.Smooth(spectrum.RGB{.05 + .9*rnd.Float64(), .05 + .9*rnd.Float64(), .05 + .9*rnd.Float64()}.XYZ())
		if !ok {
			continue
		}
		seen, want = append(seen, s.raw(&r)), append(want, r.XYZ().Linear())
	}
	for c := range 3 {
		a, b := make([]float64, 9), make([]float64, 3)
		add := func(v [3]float64, y, w float64) {
			for i := range 3 {
				b[i] += w * v[i] * y
				for j := range 3 {
					a[i*3+j] += w * v[i] * v[j]
				}
			}
		}
		for n := range seen {
			add(seen[n], want[n][c], 1)
		}
		add([3]float64{1, 1, 1}, 1, 1e4)
		cholesky.Solve(a, b)
		copy(s.m[c][:], b)
	}
	return s
}

func (s *sensor) raw(r *spectrum.Reflectance) (v [3]float64) {
	for c := range v {
		for b, x := range r {
			v[c] += s.s[c][b] * x
		}
	}
	return v
}

// rgb is linear sRGB as the device writes it.
func (s *sensor) rgb(r *spectrum.Reflectance) (v [3]float64) {
	if s.eye {
		return r.XYZ().Linear()
	}
	raw := s.raw(r)
	for c := range v {
		for k, x := range raw {
			v[c] += s.m[c][k] * x
		}
	}
	return v
}

func scanners() []*sensor {
	return []*sensor{
		newSensor("LED line", [3]float64{625, 525, 465}, [3]float64{26, 34, 28}),
		newSensor("LED line, wide", [3]float64{615, 530, 460}, [3]float64{40, 46, 34}),
		newSensor("CCD", [3]float64{605, 540, 455}, [3]float64{70, 75, 65}),
	}
}

func phones() []*sensor {
	return []*sensor{
		newSensor("phone", [3]float64{600, 535, 460}, [3]float64{80, 100, 75}),
		newSensor("phone, narrow red", [3]float64{610, 530, 465}, [3]float64{65, 95, 85}),
	}
}

// shot is how a picture was taken.
type shot struct {
	photo   bool
	sensor  *sensor
	turn    float64 // degrees clockwise
	tilt    float64 // degrees out of the plane of the sensor
	axis    float64 // about which it is tilted
	uneven  float64 // the light varies by ± this share
	level   float64 // of the paper
	noise   float64 // of a pixel, share of full light
	blur    float64 // px
	quality int     // of JPEG; 0: none
	dust    int
	dpi     float64
	mirror  bool
	shiftX  float64 // of the sheet against the picture, share of its width
	card    bool
	seed    uint64
}

// cardSpectra are the patches of a card on photographic paper, three dyes in
// three steps, as ISO 12641 targets are made [memory].
func cardSpectra() (r []*spectrum.Reflectance, places [][2]float64) {
	hump := func(nm, peak, width float64) float64 { d := (nm - peak) / width; return math.Exp(-d * d / 2) }
	for i := range 27 {
		steps := [...]float64{.05, .5, 1.3}
		c, m, y := steps[i%3], steps[i/3%3], steps[i/9]
		var s spectrum.Reflectance
		for b := range s {
			nm := 380 + 10*float64(b)
			s[b] = .85 * math.Pow(10, -(c*(hump(nm, 655, 48)+.12)+m*(hump(nm, 545, 40)+.1*hump(nm, 430, 40))+y*hump(nm, 440, 38)))
		}
		r = append(r, &s)
		places = append(places, [2]float64{5 + 8*float64(i%14), 5 + 8*float64(i/14)})
	}
	return r, places
}

// take takes the picture.
func (s shot) take(pr *press, p *print, c *Chart) (*image.RGBA, float64) {
	rnd := rand.New(rand.NewPCG(s.seed, 99))
	table := make([][3]float64, len(p.states))
	paper := s.sensor.rgb(pr.spectrum([5]uint8{}))
	gain := s.level / paper[1]
	for n, st := range p.states {
		v := s.sensor.rgb(pr.spectrum(st))
		for k := range v {
			table[n][k] = v[k] * gain
		}
	}
	var cardRGB [][3]float64
	cards, places := cardSpectra()
	x0, y0 := c.CardPlace()
	if s.card {
		for _, r := range cards {
			v := s.sensor.rgb(r)
			cardRGB = append(cardRGB, [3]float64{v[0] * gain, v[1] * gain, v[2] * gain})
		}
	}
	// The corners of the sheet in the picture.
	per := s.dpi / 25.4
	sin, cos := math.Sincos(s.turn * math.Pi / 180)
	corners := [4]point{{0, 0}, {c.Width, 0}, {c.Width, c.Height}, {0, c.Height}}
	var to [4]point
	lo, hi := point{math.Inf(1), math.Inf(1)}, point{math.Inf(-1), math.Inf(-1)}
	for i, q := range corners {
		x, y := q.x-c.Width/2, q.y-c.Height/2
		if s.mirror {
			x = -x
		}
		x, y = x*cos-y*sin, x*sin+y*cos
		if s.tilt != 0 {
			ts, tc := math.Sincos(s.tilt * math.Pi / 180)
			as, ac := math.Sincos(s.axis * math.Pi / 180)
			u, v := x*ac+y*as, -x*as+y*ac // along and across the axis
			const far = 480.0
			z := far + v*ts
			u, v = u*far/z, v*tc*far/z
			x, y = u*ac-v*as, u*as+v*ac
		}
		to[i] = point{x * per, y * per}
		lo.x, lo.y, hi.x, hi.y = math.Min(lo.x, to[i].x), math.Min(lo.y, to[i].y), math.Max(hi.x, to[i].x), math.Max(hi.y, to[i].y)
	}
	border := 6 * per
	w, h := int(hi.x-lo.x+2*border), int(hi.y-lo.y+2*border)
	for i := range to {
		to[i].x += border - lo.x + s.shiftX*float64(w)
		to[i].y += border - lo.y
	}
	back, _ := newView(to, corners)
	pix := make([]float32, 3*w*h)
	around := [3]float64{.85 * gain, .85 * gain, .85 * gain} // the lid
	if s.photo {
		around = [3]float64{.22 * gain, .16 * gain, .1 * gain}
	}
	lx, ly := rnd.Float64()*2-1, rnd.Float64()*2-1
	for y := range h {
		for x := range w {
			var sum [3]float64
			for k := range 4 {
				q := back.at(float64(x)+.25+.5*float64(k&1), float64(y)+.25+.5*float64(k>>1))
				v := &around
				if q.x >= 0 && q.y >= 0 && q.x < c.Width && q.y < c.Height {
					v = &table[p.index[min(p.h-1, int(q.y*simPerMM))*p.w+min(p.w-1, int(q.x*simPerMM))]]
					if s.card && q.x > x0 && q.y > y0 {
						for i, at := range places {
							if math.Abs(q.x-x0-at[0]) < 3.5 && math.Abs(q.y-y0-at[1]) < 3.5 {
								v = &cardRGB[i]
							}
						}
					}
				}
				for c := range sum {
					sum[c] += v[c] / 4
				}
			}
			u, v := 2*float64(x)/float64(w)-1, 2*float64(y)/float64(h)-1
			l := 1 + s.uneven*(lx*u+ly*v-.5*(u*u+v*v))/1.5
			for c, v := range sum {
				pix[3*(y*w+x)+c] = float32(v * l)
			}
		}
	}
	for range s.dust {
		x, y, r := rnd.Float64()*float64(w), rnd.Float64()*float64(h), .1+.4*rnd.Float64()
		v := float32(rnd.Float64() * gain)
		for j := int(y - r*per); j <= int(y+r*per); j++ {
			for i := int(x - r*per); i <= int(x+r*per); i++ {
				if i >= 0 && j >= 0 && i < w && j < h {
					for c := range 3 {
						pix[3*(j*w+i)+c] = v
					}
				}
			}
		}
	}
	blur(pix, w, h, s.blur)
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := range w * h {
		var code [3]uint8
		for c := range 3 {
			v := float64(pix[3*i+c])
			v += s.noise * math.Sqrt(.1+math.Max(v, 0)) * rnd.NormFloat64()
			code[c] = encode8[min(max(int(v*4095+.5), 0), 4095)]
		}
		m.SetRGBA(i%w, i/w, color.RGBA{code[0], code[1], code[2], 255})
	}
	if s.quality > 0 {
		var b bytes.Buffer
		if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: s.quality}); err != nil {
			panic(err)
		}
		j, err := jpeg.Decode(&b)
		if err != nil {
			panic(err)
		}
		draw.Draw(m, m.Rect, j, image.Point{}, draw.Src)
	}
	if s.photo {
		return m, 0
	}
	return m, s.dpi
}

// encode8 is the sRGB code of linear light in steps of 1/4095.
var encode8 = func() (t [4096]uint8) {
	for i := range t {
		t[i] = uint8(math.Round(255 * spectrum.Encode(float64(i)/4095)))
	}
	return t
}()

func blur(pix []float32, w, h int, sigma float64) {
	if sigma < .2 {
		return
	}
	n := int(3*sigma + 1)
	k := make([]float32, 2*n+1)
	sum := float32(0)
	for i := range k {
		d := float64(i-n) / sigma
		k[i] = float32(math.Exp(-d * d / 2))
		sum += k[i]
	}
	pass := func(count, length, step, stride int) {
		line := make([]float32, length)
		for a := range count {
			for c := range 3 {
				at := a*stride*3 + c
				for i := range line {
					line[i] = pix[at+i*step*3]
				}
				for i := range line {
					v := float32(0)
					for j, f := range k {
						v += f * line[min(max(i+j-n, 0), length-1)]
					}
					pix[at+i*step*3] = v / sum
				}
			}
		}
	}
	pass(h, w, 1, w)
	pass(w, h, w, 1)
}

// picture wraps an image as sRGB.
func picture(name string, m *image.RGBA, ppi float64) *Picture {
	var decode [256][3][3]float32
	for v := range decode {
		for c := range 3 {
			var rgb spectrum.RGB
			rgb[c] = float64(v) / 255
			for k, x := range rgb.XYZ() {
				decode[v][c][k] = float32(x / 100)
			}
		}
	}
	w, h := m.Rect.Dx(), m.Rect.Dy()
	return &Picture{Name: name, Width: w, Height: h, PPI: ppi, Row: func(y int, dst []float32) {
		for x := range w {
			s := m.Pix[y*m.Stride+4*x:]
			for k := range 3 {
				dst[3*x+k] = decode[s[0]][0][k] + decode[s[1]][1][k] + decode[s[2]][2][k]
			}
		}
	}}
}

// chartFor is the chart of four inks as a printmaker would make it who knows
// their colors roughly.
func chartFor(t testing.TB, p *press, w, h float64) *Chart {
	t.Helper()
	s := &ink.Shelf{Papers: []*ink.Paper{{Name: "stock", Finish: ink.Uncoated, Color: p.color([5]uint8{})}}}
	for i, n := range process {
		var st [5]uint8
		st[i] = 100
		lab := p.color(st).Lab()
		lab[0] += 3
		lab[1] *= .9
		s.Inks = append(s.Inks, ink.NewInk(n, lab.XYZ()))
	}
	if err := s.Prepare(); err != nil {
		t.Fatal(err)
	}
	c, err := New(Order{Shelf: s, Paper: s.Papers[0], Inks: s.Inks, Width: w, Height: h})
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	if err := c.Write(&b); err != nil {
		t.Fatal(err)
	}
	back, err := Load(strings.NewReader(b.String()), "chart.toml")
	if err != nil {
		t.Fatal(err)
	}
	return back
}
