package artwork

import (
	"encoding/binary"
	"math"
)

// Tags of TIFF 6.0 that are read, here and in EXIF 2.3 blocks.
const (
	tagWidth        = 256
	tagHeight       = 257
	tagBits         = 258
	tagCompression  = 259
	tagPhotometric  = 262
	tagFillOrder    = 266
	tagStripOffsets = 273
	tagOrientation  = 274
	tagSamples      = 277
	tagRowsPerStrip = 278
	tagStripCounts  = 279
	tagXResolution  = 282
	tagYResolution  = 283
	tagPlanar       = 284
	tagFaxOptions   = 292
	tagResolutionIn = 296
	tagPredictor    = 317
	tagColorMap     = 320
	tagTileWidth    = 322
	tagTileHeight   = 323
	tagTileOffsets  = 324
	tagTileCounts   = 325
	tagInkSet       = 332
	tagExtraSamples = 338
	tagSampleFormat = 339
	tagColorProfile = 34675

	tiffByte      = 1
	tiffASCII     = 2
	tiffShort     = 3
	tiffLong      = 4
	tiffRational  = 5
	tiffUndefined = 7
	tiffOffset    = 13

	directoryEntries = 4096 // more is no picture
)

// directory is one image file directory of TIFF 6.0. The methods that read it
// return nothing, or false, for a tag that is missing or points outside.
type directory struct {
	data    []byte
	order   binary.ByteOrder
	entries map[uint16]dirEntry
	next    uint32 // offset of the next directory; 0 after the last
}

type dirEntry struct {
	kind  uint16
	count uint32
	value []byte // the 4 bytes of the entry
}

// tiffStart reads the byte order and the first directory.
func tiffStart(data []byte) (*directory, error) {
	if len(data) < 8 {
		return nil, errShort
	}
	var order binary.ByteOrder
	switch string(data[:4]) {
	case "II*\x00":
		order = binary.LittleEndian
	case "MM\x00*":
		order = binary.BigEndian
	default:
		return nil, malformed("the file is damaged (the first bytes)")
	}
	return readDirectory(data, order, order.Uint32(data[4:]))
}

func readDirectory(data []byte, order binary.ByteOrder, off uint32) (*directory, error) {
	if int64(off)+2 > int64(len(data)) {
		return nil, errShort
	}
	b := data[off:]
	n := int(order.Uint16(b))
	if n > directoryEntries {
		return nil, malformed("the file is damaged (the list of tags)")
	}
	b = b[2:]
	if len(b) < 12*n {
		return nil, errShort
	}
	d := &directory{data: data, order: order, entries: make(map[uint16]dirEntry, n)}
	for i := range n {
		e := b[12*i : 12*i+12]
		tag := order.Uint16(e)
		if _, twice := d.entries[tag]; !twice {
			d.entries[tag] = dirEntry{order.Uint16(e[2:]), order.Uint32(e[4:]), e[8:12]}
		}
	}
	if len(b) >= 12*n+4 {
		d.next = order.Uint32(b[12*n:])
	}
	return d, nil
}

// whole reports whether the values of every tag that matters are in the data.
func (d *directory) whole() bool {
	for tag := range d.entries {
		if tag > tagSampleFormat && tag != tagColorProfile {
			continue
		}
		if n, off := d.extent(tag); off+n > int64(len(d.data)) {
			return false
		}
	}
	return true
}

// extent returns the size of a tag's values in bytes and, when they do not fit
// into its entry, where they are.
func (d *directory) extent(tag uint16) (n, off int64) {
	e := d.entries[tag]
	var size int64
	switch e.kind {
	case tiffByte, tiffASCII, tiffUndefined, 6: // 6, 8, 9, 10: the same, signed
		size = 1
	case tiffShort, 8:
		size = 2
	case tiffLong, tiffOffset, 9:
		size = 4
	case tiffRational, 10:
		size = 8
	}
	if n = size * int64(e.count); n > 4 {
		off = int64(d.order.Uint32(e.value))
	}
	return n, off
}

// bytes returns the raw bytes of a tag's values.
func (d *directory) bytes(tag uint16) ([]byte, bool) {
	e := d.entries[tag]
	n, off := d.extent(tag)
	if n == 0 {
		return nil, false
	}
	if n <= 4 {
		return e.value[:n], true
	}
	if off+n > int64(len(d.data)) {
		return nil, false
	}
	return d.data[off : off+n], true
}

// uints returns the values of a byte, short or long tag, at most limit of them.
func (d *directory) uints(tag uint16, limit int) []uint32 {
	b, ok := d.bytes(tag)
	if !ok {
		return nil
	}
	e := d.entries[tag]
	v := make([]uint32, min(int64(e.count), int64(limit)))
	for i := range v {
		switch e.kind {
		case tiffByte, tiffUndefined:
			v[i] = uint32(b[i])
		case tiffShort:
			v[i] = uint32(d.order.Uint16(b[2*i:]))
		case tiffLong, tiffOffset:
			v[i] = d.order.Uint32(b[4*i:])
		default:
			return nil
		}
	}
	return v
}

// uint returns the first value of a tag, or the default.
func (d *directory) uint(tag uint16, otherwise uint32) uint32 {
	if v := d.uints(tag, 1); len(v) > 0 {
		return v[0]
	}
	return otherwise
}

// rational returns a positive fraction, or 0.
func (d *directory) rational(tag uint16) float64 {
	b, ok := d.bytes(tag)
	if e := d.entries[tag]; !ok || e.kind != tiffRational {
		return float64(d.uint(tag, 0))
	}
	v := float64(d.order.Uint32(b)) / float64(d.order.Uint32(b[4:]))
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}

// resolution returns pixels per inch, 0 when not stated in a unit.
func (d *directory) resolution() (x, y float64) {
	x, y = d.rational(tagXResolution), d.rational(tagYResolution)
	switch d.uint(tagResolutionIn, 2) {
	case 2:
		return x, y
	case 3: // per centimeter
		return x * 2.54, y * 2.54
	}
	return 0, 0
}

// orientation returns 1 … 8, or 0.
func (d *directory) orientation() int {
	if o := d.uint(tagOrientation, 0); o <= 8 {
		return int(o)
	}
	return 0
}

// exif takes orientation and resolution from an EXIF block, which starts with a
// TIFF header. A broken block is ignored: it is only a remark on the picture.
// A resolution that the file states elsewhere stays.
func (h *header) exif(b []byte) {
	d, err := tiffStart(b)
	if err != nil {
		return
	}
	if o := d.orientation(); o != 0 && h.orientation == 0 {
		h.orientation = o
	}
	if h.ppiX == 0 || unstated(h.ppiX) {
		if x, y := d.resolution(); x > 0 {
			h.ppiX, h.ppiY = x, y
		}
	}
}
