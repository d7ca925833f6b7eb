// Package halftone turns coverage into the dots of a film.
//
// Call [NewScreen] for a screen of one ruling, angle and dot at one film
// resolution, then [NewRaster] to lay a plate of coverage through it at the
// size of the film. A [Raster] is a one-bit picture made on demand, row by row
// and by as many goroutines as wanted; it never holds the whole film.
//
// # Screens
//
// A cluster-dot screen is a supercell: N × N cells whose two sides are whole
// numbers of film pixels, (a, b) and (−b, a), so that
//
//	tan θ = b / a,   ruling = dpi · N / √(a² + b²),   M = a² + b² pixels.
//
// NewScreen searches the smallest N that meets ruling and angle closely. The M
// pixels are put in the order in which the dots grow, and the pixel of rank r
// gets the threshold (r + ½) / M: every tone is exact over the supercell. The
// supercell is stored as one brick of gcd(a, b) rows that repeats along x and
// steps sideways from brick to brick (Holladay, "An optimum algorithm for
// halftone generation for displays and hard copies", Proc. SID 21(2), 1980).
//
// # Solids and line work
//
// A picture's edge between solid and nothing is anti-aliased over a pixel or
// two. Screening those pixels would fray the edge, so [Raster] finds them and
// cuts the enlarged coverage at half instead.
//
// The package knows no color. Coverage is 0 … 65535, 65535 being solid ink.
package halftone

// Full is the coverage of solid ink.
const Full = 65535

// Bits is a one-bit picture made on demand. Both methods may be called from
// several goroutines at once.
type Bits interface {
	// Size returns width and height in pixels.
	Size() (w, h int)

	// Rows writes rows y0 … y1−1, packed eight pixels a byte, the leftmost
	// pixel in the highest bit, 1 = ink. Row y starts at
	// dst[(y−y0)·stride]; the bits beyond the width in its last byte are 0.
	// Whatever was in those bytes is overwritten. The bytes do not depend on
	// how the rows are divided into calls.
	Rows(dst []byte, stride, y0, y1 int)
}

// Tone is a picture of coverage given row by row. Both methods may be called
// from several goroutines at once.
type Tone interface {
	// Size returns width and height in pixels.
	Size() (w, h int)

	// Row writes the coverage of row y, 0 … Full, into dst[:w].
	Row(dst []uint16, y int)
}

// Plate is the coverage of one ink at the resolution of the artwork, row by
// row. It is a [Tone].
type Plate struct {
	Width, Height int
	Cov           []uint16 // Width·Height values, 0 … Full
}

// Size returns the plate's width and height in pixels.
func (p *Plate) Size() (w, h int) { return p.Width, p.Height }

// Row copies row y into dst.
func (p *Plate) Row(dst []uint16, y int) {
	copy(dst[:p.Width], p.Cov[y*p.Width:(y+1)*p.Width])
}

// Finding is something a person should know before printing: what is wrong,
// and the mend. Code is a short stable word for machines.
type Finding struct {
	Code    string
	Message string
	Mend    string
}
