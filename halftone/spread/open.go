package spread

import (
	"errors"
	"math"
	"slices"

	"platewright/halftone"
)

// Shift is how far a plate lies out of register, in millimetres to the right
// and down.
type Shift struct{ X, Y float64 }

// Opening is bare paper that shows between inks where they touched, because
// their plates lie out of register. Lengths are in millimetres from the upper
// left corner.
type Opening struct {
	Inks         [2]int // the inks on its two sides, the most on its rim, first printed first
	Area         float64
	Width        float64 // across: its area over half its rim
	X, Y, Wd, Ht float64 // the box around it
}

// Register finds what opens between plates of one size, in print order, up to
// eight.
type Register struct {
	w, h, n int
	ppi     float64
	was     []uint8 // by pixel: a bit for each ink that was to print there
	now     []uint8 // the same of the plates that are printed
}

// NewRegister looks at plates of resolution ppi. was are the plates as the
// picture has them and now those printed, with a trap perhaps. Coverage of half
// or more counts as ink.
func NewRegister(was, now []*halftone.Plate, ppi float64) (*Register, error) {
	if len(was) == 0 || len(was) != len(now) || len(was) > 8 {
		return nil, errors.New("spread: give one to eight plates, and as many of them trapped")
	}
	if !(ppi > 0) {
		return nil, errors.New("spread: give the plates' resolution")
	}
	r := &Register{w: was[0].Width, h: was[0].Height, n: len(was), ppi: ppi}
	r.was, r.now = make([]uint8, r.w*r.h), make([]uint8, r.w*r.h)
	for i := range was {
		for _, set := range [2]struct {
			p   *halftone.Plate
			out []uint8
		}{{was[i], r.was}, {now[i], r.now}} {
			if set.p.Width != r.w || set.p.Height != r.h || len(set.p.Cov) != r.w*r.h {
				return nil, errors.New("spread: plates out of register must have one size")
			}
			for at, v := range set.p.Cov {
				set.out[at] |= uint8(v>>15) << i
			}
		}
	}
	return r, nil
}

// pixels rounds a shift.
func (r *Register) pixels(s Shift) (dx, dy int) {
	return int(math.Round(s.X * r.ppi / mmPerInch)), int(math.Round(s.Y * r.ppi / mmPerInch))
}

// Open lists what opens when the plates lie so, the largest first. Paper that an
// outline leaves behind as it moves is none: a spot counts where the picture
// has ink without a break between all places that the plates hold over it.
func (r *Register) Open(shifts []Shift) ([]Opening, error) {
	if len(shifts) != r.n {
		return nil, errors.New("spread: give a shift for each plate")
	}
	print := r.moved(shifts)
	way := r.way(shifts)
	var bared []int
	for at, v := range print {
		if v == 0 && r.inked(at, way) {
			bared = append(bared, at)
		}
	}
	return r.openings(print, bared), nil
}

// moved is what prints where, with the plates shifted.
func (r *Register) moved(shifts []Shift) []uint8 {
	print := make([]uint8, len(r.now))
	for i := range shifts {
		dx, dy := r.pixels(shifts[i])
		bit := uint8(1) << i
		for y := max(0, dy); y < min(r.h, r.h+dy); y++ {
			x0, x1 := max(0, dx), min(r.w, r.w+dx)
			if x0 >= x1 {
				break
			}
			to, from := print[y*r.w+x0:y*r.w+x1], r.now[(y-dy)*r.w+x0-dx:]
			for x := range to {
				to[x] |= from[x] & bit
			}
		}
	}
	return print
}

// way lists the steps from a pixel to what each plate holds over it, and all
// between each two of them.
func (r *Register) way(shifts []Shift) (way [][2]int) {
	for i := range shifts {
		ax, ay := r.pixels(shifts[i])
		for j := range i + 1 {
			bx, by := r.pixels(shifts[j])
			n := max(ax-bx, bx-ax, ay-by, by-ay, 1)
			for k := range n + 1 {
				at := func(a, b int) int { return -a - int(math.Round(float64((b-a)*k)/float64(n))) }
				if p := [2]int{at(ax, bx), at(ay, by)}; !slices.Contains(way, p) {
					way = append(way, p)
				}
			}
		}
	}
	return way
}

// inked reports whether the picture has ink all the way.
func (r *Register) inked(at int, way [][2]int) bool {
	x, y := at%r.w, at/r.w
	for _, p := range way {
		i, j := x+p[0], y+p[1]
		if i < 0 || j < 0 || i >= r.w || j >= r.h || r.was[j*r.w+i] == 0 {
			return false
		}
	}
	return true
}

// openings joins pixels to places.
func (r *Register) openings(print []uint8, bared []int) []Opening {
	mm := mmPerInch / r.ppi
	open := make(map[int]bool, len(bared))
	for _, at := range bared {
		open[at] = true
	}
	var out []Opening
	for _, first := range bared {
		if !open[first] {
			continue
		}
		delete(open, first)
		var rim [8]int
		area, edge := 0, 0
		x0, y0, x1, y1 := r.w, r.h, 0, 0
		for stack := []int{first}; len(stack) > 0; {
			at := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			area++
			x, y := at%r.w, at/r.w
			x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x+1), max(y1, y+1)
			for j := max(y-1, 0); j <= min(y+1, r.h-1); j++ {
				for i := max(x-1, 0); i <= min(x+1, r.w-1); i++ {
					next := j*r.w + i
					if open[next] {
						delete(open, next)
						stack = append(stack, next)
					}
					if (i == x) != (j == y) && print[next] != 0 {
						edge++
						for k := range r.n {
							rim[k] += int(print[next] >> k & 1)
						}
					}
				}
			}
		}
		o := Opening{Area: float64(area) * mm * mm, Width: 2 * float64(area) / float64(max(edge, 1)) * mm,
			X: float64(x0) * mm, Y: float64(y0) * mm, Wd: float64(x1-x0) * mm, Ht: float64(y1-y0) * mm}
		o.Inks = twoMost(rim[:r.n])
		out = append(out, o)
	}
	slices.SortStableFunc(out, func(a, b Opening) int {
		switch {
		case a.Area > b.Area:
			return -1
		case a.Area < b.Area:
			return 1
		}
		return 0
	})
	return out
}

// twoMost are the two largest of some counts, in order; one alone twice.
func twoMost(count []int) [2]int {
	a, b := 0, -1
	for i := range count {
		if count[i] > count[a] {
			a = i
		}
	}
	for i := range count {
		if i != a && count[i] > 0 && (b < 0 || count[i] > count[b]) {
			b = i
		}
	}
	if b < 0 {
		b = a
	}
	return [2]int{min(a, b), max(a, b)}
}

// directions are tried for the worst shift.
const directions = 16

// Worst returns the shifts that bare the most paper between inks: one plate lies
// a length in millimetres away from all others, each plate and sixteen
// directions being tried. Where nothing opens, the last plate lies to the
// right.
func (r *Register) Worst(mm float64) []Shift {
	found := make([]int, r.n*directions)
	parallel(len(found), func(lo, hi int) {
		for k := lo; k < hi; k++ {
			found[k] = r.alone(k/directions, toward(mm, k%directions))
		}
	})
	worst := (r.n - 1) * directions
	for k, n := range found {
		if n > found[worst] {
			worst = k
		}
	}
	shifts := make([]Shift, r.n)
	shifts[worst/directions] = toward(mm, worst%directions)
	return shifts
}

func toward(mm float64, k int) Shift {
	sin, cos := math.Sincos(2 * math.Pi * float64(k) / directions)
	round := func(v float64) float64 { return math.Round(v*mm*1e6) / 1e6 }
	return Shift{round(cos), round(sin)}
}

// alone counts the pixels that are bared when one plate is shifted.
func (r *Register) alone(i int, by Shift) (count int) {
	dx, dy := r.pixels(by)
	way := r.way([]Shift{{}, by})
	bit := uint8(1) << i
	for y := max(0, dy); y < min(r.h, r.h+dy); y++ {
		x0, x1 := max(0, dx), min(r.w, r.w+dx)
		if x0 >= x1 {
			break
		}
		to, from := r.now[y*r.w+x0:y*r.w+x1], r.now[(y-dy)*r.w+x0-dx:]
		for x, v := range to {
			if v == bit && from[x]&bit == 0 && r.inked(y*r.w+x0+x, way) {
				count++
			}
		}
	}
	return count
}

// Scatter returns shifts for n plates as they may happen: each lies anywhere
// within a circle a length in millimetres across, so that no two are further
// apart. The same seed gives the same shifts.
func Scatter(n int, mm float64, seed uint64) []Shift {
	shifts := make([]Shift, n)
	state := seed
	next := func() float64 { // G. Steele, D. Lea, C. Flood, "Fast splittable pseudorandom number generators", 2014
		state += 0x9e3779b97f4a7c15
		z := state
		z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
		z = (z ^ z>>27) * 0x94d049bb133111eb
		return float64((z^z>>31)>>11) / (1 << 53)
	}
	for i := range shifts {
		for {
			x, y := 2*next()-1, 2*next()-1
			if float64(x*x)+float64(y*y) <= 1 {
				shifts[i] = Shift{math.Round(x*mm/2*1e6) / 1e6, math.Round(y*mm/2*1e6) / 1e6}
				break
			}
		}
	}
	return shifts
}
