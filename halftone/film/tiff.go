package film

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
)

// TIFF 6.0 tags and types (Aldus, June 1992; compression 8, Deflate, is of the
// supplement of March 2002).
const (
	tiffASCII    = 2
	tiffShort    = 3
	tiffLong     = 4
	tiffRational = 5

	tagWidth       = 256
	tagLength      = 257
	tagBits        = 258
	tagCompression = 259
	tagPhotometric = 262
	tagFillOrder   = 266
	tagName        = 269
	tagDescription = 270
	tagOffsets     = 273
	tagSamples     = 277
	tagRows        = 278
	tagCounts      = 279
	tagXResolution = 282
	tagYResolution = 283
	tagPlanar      = 284
	tagT6Options   = 293
	tagUnit        = 296
	tagSoftware    = 305
	tagDateTime    = 306
)

// software is what a file says wrote it.
const software = "Platewright"

var errTooLong = errors.New("film: a TIFF holds 4 GiB and this picture packs to more: lower the film resolution or write PNG or PDF")

// WriteTIFF writes a one-bit film as TIFF 6.0, white is zero, in many strips. It
// seeks back once, to the eight bytes it begins with. A file beyond 4 GiB is an
// error.
func WriteTIFF(w io.WriteSeeker, b Bits, info Info) error {
	dpi, err := info.dpi(b)
	if err != nil {
		return err
	}
	compression := uint32(8)
	if info.Compression == Group4 {
		compression = 4
	}
	width, height := b.Size()
	stride := (width + 7) / 8
	t := tiffFile{width: width, height: height, rows: min(height, chunkRows(stride)), dpi: dpi, info: info}
	t.short(tagBits, 1)
	t.short(tagCompression, compression)
	t.short(tagPhotometric, 0)
	t.short(tagFillOrder, 1)
	t.short(tagSamples, 1)
	if compression == 4 {
		t.long(tagT6Options, 0)
	}
	return t.write(w, func(p *packer, y0, y1 int) ([]byte, error) {
		raw := p.rows(stride * (y1 - y0))
		b.Rows(raw, stride, y0, y1)
		if compression == 8 {
			z, err := p.pack(raw, true, true)
			return binary.BigEndian.AppendUint32(z.data, z.adler), err
		}
		var bw bitWriter
		var above []byte
		for i := 0; i < len(raw); i += stride {
			bw.group4Row(raw[i:i+stride], above, width)
			above = raw[i : i+stride]
		}
		bw.endOfBlock()
		bw.flush()
		return bw.out, nil
	})
}

// tiffFile gathers a directory while strips are written.
type tiffFile struct {
	width, height, rows int
	dpi                 float64
	info                Info
	entries             []tiffEntry
}

type tiffEntry struct {
	tag, kind uint16
	count     uint32
	value     []byte
}

func (t *tiffFile) short(tag uint16, v ...uint32) {
	var b []byte
	for _, v := range v {
		b = binary.LittleEndian.AppendUint16(b, uint16(v))
	}
	t.entries = append(t.entries, tiffEntry{tag, tiffShort, uint32(len(v)), b})
}

func (t *tiffFile) long(tag uint16, v ...uint32) {
	var b []byte
	for _, v := range v {
		b = binary.LittleEndian.AppendUint32(b, v)
	}
	t.entries = append(t.entries, tiffEntry{tag, tiffLong, uint32(len(v)), b})
}

// text writes NUL-terminated bytes; "" writes nothing.
func (t *tiffFile) text(tag uint16, s string) {
	if s != "" {
		t.entries = append(t.entries, tiffEntry{tag, tiffASCII, uint32(len(s) + 1), append([]byte(s), 0)})
	}
}

// rational writes a resolution, exact to 1/10000.
func (t *tiffFile) rational(tag uint16, v float64) {
	num, den := uint32(v), uint32(1)
	if v != math.Trunc(v) {
		num, den = uint32(math.Round(v*10000)), 10000
	}
	b := binary.LittleEndian.AppendUint32(nil, num)
	t.entries = append(t.entries, tiffEntry{tag, tiffRational, 1, binary.LittleEndian.AppendUint32(b, den)})
}

// write packs strips on all cores, writes them in order and then the directory.
func (t *tiffFile) write(w io.WriteSeeker, strip func(p *packer, y0, y1 int) ([]byte, error)) error {
	start, err := w.Seek(0, io.SeekCurrent)
	if err != nil {
		return fmt.Errorf("film: a TIFF needs a file that can seek: %w", err)
	}
	if _, err := w.Write([]byte{'I', 'I', 42, 0, 0, 0, 0, 0}); err != nil {
		return err
	}
	at := uint64(8)
	var offsets, counts []uint32
	n := (t.height + t.rows - 1) / t.rows
	err = inOrder(n, newPacker, func(p *packer, i int) ([]byte, error) {
		t.info.begin(i)
		return strip(p, i*t.rows, min(t.height, (i+1)*t.rows))
	}, func(data []byte) error {
		if at+uint64(len(data)) > math.MaxUint32 {
			return errTooLong
		}
		offsets, counts = append(offsets, uint32(at)), append(counts, uint32(len(data)))
		at += uint64(len(data))
		_, err := w.Write(data)
		return err
	})
	if err != nil {
		return err
	}
	t.long(tagWidth, uint32(t.width))
	t.long(tagLength, uint32(t.height))
	t.text(tagName, t.info.Title)
	t.text(tagDescription, t.info.Description)
	t.long(tagOffsets, offsets...)
	t.long(tagRows, uint32(t.rows))
	t.long(tagCounts, counts...)
	t.rational(tagXResolution, t.dpi)
	t.rational(tagYResolution, t.dpi)
	t.short(tagUnit, 2)
	t.text(tagSoftware, software)
	if !t.info.Date.IsZero() {
		t.text(tagDateTime, t.info.Date.UTC().Format("2006:01:02 15:04:05"))
	}
	pad := at & 1
	dir, err := t.directory(at + pad)
	if err != nil {
		return err
	}
	if _, err := w.Write(append(make([]byte, pad), dir...)); err != nil {
		return err
	}
	if _, err := w.Seek(start+4, io.SeekStart); err != nil {
		return err
	}
	if _, err := w.Write(binary.LittleEndian.AppendUint32(nil, uint32(at+pad))); err != nil {
		return err
	}
	_, err = w.Seek(0, io.SeekEnd)
	return err
}

// directory is the image file directory at an offset, values after it.
func (t *tiffFile) directory(at uint64) ([]byte, error) {
	slices.SortFunc(t.entries, func(a, b tiffEntry) int { return int(a.tag) - int(b.tag) })
	var dir, tail bytes.Buffer
	le := binary.LittleEndian
	head := 2 + 12*len(t.entries) + 4
	dir.Write(le.AppendUint16(nil, uint16(len(t.entries))))
	for _, e := range t.entries {
		b := le.AppendUint16(le.AppendUint16(nil, e.tag), e.kind)
		b = le.AppendUint32(b, e.count)
		if len(e.value) <= 4 {
			b = append(append(b, e.value...), make([]byte, 4-len(e.value))...)
		} else {
			b = le.AppendUint32(b, uint32(at)+uint32(head+tail.Len()))
			tail.Write(e.value)
			if tail.Len()&1 == 1 {
				tail.WriteByte(0)
			}
		}
		dir.Write(b)
	}
	dir.Write([]byte{0, 0, 0, 0})
	if at+uint64(dir.Len()+tail.Len()) > math.MaxUint32 {
		return nil, errTooLong
	}
	return append(dir.Bytes(), tail.Bytes()...), nil
}
