package film

import (
	"errors"
	"io"
)

var errTodo = errors.New("film: not written yet")

// WriteTIFF writes a one-bit TIFF 6.0. It seeks back once to its header.
func WriteTIFF(w io.WriteSeeker, b Bits, info Info) error { return errTodo }

// WritePNG writes a one-bit PNG, black where ink prints.
func WritePNG(w io.Writer, b Bits, info Info) error { return errTodo }

// WritePDF writes one page a plate, black.
func WritePDF(w io.Writer, pages []*Page, info Info) error { return errTodo }

// WritePlate writes coverage 0 … 65535, row-major, as a gray PNG of 8 or 16 bits: 0 = full ink, 255 (65535) = none.
func WritePlate(w io.Writer, width, height int, cov []uint16, bitDepth int, info Info) error {
	return errTodo
}

// WriteProof writes sRGB pixels, three a pixel, row-major, as an RGB PNG: 8 bits from pix, 16 from pix16; the other is nil.
func WriteProof(w io.Writer, width, height int, pix []uint8, pix16 []uint16, info Info) error {
	return errTodo
}
