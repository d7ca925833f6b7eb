package film

import (
	"fmt"
	"strings"
	"sync"
	"time"
)

// Label is what is written beside one plate. Empty fields are left out.
type Label struct {
	Ink       string
	Pull, Of  int // place in the print order: "pull 2 of 4"
	Job       string
	Paper     string
	Date      time.Time // the job's date
	RulingLPI float64
	AngleDeg  float64 // told with a ruling only
	Dot       string  // "round", "ellipse", "diamond", "line", "stochastic"; "none" is a line film
	Mesh      string  // with its unit, "77/cm"
}

// lines are the label as set: a head and two lines of details.
func (b *Label) lines(dpi float64) [3]string {
	join := func(parts ...string) string {
		var s []string
		for _, p := range parts {
			if p != "" {
				s = append(s, p)
			}
		}
		return strings.Join(s, " · ")
	}
	pull, date, ruling, angle, dot, mesh := "", "", "", "", "", ""
	if b.Pull > 0 && b.Of > 0 {
		pull = fmt.Sprintf("pull %d of %d", b.Pull, b.Of)
	}
	if !b.Date.IsZero() {
		date = b.Date.Format(time.DateOnly)
	}
	if b.RulingLPI > 0 {
		ruling, angle = decimal(b.RulingLPI, 1)+" lpi", decimal(b.AngleDeg, 2)+"°"
	}
	switch b.Dot {
	case "":
	case "none":
		dot = "line film"
	default:
		dot = b.Dot + " dot"
	}
	if b.Mesh != "" {
		mesh = "mesh " + b.Mesh
	}
	return [3]string{join(b.Ink, pull), join(b.Job, b.Paper, date), join(ruling, angle, dot, mesh, decimal(dpi, 1)+" dpi")}
}

// Page is one plate on its sheet. It implements [Bits].
type Page struct {
	layout *Layout
	plate  Bits // nil where the sheet has none
	label  Label
	own    []outline // the label; all else is the layout's
	tints  []tints   // through the plate's screen: the wedge
	pool   sync.Pool // of *scratch
}

// tints are patches of a plate's own dots at a place of the sheet.
type tints struct {
	x, y int
	Bits
}

type scratch struct {
	rows []byte
	xs   []crossing
	hit  []*outline
}

// Page puts a plate on the sheet. The plate must measure [Layout.Area]. tint makes
// the wedge; nil, for a line film, leaves all steps but the solid empty.
func (l *Layout) Page(plate Bits, label Label, tint Tint) (*Page, error) {
	if w, h := plate.Size(); w != l.aw || h != l.ah {
		return nil, fmt.Errorf("film: plate %q is %d x %d pixels on an area of %d x %d: make it for this layout", label.Ink, w, h, l.aw, l.ah)
	}
	p := newPage(l, plate, label)
	if l.sheet.NoMarks {
		return p, nil
	}
	p.setLabel()
	percents := make([]float64, wedgeN)
	for i := range percents {
		percents[i] = float64(i * wedgeStep)
	}
	if err := p.addTints(l.wedge, percents, tint); err != nil {
		return nil, err
	}
	return p, nil
}

func newPage(l *Layout, plate Bits, label Label) *Page {
	return &Page{layout: l, plate: plate, label: label, pool: sync.Pool{New: func() any { return new(scratch) }}}
}

// addTints lays patches of those percents side by side.
func (p *Page) addTints(at patchPlace, percents []float64, tint Tint) error {
	set := make(patches, len(percents))
	for i, v := range percents {
		switch {
		case tint != nil:
			set[i] = tint(v, at.w, at.h)
		case v == 100:
			set[i] = even{at.w, at.h, 0xff}
		default:
			set[i] = even{at.w, at.h, 0}
		}
		if w, h := set[i].Size(); w != at.w || h != at.h {
			return fmt.Errorf("film: patch of %v %% is %d x %d pixels where %d x %d were asked for", v, w, h, at.w, at.h)
		}
	}
	p.tints = append(p.tints, tints{at.x, at.y, set})
	return nil
}

func (p *Page) setLabel() {
	l, b := p.layout, p.layout.label
	lines := p.label.lines(l.sheet.DPI)
	for i, at := range [3]struct {
		face      *typeface
		y, height float64
	}{{&l.faces.bold, 3.2, 3}, {&l.faces.regular, 7.2, 2.2}, {&l.faces.regular, 11.2, 2.2}} {
		set := at.face.set(lines[i], l.x(b.x), l.y(b.y+at.y), l.scale(at.height), l.scale(b.w))
		p.own = append(p.own, set.glyphs...)
	}
}

// Layout is the sheet the page lies on.
func (p *Page) Layout() *Layout { return p.layout }

// Size implements [Bits].
func (p *Page) Size() (w, h int) { return p.layout.Size() }

// Rows implements [Bits].
func (p *Page) Rows(dst []byte, stride, y0, y1 int) {
	l := p.layout
	s := p.pool.Get().(*scratch)
	defer p.pool.Put(s)
	clear(dst[:(y1-y0-1)*stride+(l.w+7)/8])
	if p.plate != nil {
		s.lay(p.plate, l.ox, l.oy, dst, stride, y0, y1)
	}
	for _, t := range p.tints {
		s.lay(t, t.x, t.y, dst, stride, y0, y1)
	}
	s.hit = s.hit[:0]
	for _, set := range [2][]outline{l.marks, p.own} {
		for i := range set {
			if o := &set[i]; o.y0 < y1 && o.y1 > y0 {
				s.hit = append(s.hit, o)
			}
		}
	}
	for y := y0; y < y1; y++ {
		row := dst[(y-y0)*stride:]
		for _, o := range s.hit {
			s.xs = o.fill(row, l.w, y, s.xs)
		}
		if l.sheet.Mirror {
			mirrorBits(row, l.w)
		}
		if l.sheet.Negative {
			invertBits(row, l.w)
		}
	}
}

// lay puts rows y0 … y1-1 of the sheet that a picture at (x, y) reaches over dst.
func (s *scratch) lay(b Bits, x, y int, dst []byte, stride, y0, y1 int) {
	w, h := b.Size()
	a, z := max(y0, y), min(y1, y+h)
	if a >= z {
		return
	}
	n := (w + 7) / 8
	if need := n * (z - a); cap(s.rows) < need {
		s.rows = make([]byte, need)
	}
	rows := s.rows[:n*(z-a)]
	b.Rows(rows, n, a-y, z-y)
	for r := a; r < z; r++ {
		orBits(dst[(r-y0)*stride:], rows[(r-a)*n:], x, w)
	}
}

// even is one value everywhere: ink (0xff) or none (0).
type even struct {
	w, h  int
	value byte
}

func (e even) Size() (w, h int) { return e.w, e.h }

func (e even) Rows(dst []byte, stride, y0, y1 int) {
	n := (e.w + 7) / 8
	for ; y0 < y1; y0++ {
		for i := range dst[:n] {
			dst[i] = e.value
		}
		dst[n-1] &= 0xff << (n*8 - e.w)
		dst = dst[min(stride, len(dst)):]
	}
}

// patches are pictures of one size side by side.
type patches []Bits

func (p patches) Size() (w, h int) {
	w, h = p[0].Size()
	return w * len(p), h
}

func (p patches) Rows(dst []byte, stride, y0, y1 int) {
	w, _ := p[0].Size()
	n, all := (w+7)/8, (w*len(p)+7)/8
	rows := make([]byte, n*(y1-y0))
	for y := range y1 - y0 {
		clear(dst[y*stride : y*stride+all])
	}
	for i, b := range p {
		b.Rows(rows, n, y0, y1)
		for y := range y1 - y0 {
			orBits(dst[y*stride:], rows[y*n:], i*w, w)
		}
	}
}
