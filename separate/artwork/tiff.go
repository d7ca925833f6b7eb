package artwork

import (
	"bytes"
	"fmt"
	"image/color"
	"io"
	"math/bits"
	"slices"

	"github.com/klauspost/compress/zlib"
	"golang.org/x/image/ccitt"
	"golang.org/x/image/tiff/lzw"
)

// Values of tags in TIFF 6.0 and its supplements.
const (
	tiffNone       = 1
	tiffGroup3     = 3
	tiffGroup4     = 4
	tiffLZW        = 5
	tiffDeflate    = 8
	tiffPackBits   = 32773
	tiffDeflateOld = 32946

	tiffWhiteIsZero = 0
	tiffBlackIsZero = 1
	tiffRGB         = 2
	tiffPalette     = 3
	tiffSeparated   = 5
)

// tiffInfo is what the decoder keeps of the directory.
type tiffInfo struct {
	layout
	compression     uint32
	predictor       bool
	planes          int // 1, or one for each sample where they lie apart
	width, height   int // of a block: a strip or a tile
	across, down    int // blocks
	offsets, counts []uint32
	reversed        bool // the low bit of a byte comes first
	whiteIsZero     bool
	tiled           bool
}

func tiffHeader(h *header) error {
	d, err := tiffPage(h)
	if err != nil {
		return err
	}
	if !d.whole() {
		return errShort
	}
	width, height := d.uint(tagWidth, 0), d.uint(tagHeight, 0)
	if width == 0 || height == 0 || width > 1<<30 || height > 1<<30 {
		return malformed(fmt.Sprintf("the file states a size of %d × %d pixels", width, height))
	}
	h.width, h.height = int(width), int(height)
	h.ppiX, h.ppiY = d.resolution()
	h.orientation = d.orientation()
	if icc, ok := d.bytes(tagColorProfile); ok {
		h.icc = icc
	}
	t := &tiffInfo{}
	h.detail = t
	if err := t.readLayout(h, d); err != nil {
		return err
	}
	h.colors = t.colors
	h.bytesPerPixel = 4 * t.depth() / 8
	h.heldPerPixel = h.bytesPerPixel
	pixels := int64(width) * int64(height)
	packed := pixels * int64(t.bits) * int64(t.samples) / 8
	switch t.compression {
	case tiffNone:
		h.minData = packed
	case tiffPackBits:
		h.minData = packed / 64
	case tiffLZW: // a code of 12 bits stands for 4096 values at most
		h.minData = packed / 2731
	case tiffDeflate, tiffDeflateOld:
		h.minData = packed / 1040
	default: // a bit a row
		h.minData = int64(height) / 8
	}
	return nil
}

// tiffPage returns the directory of the first picture that is not a reduced
// copy of another.
func tiffPage(h *header) (*directory, error) {
	first, err := tiffStart(h.data)
	if err != nil {
		return nil, err
	}
	const subfileType, reduced, mostPages = 254, 1, 1000
	var page *directory
	seen := map[uint32]bool{first.order.Uint32(h.data[4:]): true}
	pages := 0
	for d := first; ; {
		if d.uint(subfileType, 0)&reduced == 0 {
			pages++
			if page == nil {
				page = d
			}
		}
		if d.next == 0 || seen[d.next] || len(seen) > mostPages {
			break
		}
		seen[d.next] = true
		next, err := readDirectory(h.data, d.order, d.next)
		if err != nil {
			break // what is behind the picture does not matter
		}
		d = next
	}
	if page == nil {
		page = first
	}
	if pages > 1 {
		h.find("several-pages", fmt.Sprintf("the file holds %d pictures; the first is taken", pages), "export each picture to a file of its own")
	}
	return page, nil
}

func (t *tiffInfo) readLayout(h *header, d *directory) error {
	const mostSamples = 64
	t.samples = int(d.uint(tagSamples, 1))
	depths := d.uints(tagBits, mostSamples)
	if len(depths) == 0 {
		depths = []uint32{1}
	}
	if _, stated := d.entries[tagSamples]; !stated {
		t.samples = len(depths)
	}
	if t.samples < 1 || t.samples > mostSamples {
		return malformed("the file is damaged (the number of channels)")
	}
	for _, b := range depths {
		if b != depths[0] {
			return unsupported("a TIFF with channels of different depth is not read")
		}
	}
	t.bits = int(depths[0])
	switch t.bits {
	case 1, 2, 4, 8, 16:
	default:
		return unsupported(fmt.Sprintf("a TIFF with %d bits a channel is not read", t.bits))
	}
	for _, f := range d.uints(tagSampleFormat, mostSamples) {
		if f != 1 && f != 4 {
			return unsupported("a TIFF with signed or floating-point values is not read")
		}
	}
	t.lowFirst = d.order.Uint16([]byte{1, 0}) == 1
	t.reversed = d.uint(tagFillOrder, 1) == 2
	t.compression = d.uint(tagCompression, tiffNone)
	switch t.compression {
	case 0:
		t.compression = tiffNone
	case tiffNone, tiffGroup3, tiffGroup4, tiffLZW, tiffDeflate, tiffDeflateOld, tiffPackBits:
	default:
		return &Error{"", fmt.Sprintf("this TIFF's compression (number %d) is not read", t.compression), "export it with LZW, ZIP or no compression", ErrUnsupported}
	}
	// Lines coded by the one above, or padded to whole bytes.
	if t.compression == tiffGroup3 && d.uint(tagFaxOptions, 0)&(1|4) != 0 {
		return &Error{"", "this kind of fax compression is not read", "export it with Group 4, LZW or no compression", ErrUnsupported}
	}
	switch p := d.uint(tagPredictor, 1); {
	case p == 2 && (t.bits == 8 || t.bits == 16):
		t.predictor = true
	case p > 1:
		return &Error{"", "this TIFF's predictor is not read", "export it with LZW, ZIP or no compression", ErrUnsupported}
	}
	if err := t.readColors(h, d); err != nil {
		return err
	}
	return t.readBlocks(h, d)
}

// readColors settles what the samples mean.
func (t *tiffInfo) readColors(h *header, d *directory) error {
	t.colors = colorRGB
	needed := 1
	switch p := d.uint(tagPhotometric, 1<<16); p {
	case tiffWhiteIsZero, tiffBlackIsZero:
		t.colors = colorGray
		t.invert = p == tiffWhiteIsZero
		t.whiteIsZero = t.invert
	case tiffRGB:
		needed = 3
	case tiffPalette:
		m := d.uints(tagColorMap, 3<<16)
		n := 1 << t.bits
		if t.bits > 8 || len(m) != 3*n {
			return malformed("the file is damaged (the palette)")
		}
		if t.samples > 1 {
			return unsupported("a TIFF with a palette and more channels is not read")
		}
		// Of 16 bits the high ones count; some old programs wrote but 8.
		shift := 8
		if slices.Max(m) < 256 {
			shift = 0
		}
		t.palette = make([]color.NRGBA, n)
		for i := range t.palette {
			t.palette[i] = color.NRGBA{uint8(m[i] >> shift), uint8(m[n+i] >> shift), uint8(m[2*n+i] >> shift), 255}
		}
	case tiffSeparated:
		if d.uint(tagInkSet, 1) != 1 || t.samples < 4 {
			return &Error{"", "this TIFF holds plates of inks, not a picture", "export the picture as RGB", ErrUnsupported}
		}
		t.colors = colorCMYK
		needed = 4
	case 6, 8, 9, 10:
		return &Error{"", "a TIFF in this color mode (luma and color differences, or Lab) is not read", "export it as RGB", ErrUnsupported}
	default:
		return unsupported("this TIFF's color mode is not read")
	}
	if t.samples < needed {
		return malformed("the file is damaged (channels are missing)")
	}
	if t.samples == needed {
		return nil
	}
	if extra := d.uints(tagExtraSamples, 1); len(extra) > 0 && (extra[0] == 1 || extra[0] == 2) {
		t.alpha = needed
		t.multiply = extra[0] == 1
		needed++
	}
	if t.samples > needed {
		h.find("extra-channels", fmt.Sprintf("the file has %d more channels than its colors need; they are ignored", t.samples-needed),
			"nothing, unless a channel was meant to be transparency: then export it again with transparency")
	}
	return nil
}

// readBlocks settles where the strips or tiles lie.
func (t *tiffInfo) readBlocks(h *header, d *directory) error {
	t.planes = 1
	if d.uint(tagPlanar, 1) == 2 && t.samples > 1 {
		if t.bits < 8 {
			return unsupported("a TIFF with separate channels of few bits is not read")
		}
		t.planes = t.samples
	}
	offsets, counts := uint16(tagStripOffsets), uint16(tagStripCounts)
	if tw, th := d.uint(tagTileWidth, 0), d.uint(tagTileHeight, 0); tw != 0 || th != 0 {
		// A tile is a multiple of 16 by the standard, and it is held whole in
		// memory.
		const least, most = 8, 1 << 16
		if tw < least || th < least || tw > most || th > most || uint64(tw)*uint64(th) > 4*uint64(h.width)*uint64(h.height)+1<<22 {
			return malformed("the file is damaged (the size of its tiles)")
		}
		t.tiled = true
		t.width, t.height = int(tw), int(th)
		offsets, counts = tagTileOffsets, tagTileCounts
	} else {
		t.width = h.width
		t.height = h.height
		if rows := d.uint(tagRowsPerStrip, 0); rows > 0 && int64(rows) < int64(h.height) {
			t.height = int(rows)
		}
	}
	t.across, t.down = (h.width+t.width-1)/t.width, (h.height+t.height-1)/t.height
	n := int64(t.across) * int64(t.down) * int64(t.planes)
	if n*3 > int64(len(h.data)) && n > 1 { // offset and count take 3 bytes at least
		return errShort
	}
	t.offsets = d.uints(offsets, int(n))
	t.counts = d.uints(counts, int(n))
	if len(t.counts) == 0 && n == 1 && len(t.offsets) == 1 && t.compression == tiffNone {
		t.counts = []uint32{uint32(min(len(h.data), 1<<32-1))} // left out by some old programs
	}
	if int64(len(t.offsets)) < n || int64(len(t.counts)) < n {
		return malformed("the file is damaged (the places of its pixels)")
	}
	return nil
}

func decodeTIFF(h *header, p *Picture) error {
	t := h.detail.(*tiffInfo)
	p.allocate(t.depth(), t.transparent())
	errs := make([]error, t.down)
	eachJob(t.down, func(next func() (int, bool)) {
		b := newTIFFBlock(t, p, h.data)
		for j, ok := next(); ok; j, ok = next() {
			for i := 0; i < t.across && errs[j] == nil; i++ {
				errs[j] = b.read(i, j)
			}
		}
	})
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// tiffBlock decodes strips or tiles, one after the other; each goroutine has
// its own.
type tiffBlock struct {
	*tiffInfo
	w       *rowWriter
	data    []byte
	raw     []byte // a block, unpacked
	plane   []byte // a block of one sample
	swapped []byte // compressed, bits in reading order
}

func newTIFFBlock(t *tiffInfo, p *Picture, data []byte) *tiffBlock {
	return &tiffBlock{tiffInfo: t, w: &rowWriter{layout: t.layout, p: p}, data: data}
}

// read decodes the block in column i and row j.
func (b *tiffBlock) read(i, j int) error {
	p := b.w.p
	x0, y0 := i*b.width, j*b.height
	n, rows := min(b.width, p.Width-x0), min(b.height, p.Height-y0)
	stored := rows // tiles are stored whole, the last strip only as far as it goes
	if b.tiled {
		stored = b.height
	}
	rowBytes := b.rowBytes(b.width)
	b.raw = sized(b.raw, rowBytes*stored)
	if b.planes == 1 {
		if err := b.unpackBlock(b.raw, j*b.across+i, stored, b.samples); err != nil {
			return err
		}
	} else {
		b.plane = sized(b.plane, rowBytes*stored/b.samples)
		size := b.bits / 8
		for s := range b.planes {
			if err := b.unpackBlock(b.plane, (s*b.down+j)*b.across+i, stored, 1); err != nil {
				return err
			}
			for k := 0; k < len(b.plane); k += size {
				copy(b.raw[k*b.samples+s*size:], b.plane[k:k+size])
			}
		}
	}
	for y := range rows {
		if err := b.w.put(b.raw[y*rowBytes:][:rowBytes], n, y0+y, x0, 1); err != nil {
			return err
		}
	}
	return nil
}

// sized returns a slice of n bytes, the given one where it is large enough.
func sized(b []byte, n int) []byte {
	if cap(b) < n {
		return make([]byte, n)
	}
	return b[:n]
}

// unpackBlock fills dst with the block of that number: rows of as many samples
// a pixel.
func (b *tiffBlock) unpackBlock(dst []byte, number, rows, samples int) error {
	off, n := int64(b.offsets[number]), int64(b.counts[number])
	if off > int64(len(b.data)) {
		return errShort
	}
	src := b.data[off:min(off+n, int64(len(b.data)))]
	if b.reversed {
		b.swapped = append(b.swapped[:0], src...)
		for i, v := range b.swapped {
			b.swapped[i] = bits.Reverse8(v)
		}
		src = b.swapped
	}
	if err := b.expand(dst, src, rows); err != nil {
		return err
	}
	if b.predictor {
		b.sumUp(dst, rows, samples)
	}
	return nil
}

func (b *tiffBlock) expand(dst, src []byte, rows int) error {
	r := bytes.NewReader(src)
	var from io.Reader
	switch b.compression {
	case tiffNone:
		if copy(dst, src) < len(dst) {
			return errShort
		}
		return nil
	case tiffPackBits:
		return unpackBits(dst, src)
	case tiffLZW:
		z := lzw.NewReader(r, lzw.MSB, 8)
		defer z.Close()
		from = z
	case tiffDeflate, tiffDeflateOld:
		z, err := zlib.NewReader(r)
		if err != nil {
			return err
		}
		defer z.Close()
		from = z
	default:
		kind := ccitt.Group4
		if b.compression == tiffGroup3 {
			kind = ccitt.Group3
		}
		if b.bits != 1 || b.samples != 1 {
			return malformed("the file is damaged (fax compression of a picture with tones)")
		}
		from = ccitt.NewReader(r, ccitt.MSB, kind, b.width, rows, &ccitt.Options{Invert: b.whiteIsZero})
	}
	_, err := io.ReadFull(from, dst)
	return err
}

// unpackBits fills dst (TIFF 6.0, section 9).
func unpackBits(dst, src []byte) error {
	for len(dst) > 0 {
		if len(src) < 2 {
			return errShort
		}
		n := int(int8(src[0]))
		src = src[1:]
		switch {
		case n >= 0:
			if len(src) < n+1 {
				return errShort
			}
			dst = dst[copy(dst, src[:n+1]):]
			src = src[n+1:]
		case n > -128:
			run := dst[:min(1-n, len(dst))]
			for i := range run {
				run[i] = src[0]
			}
			dst, src = dst[len(run):], src[1:]
		}
	}
	return nil
}

// sumUp undoes the horizontal differences (TIFF 6.0, section 14).
func (b *tiffBlock) sumUp(dst []byte, rows, samples int) {
	rowBytes := b.width * samples * b.bits / 8
	for y := range rows {
		row := dst[y*rowBytes:][:rowBytes]
		if b.bits == 8 {
			for i := samples; i < len(row); i++ {
				row[i] += row[i-samples]
			}
			continue
		}
		hi, lo := 0, 1
		if b.lowFirst {
			hi, lo = 1, 0
		}
		for i := 2 * samples; i < len(row); i += 2 {
			q := i - 2*samples
			v := uint16(row[i+hi])<<8 + uint16(row[i+lo]) + uint16(row[q+hi])<<8 + uint16(row[q+lo])
			row[i+hi], row[i+lo] = uint8(v>>8), uint8(v)
		}
	}
}
