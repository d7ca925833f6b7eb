package film

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"math"

	"platewright/halftone"
)

// PNG color types (PNG, third edition, 11.2.1).
const (
	pngGray = 0
	pngRGB  = 2
	pngRGBA = 6
)

// WritePNG writes a one-bit film as PNG, black where ink prints, with its
// resolution in pixels a metre (1200 dpi is 47244).
func WritePNG(w io.Writer, b Bits, info Info) error {
	if info.Compression != Deflate {
		return errors.New("film: a PNG knows Deflate only: leave the compression as it is or write TIFF or PDF")
	}
	dpi, err := info.dpi(b)
	if err != nil {
		return err
	}
	width, height := b.Size()
	p := pngFile{width: width, height: height, depth: 1, color: pngGray, dpi: dpi, info: info}
	stride := p.stride()
	return p.write(w, func(dst []byte, y0, y1 int) {
		b.Rows(dst, stride, y0, y1)
		for i := 0; i < len(dst); i += stride {
			invertBits(dst[i:], width)
		}
	})
}

// WritePlate writes coverage as a gray PNG of 8 or 16 bits: 0 is full ink, 255
// (65535) none.
func WritePlate(w io.Writer, plate halftone.Tone, bitDepth int, info Info) error {
	if bitDepth != 8 && bitDepth != 16 {
		return fmt.Errorf("film: plate of %d bits: give 8 or 16", bitDepth)
	}
	if info.Compression != Deflate {
		return errors.New("film: a PNG knows Deflate only: leave the compression as it is")
	}
	dpi, err := info.dpi(nil)
	if err != nil {
		return err
	}
	width, height := plate.Size()
	p := pngFile{width: width, height: height, depth: bitDepth, color: pngGray, dpi: dpi, info: info}
	if bitDepth == 8 {
		return p.write(w, func(dst []byte, y0, y1 int) { grayRows(plate, dst, y0, y1) })
	}
	return p.write(w, func(dst []byte, y0, y1 int) {
		row := make([]uint16, width)
		for y := y0; y < y1; y++ {
			plate.Row(row, y)
			for _, c := range row {
				binary.BigEndian.PutUint16(dst, ^c)
				dst = dst[2:]
			}
		}
	})
}

// eight rounds 0 … 65535 to 0 … 255.
func eight(c uint16) uint8 { return uint8((uint32(c) + 128) / 257) }

// WriteProof writes sRGB pixels, three numbers each, row-major, as an RGB PNG that
// says it is sRGB: 8 bits from pix or 16 from pix16; the other is nil.
func WriteProof(w io.Writer, width, height int, pix []uint8, pix16 []uint16, info Info) error {
	if n := 3 * width * height; len(pix)+len(pix16) != n || len(pix)*len(pix16) != 0 {
		return fmt.Errorf("film: proof of %d x %d pixels has %d numbers of 8 bits and %d of 16: give %d of one", width, height, len(pix), len(pix16), n)
	}
	if pix16 == nil {
		return WriteProofRows(w, width, height, 8, func(dst []byte, y0, y1 int) { copy(dst, pix[3*y0*width:3*y1*width]) }, info)
	}
	return WriteProofRows(w, width, height, 16, func(dst []byte, y0, y1 int) {
		for i, v := range pix16[3*y0*width : 3*y1*width] {
			binary.BigEndian.PutUint16(dst[2*i:], v)
		}
	}, info)
}

// WriteProofRows is WriteProof for a picture that is made row by row: rows fills
// dst with rows y0 … y1-1, three numbers a pixel of 8 bits or of 16, high byte
// first. It is called by several goroutines at once, for some rows twice.
func WriteProofRows(w io.Writer, width, height, bitDepth int, rows func(dst []byte, y0, y1 int), info Info) error {
	if bitDepth != 8 && bitDepth != 16 {
		return fmt.Errorf("film: proof of %d bits: give 8 or 16", bitDepth)
	}
	if info.Compression != Deflate {
		return errors.New("film: a PNG knows Deflate only: leave the compression as it is")
	}
	dpi, err := info.dpi(nil)
	if err != nil {
		return err
	}
	p := pngFile{width: width, height: height, depth: bitDepth, color: pngRGB, dpi: dpi, info: info}
	return p.write(w, rows)
}

// pngFile is a PNG under way.
type pngFile struct {
	width, height, depth, color int
	dpi                         float64
	info                        Info
	err                         error
}

func (p *pngFile) pixelBits() int {
	switch p.color {
	case pngRGB:
		return 3 * p.depth
	case pngRGBA:
		return 4 * p.depth
	}
	return p.depth
}

func (p *pngFile) stride() int { return (p.width*p.pixelBits() + 7) / 8 }

// chunk writes one chunk: length, type, data, CRC-32.
func (p *pngFile) chunk(w io.Writer, kind string, data ...byte) {
	if p.err != nil {
		return
	}
	b := binary.BigEndian.AppendUint32(make([]byte, 0, len(data)+12), uint32(len(data)))
	b = append(append(b, kind...), data...)
	_, p.err = w.Write(binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:])))
}

// write writes the file; rows gives unfiltered rows. Chunks of rows are packed on
// all cores and joined to one zlib stream.
func (p *pngFile) write(w io.Writer, rows func(dst []byte, y0, y1 int)) error {
	if p.width < 1 || p.height < 1 || p.width > math.MaxInt32 || p.height > math.MaxInt32 {
		return fmt.Errorf("film: a PNG of %d x %d pixels cannot be: each side is 1 … 2147483647", p.width, p.height)
	}
	p.head(w)
	stride := p.stride()
	step := chunkRows(stride)
	n := (p.height + step - 1) / step
	adler := uint32(1)
	space := newPacker
	if p.color == pngGray && p.depth >= 8 {
		space = newGrayPacker
	}
	err := inOrder(n, space, func(z *packer, i int) (part, error) {
		p.info.begin(i)
		y0, y1 := i*step, min(p.height, (i+1)*step)
		return z.pack(p.filtered(z, rows, y0, y1), i == 0, i == n-1)
	}, func(c part) error {
		adler = joinAdler(adler, c.adler, c.raw)
		p.chunk(w, "IDAT", c.data...)
		return p.err
	})
	if err != nil {
		return err
	}
	p.chunk(w, "IDAT", binary.BigEndian.AppendUint32(nil, adler)...)
	p.chunk(w, "IEND")
	return p.err
}

func (p *pngFile) head(w io.Writer) {
	_, p.err = io.WriteString(w, "\x89PNG\r\n\x1a\n")
	be := binary.BigEndian
	b := be.AppendUint32(be.AppendUint32(nil, uint32(p.width)), uint32(p.height))
	p.chunk(w, "IHDR", append(b, byte(p.depth), byte(p.color), 0, 0, 0)...)
	if p.color != pngGray {
		p.chunk(w, "sRGB", 1) // relative colorimetric: paper is not white
		p.chunk(w, "gAMA", be.AppendUint32(nil, 45455)...)
	}
	perMetre := uint32(math.Round(p.dpi / mmPerInch * 1000))
	p.chunk(w, "pHYs", append(be.AppendUint32(be.AppendUint32(nil, perMetre), perMetre), 1)...)
	if d := p.info.Date.UTC(); !d.IsZero() {
		p.chunk(w, "tIME", byte(d.Year()>>8), byte(d.Year()), byte(d.Month()), byte(d.Day()), byte(d.Hour()), byte(d.Minute()), byte(d.Second()))
	}
	for _, t := range [...]struct{ key, s string }{{"Title", p.info.Title}, {"Description", p.info.Description}, {"Software", software}} {
		if t.s != "" {
			p.chunk(w, "iTXt", append([]byte(t.key), "\x00\x00\x00\x00\x00"+t.s...)...)
		}
	}
}

// filtered is rows y0 … y1-1, each with its filter byte. One-bit rows stay as
// they are, which packs best.
func (p *pngFile) filtered(z *packer, rows func(dst []byte, y0, y1 int), y0, y1 int) []byte {
	stride, n := p.stride(), y1-y0
	if p.depth >= 8 {
		return filterRows(z, rows, stride, p.pixelBits()/8, y0, y1)
	}
	raw := z.rows((stride+1)*n + stride*n)
	out, in := raw[:(stride+1)*n], raw[(stride+1)*n:]
	rows(in, y0, y1)
	for i := range n {
		out[i*(stride+1)] = 0
		copy(out[i*(stride+1)+1:(i+1)*(stride+1)], in[i*stride:(i+1)*stride])
	}
	return out
}

// filterRows is rows y0 … y1-1 of pixels of whole bytes, each behind its filter
// byte: the filter whose bytes, as signed numbers, sum to least on a sample of
// the row (PNG, 12.7: the usual heuristic).
func filterRows(z *packer, rows func(dst []byte, y0, y1 int), stride, pixel, y0, y1 int) []byte {
	n, line := y1-y0, stride+1
	raw := z.rows(line*n + stride*(n+1))
	out, in := raw[:line*n], raw[line*n:]
	if y0 == 0 {
		clear(in[:stride])
		rows(in[stride:], y0, y1)
	} else {
		rows(in, y0-1, y1)
	}
	for i := range n {
		above, row := in[i*stride:(i+1)*stride], in[(i+1)*stride:(i+2)*stride]
		best := bestFilter(row, above, pixel)
		out[i*line] = byte(best)
		filter(best, out[i*line+1:(i+1)*line], row, above, pixel)
	}
	return out
}

// filter writes a row through filter number f; back is the bytes of a pixel.
func filter(f int, out, row, above []byte, back int) {
	n := len(row)
	out, above = out[:n], above[:n]
	left := row[:max(0, n-back)]
	switch f {
	case 0:
		copy(out, row)
	case 1:
		copy(out, row[:min(n, back)])
		for i, v := range left {
			out[i+back] = row[i+back] - v
		}
	case 2:
		for i, v := range row {
			out[i] = v - above[i]
		}
	case 3:
		for i := range min(n, back) {
			out[i] = row[i] - above[i]/2
		}
		for i, v := range left {
			out[i+back] = row[i+back] - byte((int(v)+int(above[i+back]))/2)
		}
	case 4:
		for i := range min(n, back) {
			out[i] = row[i] - above[i]
		}
		for i, v := range left {
			out[i+back] = row[i+back] - nearest(v, above[i+back], above[i])
		}
	}
}

// Filters are tried on filterTry bytes out of filterEach, which finds the one
// that all bytes would nearly always.
const (
	filterTry  = 48
	filterEach = 384
)

// bestFilter returns the number of the filter that suits a row best.
func bestFilter(row, above []byte, back int) int {
	n := len(row)
	var sum [5]int
	for from := back; from < n; from += filterEach {
		to := min(n, from+filterTry)
		here, left, up, corner := row[from:to], row[from-back:to-back], above[from:to], above[from-back:to-back]
		for i, v := range here {
			a, b := left[i], up[i]
			sum[0] += weight(v)
			sum[1] += weight(v - a)
			sum[2] += weight(v - b)
			sum[3] += weight(v - byte((int(a)+int(b))/2))
			sum[4] += weight(v - nearest(a, b, corner[i]))
		}
	}
	best := 0
	for f, s := range sum {
		if s < sum[best] {
			best = f
		}
	}
	return best
}

// weight is a byte's size as a signed number.
func weight(v byte) int {
	i := int(int8(v))
	return (i ^ i>>63) - i>>63
}

// nearest is the Paeth predictor (PNG, 9.4): of left, up and corner the one
// nearest to left + up - corner, in that order when equal.
func nearest(left, up, corner byte) byte {
	pa, pb := int(up)-int(corner), int(left)-int(corner)
	pc := pa + pb
	pa, pb, pc = max(pa, -pa), max(pb, -pb), max(pc, -pc)
	if pa <= pb && pa <= pc {
		return left
	}
	if pb <= pc {
		return up
	}
	return corner
}
