package spread

import (
	"fmt"
	"math"
	"math/bits"
	"slices"
	"sync"

	"platewright/halftone"
)

// Flats traps flat artwork at the resolution of a film, where each pixel has
// one label and each label one coverage of every ink. Outlines stay where the
// labels have them, and inks meet without a gap: an ink is only added, and
// only where one prints that it goes beneath; see [Under]. It reaches as far
// from where it ends alone as the trap is wide, rounded to whole film pixels:
// where inks lie over each other already, their outlines stay. No shift of one ink
// by up to the trap's width bares paper where inks met.
//
// Rows are made on demand from those around them, so memory does not grow with
// the film. Bits and Tone may be used by several goroutines at once.
type Flats struct {
	labels halftone.Tone
	cov    [][]uint16
	over   [][]int // by ink: the inks that it goes beneath
	w, h   int
	radius float64 // pixels
}

// NewFlats makes the trapped film of labels. A row of labels holds a label, an
// index of cov, for each film pixel; cov is [label][ink], 0 … halftone.Full, the
// inks in print order. mm is the width of the trap and dpi the film's
// resolution.
func NewFlats(labels halftone.Tone, cov [][]uint16, inks []Ink, mm, dpi float64) (*Flats, error) {
	radius, err := pixels(mm, dpi)
	if err != nil {
		return nil, err
	}
	f := &Flats{labels: labels, cov: cov, over: make([][]int, len(inks)), radius: radius}
	f.w, f.h = labels.Size()
	if f.w < 1 || f.h < 1 {
		return nil, fmt.Errorf("spread: labels of %d × %d pixels: give a picture with pixels", f.w, f.h)
	}
	for l, c := range cov {
		if len(c) != len(inks) {
			return nil, fmt.Errorf("spread: label %d has %d coverages for %d inks: give one for each", l, len(c), len(inks))
		}
	}
	for i := range inks {
		for j := i + 1; j < len(inks); j++ {
			if Under(inks[i], inks[j]) {
				f.over[i] = append(f.over[i], j)
			} else {
				f.over[j] = append(f.over[j], i)
			}
		}
	}
	return f, nil
}

// Bits returns the film of an ink, counted from 0. A label counts as inked from
// half of full coverage.
func (f *Flats) Bits(ink int) halftone.Bits { return &flatBits{f.plate(ink, 0x8000), false} }

// Choked returns the film of an ink that lies beneath others, drawn back by a
// width in millimetres at the film's resolution where its own edge meets bare
// paper beneath another ink; where it shows by itself its outline stays. Ink
// counts from half of full coverage.
func (f *Flats) Choked(ink int, mm, dpi float64) (halftone.Bits, error) {
	radius, err := pixels(mm, dpi)
	if err != nil {
		return nil, err
	}
	// What is spread is the lack of the ink.
	g := *f
	g.radius = radius
	p := &flatPlate{Flats: &g, level: make([]int, len(f.cov)), most: make([]uint16, len(f.cov)), values: []uint16{halftone.Full}}
	for l, c := range f.cov {
		if c[ink] < 0x8000 {
			continue
		}
		p.level[l] = -1
		for o, v := range c {
			if o != ink && v >= bare {
				p.most[l] = halftone.Full
			}
		}
	}
	has, ends := make([]bool, len(f.cov)), make([]bool, len(f.cov))
	for l := range f.cov {
		has[l], ends[l] = p.most[l] > 0, p.level[l] >= 0
	}
	p.kind, p.steps = [][]bool{has}, [][]bool{ends}
	p.begin()
	return &flatBits{p, true}, nil
}

// Tone returns the coverage of an ink on the film. Beneath a tint it is no more
// than the tint's.
func (f *Flats) Tone(ink int) halftone.Tone { return &flatTone{f.plate(ink, bare)} }

// flatPlate is one ink of the labels.
type flatPlate struct {
	*Flats
	level  []int    // by label: the index of its own coverage in values, −1 for none
	values []uint16 // the ink's coverages, rising
	most   []uint16 // by label: the most coverage of an ink that it goes beneath and has less of
	steps  [][]bool // by kind of neighbor: the labels beside which the ink ends
	kind   [][]bool // the same by label: whether it is such a neighbor
	reach  []int32  // by rows away: how far a contact reaches along the row
	pool   sync.Pool
}

func (f *Flats) plate(ink int, least uint16) *flatPlate {
	p := &flatPlate{Flats: f, level: make([]int, len(f.cov)), most: make([]uint16, len(f.cov))}
	for _, c := range f.cov {
		if v := c[ink]; v >= least && !slices.Contains(p.values, v) {
			p.values = append(p.values, v)
		}
	}
	slices.Sort(p.values)
	for l, c := range f.cov {
		p.level[l] = slices.Index(p.values, c[ink])
		for _, o := range f.beside(ink) {
			if c[o] >= least && c[o] > c[ink] {
				p.most[l] = max(p.most[l], c[o])
			}
		}
	}
	for _, o := range f.over[ink] {
		p.addSteps(o, least)
	}
	p.begin()
	return p
}

// beside returns the inks where one may print that has met an ink it goes
// beneath: those, and of inks that the rule runs in a circle with the third,
// which lies under it elsewhere. Without that a shift would bare the point where
// the three meet.
func (f *Flats) beside(ink int) []int {
	all := slices.Clone(f.over[ink])
	for _, o := range f.over[ink] {
		for _, q := range f.over[o] {
			if slices.Contains(f.over[q], ink) && !slices.Contains(all, q) {
				all = append(all, q)
			}
		}
	}
	return all
}

// rise is by how much more an ink prints beyond a border where another ends
// beneath it: less is a change of tone.
const rise = halftone.Full / 5

// addSteps notes between which labels an ink begins that the plate's goes
// beneath: for each coverage it has, the labels that have it or more, and those
// with the plate's ink that have much less.
func (p *flatPlate) addSteps(over int, least uint16) {
	var values []uint16
	for _, c := range p.cov {
		if v := c[over]; v >= least && !slices.Contains(values, v) {
			values = append(values, v)
		}
	}
	for _, v := range values {
		has, ends := make([]bool, len(p.cov)), make([]bool, len(p.cov))
		for l, c := range p.cov {
			has[l] = c[over] >= v
			ends[l] = p.level[l] >= 0 && c[over] <= v-min(v, rise)
		}
		p.kind, p.steps = append(p.kind, has), append(p.steps, ends)
	}
}

// begin settles how far contacts reach. From pixel center to pixel center; the
// half rounds the width.
func (p *flatPlate) begin() {
	if r := p.radius + .5; r >= 1 {
		for dy := 0; float64(dy) <= r; dy++ {
			p.reach = append(p.reach, int32(math.Sqrt(float64(r*r)-float64(dy*dy))))
		}
	}
	p.pool.New = func() any { return newFlatRows(p) }
}

// span is pixels from … to−1 of a row, of one label.
type span struct {
	from, to int32
	label    uint16
}

// flatRow is a row of labels and where its ink touches one that it goes
// beneath, by level.
type flatRow struct {
	y, touched int // the row that spans and contact hold, or −1
	spans      []span
	contact    [][]span
}

// flatRows holds the rows around the one being made.
type flatRows struct {
	p     *flatPlate
	ring  []flatRow
	label []uint16
	near  []uint64   // pixels beside such an ink
	grown [][]uint64 // by level: pixels within reach
}

func newFlatRows(p *flatPlate) *flatRows {
	words := (p.w + 63) / 64
	r := &flatRows{p: p, ring: make([]flatRow, 2*len(p.reach)+3), label: make([]uint16, p.w), near: make([]uint64, words)}
	for i := range r.ring {
		r.ring[i] = flatRow{y: -1, touched: -1, contact: make([][]span, len(p.values))}
	}
	for range p.values {
		r.grown = append(r.grown, make([]uint64, words))
	}
	return r
}

// at returns row y.
func (r *flatRows) at(y int) *flatRow {
	row := &r.ring[y%len(r.ring)]
	if row.y == y {
		return row
	}
	row.y, row.touched, row.spans = y, -1, row.spans[:0]
	r.p.labels.Row(r.label, y)
	from := 0
	for x := 1; x <= len(r.label); x++ {
		if x == len(r.label) || r.label[x] != r.label[from] {
			row.spans = append(row.spans, span{int32(from), int32(x), r.label[from]})
			from = x
		}
	}
	return row
}

// touch finds where row y touches.
func (r *flatRows) touch(y int) *flatRow {
	p, row := r.p, r.at(y)
	if row.touched == y {
		return row
	}
	row.touched = y
	for i := range row.contact {
		row.contact[i] = row.contact[i][:0]
	}
	for k, has := range p.kind {
		found := false
		for j := max(y-1, 0); j <= min(y+1, p.h-1); j++ {
			for _, s := range r.at(j).spans {
				if !has[s.label] {
					continue
				}
				if !found {
					found = true
					clear(r.near)
				}
				fill(r.near, max(s.from-1, 0), min(s.to+1, int32(p.w)))
			}
		}
		if !found {
			continue
		}
		for _, s := range row.spans {
			if p.steps[k][s.label] {
				at := &row.contact[p.level[s.label]]
				*at = runs(*at, r.near, s)
			}
		}
	}
	return row
}

// grow finds what lies within reach of row y's contacts, and reports whether
// anything does.
func (r *flatRows) grow(y int) (found bool) {
	p := r.p
	n := len(p.reach) - 1
	for j := max(y-n, 0); j <= min(y+n, p.h-1); j++ {
		reach := p.reach[max(j-y, y-j)]
		for k, contact := range r.touch(j).contact {
			for _, s := range contact {
				if !found {
					found = true
					for i := range r.grown {
						clear(r.grown[i])
					}
				}
				fill(r.grown[k], max(s.from-reach, 0), min(s.to+reach, int32(p.w)))
			}
		}
	}
	return found
}

// row calls set for each span of the trapped ink in row y.
func (p *flatPlate) row(r *flatRows, y int, set func(from, to int32, v uint16)) {
	grown := len(p.reach) > 0 && r.grow(y)
	var under []span
	for _, s := range r.at(y).spans {
		own := p.level[s.label]
		if own >= 0 {
			set(s.from, s.to, p.values[own])
		}
		most := p.most[s.label]
		if !grown || most == 0 {
			continue
		}
		for k := own + 1; k < len(p.values); k++ { // the darker later
			under = runs(under[:0], r.grown[k], s)
			for _, u := range under {
				set(u.from, u.to, min(p.values[k], most))
			}
		}
	}
}

// fill sets bits from … to−1.
func fill(b []uint64, from, to int32) {
	if from >= to {
		return
	}
	i, j := from>>6, (to-1)>>6
	first, last := ^uint64(0)<<(from&63), ^uint64(0)>>(63-(to-1)&63)
	if i == j {
		b[i] |= first & last
		return
	}
	b[i] |= first
	for k := i + 1; k < j; k++ {
		b[k] = ^uint64(0)
	}
	b[j] |= last
}

// runs appends the runs of set bits within a span.
func runs(out []span, b []uint64, s span) []span {
	next := func(x int32, flip uint64) int32 { // the first bit from x on that is set in b^flip
		for x < s.to {
			if v := (b[x>>6] ^ flip) >> (x & 63); v != 0 {
				return min(x+int32(bits.TrailingZeros64(v)), s.to)
			}
			x = (x>>6 + 1) << 6
		}
		return s.to
	}
	for x := next(s.from, 0); x < s.to; {
		end := next(x, ^uint64(0))
		out = append(out, span{x, end, s.label})
		x = next(end, 0)
	}
	return out
}

type flatBits struct {
	*flatPlate
	lack bool // the plate says where there is no ink
}

func (p *flatBits) Size() (w, h int) { return p.w, p.h }

func (p *flatBits) Rows(dst []byte, stride, y0, y1 int) {
	r := p.pool.Get().(*flatRows)
	defer p.pool.Put(r)
	for y := y0; y < y1; y++ {
		row := dst[(y-y0)*stride:][:(p.w+7)/8]
		clear(row)
		p.row(r, y, func(from, to int32, v uint16) {
			if v >= 0x8000 {
				ink(row, int(from), int(to))
			}
		})
		if p.lack {
			for i := range row {
				row[i] = ^row[i]
			}
			if n := p.w & 7; n != 0 {
				row[len(row)-1] &= ^(byte(0xff) >> n)
			}
		}
	}
}

// ink sets pixels from … to−1 of a packed row.
func ink(row []byte, from, to int) {
	i, j := from>>3, to>>3
	first, last := byte(0xff)>>(from&7), ^(byte(0xff) >> (to & 7))
	if i == j {
		row[i] |= first & last
		return
	}
	row[i] |= first
	for k := i + 1; k < j; k++ {
		row[k] = 0xff
	}
	if last != 0 {
		row[j] |= last
	}
}

type flatTone struct{ *flatPlate }

func (p *flatTone) Size() (w, h int) { return p.w, p.h }

func (p *flatTone) Row(dst []uint16, y int) {
	r := p.pool.Get().(*flatRows)
	defer p.pool.Put(r)
	clear(dst[:p.w])
	p.row(r, y, func(from, to int32, v uint16) {
		for x := from; x < to; x++ {
			dst[x] = max(dst[x], v)
		}
	})
}
