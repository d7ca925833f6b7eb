package film

import (
	"encoding/binary"
	"io"
	"strings"
)

// Tags of TIFF 6.0, section 16 (separated pictures), and its predictor.
const (
	tagPredictor = 317
	tagInkSet    = 332
	tagInkNames  = 333
	tagInkCount  = 334
	tagDotRange  = 336
)

// WriteSetTIFF writes all plates as one TIFF 6.0 separated picture: a sample an
// ink, 0 none and 255 full ink, with the inks' names. It seeks back once.
func WriteSetTIFF(w io.WriteSeeker, s Set, info Info) error {
	width, height, dpi, err := s.open(info)
	if err != nil {
		return err
	}
	n := len(s.Plates)
	stride := width * n
	t := tiffFile{width: width, height: height, rows: min(height, chunkRows(stride)), dpi: dpi, info: info}
	bits := make([]uint32, n)
	var names []string
	for i := range bits {
		bits[i] = 8
		names = append(names, s.Inks[i].Name)
	}
	t.short(tagBits, bits...)
	t.short(tagCompression, 8)
	t.short(tagPhotometric, 5)
	t.short(tagSamples, uint32(n))
	t.short(tagPlanar, 1)
	t.short(tagPredictor, 2)
	t.short(tagInkSet, 2) // inks other than cyan, magenta, yellow, black
	t.text(tagInkNames, strings.Join(names, "\x00"))
	t.short(tagInkCount, uint32(n))
	t.short(tagDotRange, 0, 255)
	return t.write(w, func(p *packer, y0, y1 int) ([]byte, error) {
		raw := p.rows(stride * (y1 - y0))
		s.interleave(raw, width, y0, y1)
		for row := raw; len(row) > 0; row = row[stride:] {
			for i := stride - 1; i >= n; i-- {
				row[i] -= row[i-n]
			}
		}
		z, err := p.pack(raw, true, true)
		return binary.BigEndian.AppendUint32(z.data, z.adler), err
	})
}
