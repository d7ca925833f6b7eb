package halftone

import (
	"fmt"
	"math"
)

// Spec says what screen is wanted.
type Spec struct {
	Ruling float64 // lines per inch; ignored for Stochastic and None
	Angle  float64 // degrees, counterclockwise on the right-reading film; ignored for Stochastic and None
	Dot    Dot
	DPI    float64 // film pixels per inch

	// MinDot and MinHole are the diameters in millimetres of the smallest dot
	// and hole that survive (for Line the widths of the thinnest line and
	// gap). A tone below what the smallest dot holds prints as nothing or as
	// the smallest dot, whichever is nearer. 0 means a single pixel.
	MinDot, MinHole float64
}

// Screen is a threshold for every pixel of the film. It is immutable and may
// be used by several goroutines.
type Screen struct {
	spec          Spec
	ruling, angle float64 // as they came out
	dots, holes   float64 // coverage of smallest dots and holes everywhere

	brick
	rows [][]uint16 // h rows of w + wordPixels thresholds: the start is repeated behind the end
}

const wordPixels = 64

// NewScreen makes a screen. It fails when a number is out of range, when the
// ruling is above half the film's resolution, and when the smallest dot does
// not fit the ruling's cell.
func NewScreen(spec Spec) (*Screen, error) {
	s := &Screen{spec: spec}
	if !(spec.DPI > 0) || math.IsInf(spec.DPI, 0) {
		return nil, fmt.Errorf("halftone: film resolution %.6g dpi: give a positive number", spec.DPI)
	}
	if !(spec.MinDot >= 0) || !(spec.MinHole >= 0) {
		return nil, fmt.Errorf("halftone: smallest dot %.4g mm, hole %.4g mm: give lengths of 0 or more", spec.MinDot, spec.MinHole)
	}
	small := smallest{spec.MinDot * spec.DPI / mmPerInch, spec.MinHole * spec.DPI / mmPerInch}
	switch spec.Dot {
	case None:
		s.brick = brick{w: wordPixels, h: 1}
		thr := make([]uint16, wordPixels)
		for i := range thr {
			thr[i] = Full / 2
		}
		s.setRows(thr)
		return s, nil
	case Stochastic:
		thr, side, err := stochastic(small, spec.DPI)
		if err != nil {
			return nil, fmt.Errorf("halftone: stochastic with smallest dot %.3g mm, hole %.3g mm on %.4g dpi: %w: use a smaller dot or a coarser film", spec.MinDot, spec.MinHole, spec.DPI, err)
		}
		s.brick = brick{w: side, h: side}
		s.setRows(thr)
		return s, nil
	case Round, Ellipse, Diamond, Line:
	default:
		return nil, fmt.Errorf("halftone: unknown %v", spec.Dot)
	}

	if !(spec.Ruling > 0) {
		return nil, fmt.Errorf("halftone: ruling %.4g lpi: give a positive number", spec.Ruling)
	}
	if math.IsNaN(spec.Angle) || math.IsInf(spec.Angle, 0) {
		return nil, fmt.Errorf("halftone: angle %.4g°: give a number of degrees", spec.Angle)
	}
	if spec.Ruling > spec.DPI/2 {
		return nil, fmt.Errorf("halftone: ruling %.4g lpi is above half of the film's %.4g dpi: a ruling of %.3g or less gives 16 levels, or use a finer film",
			spec.Ruling, spec.DPI, spec.DPI/fewCell)
	}
	cell, err := findSupercell(spec.Ruling/spec.DPI, math.Mod(spec.Angle, 180))
	if err != nil {
		return nil, fmt.Errorf("halftone: ruling %.4g lpi at %.4g° on %.4g dpi: %w: use a higher ruling or a coarser film", spec.Ruling, spec.Angle, spec.DPI, err)
	}
	thr, dots, holes, err := cell.thresholds(spec.Dot, small)
	if err != nil {
		return nil, fmt.Errorf("halftone: ruling %.4g lpi with smallest dot %.3g mm: %w: use a lower ruling", spec.Ruling, spec.MinDot, err)
	}
	s.ruling, s.angle, s.dots, s.holes = cell.ruling()*spec.DPI, mod180(cell.angle()), dots, holes
	s.brick = cell.brick()
	s.setRows(thr)
	return s, nil
}

func mod180(deg float64) float64 {
	if deg = math.Mod(deg, 180); deg < 0 {
		deg += 180
	}
	return deg
}

func (s *Screen) setRows(thr []uint16) {
	s.rows = make([][]uint16, s.h)
	for y := range s.rows {
		row := make([]uint16, s.w+wordPixels)
		for x := range row {
			row[x] = thr[y*s.w+x%s.w]
		}
		s.rows[y] = row
	}
}

// Spec returns what the screen was made from.
func (s *Screen) Spec() Spec { return s.spec }

// Ruling returns the ruling that the film has, in lines per inch: within
// 0.5 % of the wanted one. It is 0 for Stochastic and None.
func (s *Screen) Ruling() float64 { return s.ruling }

// Angle returns the angle that the film has, 0 … 180 degrees: within 0.05° of
// the wanted one.
func (s *Screen) Angle() float64 { return s.angle }

// ToneLimits returns the coverage, 0 … 1, of the screen of smallest dots and
// of the screen of smallest holes. Between them tones are exact.
func (s *Screen) ToneLimits() (low, high float64) { return s.dots, 1 - s.holes }

// Levels returns the gray levels of one cell, (dpi/ruling)² + 1; 2 for None.
func (s *Screen) Levels() float64 {
	switch s.spec.Dot {
	case None:
		return 2
	case Stochastic:
		return Full + 1
	}
	r := s.spec.DPI / s.spec.Ruling
	return r*r + 1
}

// fewLevels is where the steps of a cell begin to show as contours, whatever
// the supercell evens out.
const fewLevels = 16

// fewCell is the cell in pixels that has fewLevels: √15.
const fewCell = 3.8729833462074170

// Findings returns what should be known about the screen before it is used.
func (s *Screen) Findings() []Finding {
	if s.Levels() >= fewLevels || s.spec.Dot == None {
		return nil
	}
	return []Finding{{
		Code:    "few-levels",
		Message: fmt.Sprintf("%.4g lpi on a film of %.4g dpi has only %.0f gray levels in a cell", s.spec.Ruling, s.spec.DPI, s.Levels()),
		Mend:    fmt.Sprintf("use a ruling of %.3g lpi or less, or a film of %.4g dpi or more", math.Floor(s.spec.DPI/fewCell), math.Ceil(s.spec.Ruling*fewCell)),
	}}
}

// row returns the thresholds of film row y and the place in them of film
// column 0.
func (s *Screen) row(y int) (thr []uint16, start int) {
	k := y / s.h
	return s.rows[y-k*s.h], (s.w - int(int64(k)*int64(s.shift)%int64(s.w))) % s.w
}

// Row screens row y of a film whose pixels 0 … len(cov)−1 have coverage cov,
// and packs it into dst, 8 pixels a byte, the leftmost highest.
func (s *Screen) Row(dst []byte, cov []uint16, y int) {
	thr, at := s.row(y)
	x := 0
	for ; x+wordPixels <= len(cov); x += wordPixels {
		putWord(dst[x/8:], compare((*[wordPixels]uint16)(cov[x:]), (*[wordPixels]uint16)(thr[at:])))
		if at += wordPixels; at >= s.w {
			at -= s.w
		}
	}
	if x < len(cov) {
		var rest [wordPixels]uint16
		copy(rest[:], cov[x:])
		putBytes(dst[x/8:(len(cov)+7)/8], compare(&rest, (*[wordPixels]uint16)(thr[at:])))
	}
}

// compare sets bit 63−i where cov[i] > thr[i].
func compare(cov, thr *[wordPixels]uint16) (word uint64) {
	for i := 0; i < wordPixels; i += 8 {
		var b uint32
		c, t := (*[8]uint16)(cov[i:]), (*[8]uint16)(thr[i:])
		b |= (uint32(t[0]) - uint32(c[0])) >> 31 << 7
		b |= (uint32(t[1]) - uint32(c[1])) >> 31 << 6
		b |= (uint32(t[2]) - uint32(c[2])) >> 31 << 5
		b |= (uint32(t[3]) - uint32(c[3])) >> 31 << 4
		b |= (uint32(t[4]) - uint32(c[4])) >> 31 << 3
		b |= (uint32(t[5]) - uint32(c[5])) >> 31 << 2
		b |= (uint32(t[6]) - uint32(c[6])) >> 31 << 1
		b |= (uint32(t[7]) - uint32(c[7])) >> 31
		word = word<<8 | uint64(b)
	}
	return word
}

// compareOne is compare for a single coverage.
func compareOne(cov uint16, thr *[wordPixels]uint16) (word uint64) {
	c := uint32(cov)
	for i := 0; i < wordPixels; i += 8 {
		var b uint32
		for _, t := range (*[8]uint16)(thr[i:]) {
			b = b<<1 | (uint32(t)-c)>>31
		}
		word = word<<8 | uint64(b)
	}
	return word
}

// putWord writes 64 pixels.
func putWord(dst []byte, word uint64) {
	_ = dst[7]
	dst[0], dst[1], dst[2], dst[3] = byte(word>>56), byte(word>>48), byte(word>>40), byte(word>>32)
	dst[4], dst[5], dst[6], dst[7] = byte(word>>24), byte(word>>16), byte(word>>8), byte(word)
}

// putBytes writes the first 8·len(dst) pixels of word.
func putBytes(dst []byte, word uint64) {
	for i := range dst {
		dst[i] = byte(word >> (56 - 8*i))
	}
}
