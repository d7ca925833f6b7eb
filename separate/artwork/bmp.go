package artwork

import (
	"encoding/binary"
	"fmt"
	"image/color"
	"math/bits"
)

// bmpInfo is what the decoder keeps of the header of a Windows or OS/2 bitmap.
type bmpInfo struct {
	bits    int
	runs    bool // run lengths
	topDown bool
	offset  int // of the pixels
	palette []color.NRGBA
	masks   [4]uint32 // red, green, blue, alpha, for 16 and 32 bits
}

// Compression of a bitmap.
const (
	bmpNone        = 0
	bmpRuns8       = 1
	bmpRuns4       = 2
	bmpMasks       = 3
	bmpMasksAlpha  = 6
	bmpFileHeader  = 14
	bmpCoreHeader  = 12  // OS/2 1
	bmpInfoHeader  = 40  // the first of Windows, has no masks of its own
	bmpAlphaHeader = 56  // the first that holds a mask of the opacity
	bmpFifthHeader = 124 // the first that can hold a color profile
)

func bmpHeader(h *header) error {
	le := binary.LittleEndian
	b := h.data
	size := int(le.Uint32(b[14:]))
	if size < bmpCoreHeader || size > 1024 {
		return malformed("the file is damaged (the header)")
	}
	if len(b) < bmpFileHeader+size {
		return errShort
	}
	m := &bmpInfo{offset: int(le.Uint32(b[10:]))}
	h.detail = m
	compression, used, entry := uint32(bmpNone), 0, 4
	if size < bmpInfoHeader {
		h.width, h.height = int(le.Uint16(b[18:])), int(le.Uint16(b[20:]))
		m.bits = int(le.Uint16(b[24:]))
		entry = 3
	} else {
		h.width, h.height = int(int32(le.Uint32(b[18:]))), int(int32(le.Uint32(b[22:])))
		m.bits = int(le.Uint16(b[28:]))
		compression = le.Uint32(b[30:])
		h.ppiX, h.ppiY = float64(int32(le.Uint32(b[38:])))*.0254, float64(int32(le.Uint32(b[42:])))*.0254
		used = int(le.Uint32(b[46:]))
	}
	if h.height < 0 {
		h.height, m.topDown = -h.height, true
	}
	if h.width <= 0 || h.height == 0 {
		return malformed(fmt.Sprintf("the file states a size of %d × %d pixels", h.width, h.height))
	}
	tables := bmpFileHeader + size
	switch {
	case compression == bmpNone && (m.bits == 16 || m.bits == 32):
		m.masks = [4]uint32{0x7c00, 0x3e0, 0x1f, 0}
		if m.bits == 32 {
			m.masks = [4]uint32{0xff0000, 0xff00, 0xff, 0}
			if size >= bmpAlphaHeader {
				m.masks[3] = 0xff000000
			}
		}
	case (compression == bmpMasks || compression == bmpMasksAlpha) && (m.bits == 16 || m.bits == 32):
		n := 3
		if size >= bmpAlphaHeader || compression == bmpMasksAlpha {
			n = 4
		}
		at := bmpFileHeader + bmpInfoHeader
		if len(b) < at+4*n {
			return errShort
		}
		for i := range n {
			m.masks[i] = le.Uint32(b[at+4*i:])
		}
		tables = max(tables, at+4*n)
	case compression == bmpRuns8 && m.bits == 8, compression == bmpRuns4 && m.bits == 4:
		m.runs = true
	case compression == bmpNone && (m.bits == 1 || m.bits == 2 || m.bits == 4 || m.bits == 8 || m.bits == 24):
	default:
		return unsupported(fmt.Sprintf("a BMP of this kind (%d bits, compression %d) is not read", m.bits, compression))
	}
	if m.bits <= 8 {
		n := 1 << m.bits
		if used > 0 && used < n {
			n = used
		}
		if m.offset > tables {
			n = min(n, (m.offset-tables)/entry)
		}
		if len(b) < tables+n*entry {
			return errShort
		}
		m.palette = make([]color.NRGBA, n)
		for i := range m.palette {
			e := b[tables+i*entry:]
			m.palette[i] = color.NRGBA{e[2], e[1], e[0], 255}
		}
	}
	const embedded = 0x4d424544 // 'MBED'
	if size >= bmpFifthHeader && le.Uint32(b[bmpFileHeader+56:]) == embedded {
		at, n := int64(le.Uint32(b[bmpFileHeader+112:]))+bmpFileHeader, int64(le.Uint32(b[bmpFileHeader+116:]))
		h.icc = []byte{}
		if at+n <= int64(len(b)) {
			h.icc = b[at : at+n]
		}
	}
	pixels := int64(h.width) * int64(h.height)
	h.bytesPerPixel = 4
	h.heldPerPixel = 4
	h.minData = int64(m.offset) + int64(m.rowBytes(h.width))*int64(h.height)
	if m.runs {
		h.bytesPerPixel += 1
		h.minData = pixels / 1024 // runs are 128 pixels a byte; some may be left out
	}
	return nil
}

// rowBytes is the length of a row, which is padded to 4 bytes.
func (m *bmpInfo) rowBytes(width int) int { return (width*m.bits + 31) / 32 * 4 }

func decodeBMP(h *header, p *Picture) error {
	m := h.detail.(*bmpInfo)
	if m.offset > len(h.data) {
		return errShort
	}
	src := h.data[m.offset:]
	w := &rowWriter{layout: layout{bits: m.bits, samples: 1, colors: colorRGB, palette: m.palette}, p: p}
	rowBytes := m.rowBytes(p.Width)
	if m.runs {
		rowBytes = p.Width
		w.bits = 8
		var err error
		if src, err = m.expandRuns(src, p.Width, p.Height); err != nil {
			return err
		}
	}
	if len(src) < rowBytes*p.Height {
		return errShort
	}
	p.allocate(8, m.masks[3] != 0)
	for y := range p.Height {
		row := src[y*rowBytes:][:rowBytes]
		to := p.Height - 1 - y
		if m.topDown {
			to = y
		}
		switch {
		case m.palette != nil:
			if err := w.put(row, p.Width, to, 0, 1); err != nil {
				return err
			}
		case m.bits == 24:
			for d := p.Pix[3*to*p.Width:][:3*p.Width]; len(d) > 0; d, row = d[3:], row[3:] {
				d[0], d[1], d[2] = row[2], row[1], row[0]
			}
		default:
			m.putMasked(row, p, to)
		}
	}
	// An opacity of zero everywhere was never meant as one.
	for _, a := range p.Alpha {
		if a != 0 {
			return nil
		}
	}
	p.Alpha = nil
	return nil
}

// putMasked stores a row of 16 or 32 bits a pixel.
func (m *bmpInfo) putMasked(row []byte, p *Picture, y int) {
	le := binary.LittleEndian
	for x := range p.Width {
		i := y*p.Width + x
		v := uint32(0)
		if m.bits == 16 {
			v = uint32(le.Uint16(row[2*x:]))
		} else {
			v = le.Uint32(row[4*x:])
		}
		for c := range 3 {
			p.Pix[3*i+c] = masked(v, m.masks[c])
		}
		if p.Alpha != nil {
			p.Alpha[i] = masked(v, m.masks[3])
		}
	}
}

// masked returns the value of the bits under a mask, scaled to 0 … 255.
func masked(v, mask uint32) uint8 {
	if mask == 0 {
		return 0
	}
	shift := bits.TrailingZeros32(mask)
	full := uint64(mask >> shift)
	return uint8((uint64(v&mask>>shift)*255 + full/2) / full)
}

// expandRuns returns one index a pixel. What the runs leave out is index 0.
func (m *bmpInfo) expandRuns(src []byte, width, height int) ([]byte, error) {
	dst := make([]byte, width*height)
	x, y := 0, 0
	put := func(v byte) {
		if x < width && y < height {
			dst[y*width+x] = v
		}
		x++
	}
	// pixel returns the k-th index of a run's bytes.
	pixel := func(b []byte, k int) byte {
		if m.bits == 8 {
			return b[k]
		}
		return b[k/2] >> (4 - k%2*4) & 15
	}
	for y < height {
		if len(src) < 2 {
			return nil, errShort
		}
		n, v := int(src[0]), int(src[1])
		run := src[1:2]
		src = src[2:]
		switch {
		case n > 0:
			for k := range n {
				put(pixel(run, k%(8/m.bits)))
			}
		case v == 0:
			x, y = 0, y+1
		case v == 1:
			return dst, nil
		case v == 2:
			if len(src) < 2 {
				return nil, errShort
			}
			x, y = x+int(src[0]), y+int(src[1])
			src = src[2:]
		default:
			stored := (v*m.bits + 15) / 16 * 2
			if len(src) < stored {
				return nil, errShort
			}
			for k := range v {
				put(pixel(src, k))
			}
			src = src[stored:]
		}
	}
	return dst, nil
}
