package separate

// A filmPlan places the pixels of a film of w × h pixels among the artwork's.
type filmPlan struct {
	w, h int
	x, y filmAxis
	// smaller is set when the film has fewer pixels than the artwork along
	// one axis: then shares are averaged over each film pixel.
	smaller bool
}

// A filmAxis places the film pixels of one axis. Positions are in artwork
// pixels with the middle of the first at 0; cell c lies between the middles of
// pixels c and c+1, from −1 (before the first) to n−1 (behind the last).
type filmAxis struct {
	artwork, film int
	first         []int32 // first film pixel in cell c is first[c+1]; artwork+2 entries
	part          []uint8 // place within the cell, in 1/256
	half          int32   // half a film pixel in 1/256 artwork pixels, rounded up
}

func newFilmAxis(artwork, film int) filmAxis {
	a := filmAxis{artwork: artwork, film: film, first: make([]int32, artwork+2), part: make([]uint8, film)}
	c := -2
	for i := range film {
		u := a.place(i)
		a.part[i] = uint8(u & 255)
		for ; c < int(u>>8); c++ {
			a.first[c+2] = int32(i)
		}
	}
	for ; c < artwork; c++ {
		a.first[c+2] = int32(film)
	}
	a.half = int32((256*artwork + 2*film - 1) / (2 * film))
	return a
}

// place returns the position of film pixel i in 1/256 artwork pixels.
func (a *filmAxis) place(i int) int32 {
	return int32((2*int64(i)+1)*int64(a.artwork)*128/int64(a.film)) - 128
}

// at returns the first film pixel whose position is u or more, u in 1/256
// artwork pixels.
func (a *filmAxis) at(u int32) int32 {
	c := int(u >> 8)
	if c < -1 {
		return 0
	}
	if c >= a.artwork {
		return int32(a.film)
	}
	i, p := a.first[c+1], uint8(u&255)
	for i < a.first[c+2] && a.part[i] < p {
		i++
	}
	return i
}

// planFor returns the plan for a film of w × h pixels.
func (l *Labels) planFor(w, h int) *filmPlan {
	if p := l.plan.Load(); p != nil && p.w == w && p.h == h {
		return p
	}
	p := &filmPlan{
		w: w, h: h,
		x: newFilmAxis(l.Width, w), y: newFilmAxis(l.Height, h),
		smaller: w < l.Width || h < l.Height,
	}
	l.plan.Store(p)
	return p
}

// A run is a row of film pixels of one label that ends before end.
type run struct {
	end   int32
	label uint16
}

// A filmRower works out the rows of a film. It is the scratch of one
// goroutine.
type filmRower struct {
	l     *Labels
	row   int    // the row of cells that cells holds, −2 for none
	lead  uint16 // the label before the first listed cell
	cells []cell
	parts []cellPart
	runs  []run
	sums  []uint32 // per label, for films smaller than the artwork
	seen  []uint16
}

// A cell lies between the middles of 2 × 2 pixels that do not all have one
// label. share holds the share of label a in 1/255 at the upper left, upper
// right, lower left and lower right; b has the rest. If more than two labels
// meet, n of them are listed in parts from at on. next is the label behind the
// cell, up to the next one listed.
type cell struct {
	c     int32
	a, b  uint16
	share [4]uint8
	at, n int32
	next  uint16
}

type cellPart struct {
	label uint16
	share [4]uint8
}

func (l *Labels) rower() *filmRower {
	if r, ok := l.scratch.Get().(*filmRower); ok {
		return r
	}
	return &filmRower{l: l, row: -2}
}

// load works out the cells between artwork rows row and row+1.
func (r *filmRower) load(row int) {
	if r.row == row {
		return
	}
	r.row = row
	r.cells, r.parts = r.cells[:0], r.parts[:0]
	l := r.l
	up, down := max(row, 0), min(row+1, l.Height-1)
	m0, m1 := l.Map[up*l.Width:(up+1)*l.Width], l.Map[down*l.Width:(down+1)*l.Width]
	x0, x1 := l.mixedRow(up), l.mixedRow(down)
	w := l.Width
	// A pixel is plain when it is not the next mixed one of its row.
	var left, right [2]mixed // the two pixels of a column, upper and lower
	column := func(x int) [2]mixed {
		x0, x1 = from(x0, x), from(x1, x)
		c := [2]mixed{plain(m0[x]), plain(m1[x])}
		if len(x0) > 0 && int(x0[0].x) == x {
			c[0] = x0[0]
		}
		if len(x1) > 0 && int(x1[0].x) == x {
			c[1] = x1[0]
		}
		return c
	}
	left = column(0)
	r.lead = left[0].label[0]
	r.add(-1, &left, &left)
	for x := 1; x < w; x++ {
		// Skip columns that are plain and alike.
		if left[0].n == 1 && left[1].n == 1 && left[0].label[0] == left[1].label[0] {
			x0, x1 = from(x0, x), from(x1, x)
			stop := w
			if len(x0) > 0 {
				stop = int(x0[0].x)
			}
			if len(x1) > 0 {
				stop = min(stop, int(x1[0].x))
			}
			b := left[0].label[0]
			s0, s1 := m0[x:stop], m1[x:stop]
			s1 = s1[:len(s0)]
			i := 0
			for i < len(s0) && s0[i] == b && s1[i] == b {
				i++
			}
			x += i
			if x >= w {
				break
			}
		}
		right = column(x)
		r.add(x-1, &left, &right)
		left = right
	}
	r.add(w-1, &left, &left)
}

// from drops the mixed pixels left of x.
func from(m []mixed, x int) []mixed {
	for len(m) > 0 && int(m[0].x) < x {
		m = m[1:]
	}
	return m
}

func plain(label uint16) mixed {
	return mixed{n: 1, share: [3]uint8{255}, label: [3]uint16{label}}
}

// add appends the cell c between two columns, unless it has one label only.
func (r *filmRower) add(c int, left, right *[2]mixed) {
	var p [12]cellPart
	n := 0
	for i, m := range [4]*mixed{&left[0], &right[0], &left[1], &right[1]} {
		for j := range int(m.n) {
			k := 0
			for k < n && p[k].label != m.label[j] {
				k++
			}
			if k == n {
				p[n] = cellPart{label: m.label[j]}
				n++
			}
			p[k].share[i] += m.share[j]
		}
	}
	switch {
	case n == 1:
		return
	case n == 2:
		a, b := &p[0], &p[1]
		if a.label > b.label {
			a, b = b, a
		}
		r.cells = append(r.cells, cell{c: int32(c), a: a.label, b: b.label, share: a.share, next: right[0].label[0]})
	default:
		// Ties go to the smaller label.
		for i := 1; i < n; i++ {
			for j := i; j > 0 && p[j].label < p[j-1].label; j-- {
				p[j], p[j-1] = p[j-1], p[j]
			}
		}
		r.cells = append(r.cells, cell{c: int32(c), n: int32(n), at: int32(len(r.parts)), next: right[0].label[0]})
		r.parts = append(r.parts, p[:n]...)
	}
}

// emit appends a run that ends before end.
func (r *filmRower) emit(end int32, label uint16) {
	if n := len(r.runs); n > 0 {
		last := &r.runs[n-1]
		if last.end >= end {
			return
		}
		if last.label == label {
			last.end = end
			return
		}
	}
	if end > 0 {
		r.runs = append(r.runs, run{end, label})
	}
}

// spread works out the runs of film row y without the strokes. alike, if not
// nil, sorts labels into classes: where all labels of a cell are of one class,
// any of them may stand for all.
func (r *filmRower) spread(p *filmPlan, y int, alike []uint8) {
	r.runs = r.runs[:0]
	if p.smaller {
		r.average(p, y)
		return
	}
	v := p.y.place(y)
	row := int(v >> 8)
	ty := uint32(v & 255)
	r.load(row)
	done, label := int32(-1), r.lead // cells before done are emitted
	for i := range r.cells {
		c := &r.cells[i]
		if c.c > done {
			r.emit(p.x.first[c.c+1], label)
		}
		done, label = c.c+1, c.next
		from, to := p.x.first[c.c+1], p.x.first[c.c+2]
		if from == to {
			continue
		}
		if c.n == 0 {
			if alike != nil && alike[c.a] == alike[c.b] {
				r.emit(to, c.a)
				continue
			}
			f0 := uint32(c.share[0])*(256-ty) + uint32(c.share[2])*ty
			f1 := uint32(c.share[1])*(256-ty) + uint32(c.share[3])*ty
			const half = 255 * 256 * 256 / 2
			// The share runs straight along the row and crosses a half once at most.
			x := from
			first := f0*(256-uint32(p.x.part[x]))+f1*uint32(p.x.part[x]) >= half
			for x++; x < to; x++ {
				t := uint32(p.x.part[x])
				if (f0*(256-t)+f1*t >= half) != first {
					break
				}
			}
			a, b := c.a, c.b
			if !first {
				a, b = b, a
			}
			r.emit(x, a)
			r.emit(to, b)
			continue
		}
		parts := r.parts[c.at : c.at+c.n]
		if alike != nil {
			k, same := alike[parts[0].label], true
			for _, q := range parts[1:] {
				same = same && alike[q.label] == k
			}
			if same {
				r.emit(to, parts[0].label)
				continue
			}
		}
		for x := from; x < to; x++ {
			t := uint32(p.x.part[x])
			best, label := uint32(0), uint16(0)
			for _, q := range parts {
				f0 := uint32(q.share[0])*(256-ty) + uint32(q.share[2])*ty
				f1 := uint32(q.share[1])*(256-ty) + uint32(q.share[3])*ty
				if f := f0*(256-t) + f1*t; f > best {
					best, label = f, q.label
				}
			}
			r.emit(x+1, label)
		}
	}
	if int(done) < r.l.Width {
		r.emit(int32(p.w), label)
	}
}

// average works out the runs of film row y of a film smaller than the
// artwork: the label with the largest area in each film pixel.
func (r *filmRower) average(p *filmPlan, y int) {
	l := r.l
	y0, y1 := p.y.span(y)
	for x := range p.w {
		x0, x1 := p.x.span(x)
		for yy := y0 >> 8; yy<<8 < y1; yy++ {
			wy := min(y1, (yy+1)<<8) - max(y0, yy<<8)
			row := l.Map[yy*l.Width : (yy+1)*l.Width]
			mix := l.mixedRow(yy)
			lo, hi := 0, len(mix)
			for lo < hi {
				if m := (lo + hi) / 2; int(mix[m].x) < x0>>8 {
					lo = m + 1
				} else {
					hi = m
				}
			}
			mix = mix[lo:]
			for xx := x0 >> 8; xx<<8 < x1; xx++ {
				a := uint32((min(x1, (xx+1)<<8) - max(x0, xx<<8)) * wy)
				if len(mix) > 0 && int(mix[0].x) == xx {
					for j := range int(mix[0].n) {
						r.weigh(mix[0].label[j], a/4*uint32(mix[0].share[j]))
					}
					mix = mix[1:]
				} else {
					r.weigh(row[xx], a/4*255)
				}
			}
		}
		best, label := uint32(0), uint16(noLabel)
		for _, s := range r.seen {
			if f := r.sums[s]; f > best || f == best && s < label {
				best, label = f, s
			}
			r.sums[s] = 0
		}
		r.seen = r.seen[:0]
		r.emit(int32(x+1), label)
	}
}

func (r *filmRower) weigh(label uint16, a uint32) {
	if int(label) >= len(r.sums) {
		r.sums = append(r.sums, make([]uint32, int(label)+1-len(r.sums))...)
	}
	if r.sums[label] == 0 {
		r.seen = append(r.seen, label)
	}
	r.sums[label] += a + 1
}

// span returns the piece of artwork that film pixel i covers, in 1/256
// artwork pixels from the artwork's edge; never empty.
func (a *filmAxis) span(i int) (int, int) {
	n := int64(a.artwork) * 256
	u0 := int64(i) * n / int64(a.film)
	return int(u0), int(max((int64(i)+1)*n/int64(a.film), u0+1))
}
