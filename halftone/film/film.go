// Package film makes the sheets a print shop exposes from: a plate's dots at
// film resolution with registration marks, crop marks, a label and wedges
// around them, written as one-bit TIFF, PNG or PDF at true size.
//
// Start with [New], which lays out one [Sheet] for all plates of a job, so
// that every plate is the same size and carries its marks at the same place.
// [Layout.Page] puts one plate on the sheet; [WriteTIFF], [WritePNG] and
// [WritePDF] write it.
//
// Lengths are millimetres from the sheet's top left corner, x to the right and
// y down. A length becomes round(mm·dpi/25.4) pixels, 25.4 mm being the inch of
// ISO 31-1. A pixel carries ink when its center lies inside a mark. Marks are
// kept as outlines in 1/256 pixel and drawn into whatever rows are asked for:
// memory does not grow with the film, and a strip is the same bits whichever
// strips are asked for around it.
//
// A [Set] holds all plates of a print at the artwork's resolution:
// [WriteSetPDF], [WriteSetTIFF] and [WriteOpenRaster] write them as one file, in
// their inks. [Master] is the page of a stencil duplicator, [ExposureStrip] a film
// to find an exposure with.
//
// Files are packed in pieces cut the same everywhere: the same film gives the same
// bytes on any number of cores. The package knows coverage and shapes; colors come
// in as numbers.
package film

import (
	"errors"
	"time"

	"platewright/halftone"
)

// Bits is a one-bit picture made on demand, 1 = ink.
type Bits = halftone.Bits

// Tint makes a w × h pixel patch of one tint, 0 … 100 percent, through the
// screen of the plate it stands beside.
type Tint func(percent float64, w, h int) Bits

// Compression says how a one-bit picture is packed.
type Compression int

const (
	Deflate Compression = iota // zlib, RFC 1950; good for all films
	Group4                     // ITU-T T.6; for dots about half the size at 1200 dpi, three quarters at 600
)

// Info is what a file says of itself. The zero value says nothing.
type Info struct {
	DPI         float64     // pixels per inch; 0: what the page says, an error where it says nothing
	Title       string      // the job and plate
	Description string      // one line on what the film is
	Date        time.Time   // the job's date; zero writes none. The clock is never read
	Compression Compression // of TIFF and PDF; PNG knows Deflate only

	pace  *Pace // of TIFF and PNG
	place int
}

var errNoResolution = errors.New("film: no resolution: give the file its pixels per inch")

// dpi is the resolution to write for a picture.
func (i *Info) dpi(b Bits) (float64, error) {
	d := i.DPI
	if p, ok := b.(*Page); ok && d == 0 {
		d = p.layout.sheet.DPI
	}
	if !(d > 0) || d > 1e5 {
		return 0, errNoResolution
	}
	return d, nil
}
