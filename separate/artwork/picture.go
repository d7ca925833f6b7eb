// Package artwork reads the picture that is to be printed.
//
// Call Open (or Read) first; then PrintSize for the size on paper, and
// Picture.Flatten to lay transparency over the paper's color.
//
// A Picture keeps the numbers that stand in the file, 8 or 16 bits a channel,
// and a Space that says which color they mean: a drawing in a wide color
// space keeps its colors, and no rounding happens before the separation.
// PNG, JPEG, TIFF, WebP, BMP and GIF are recognized by content, never by the
// ending of the name. The orientation tag is applied. What a printmaker should
// know but that does not stop the work is a Finding; what stops it is an
// *Error that wraps ErrMalformed, ErrUnsupported or ErrTooLarge.
//
// A file is measured by its header before anything of its size is allocated,
// see Limits.
package artwork

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// Picture is a picture as it stands in its file, upright.
type Picture struct {
	Width, Height int

	// Pix holds R, G, B of each pixel, row-major without padding, 3·Width·Height
	// values in the file's own encoding. It is nil when Pix16 is set.
	Pix []uint8
	// Pix16 is the same for files with 16 bits a channel.
	Pix16 []uint16

	// Alpha holds one straight (not premultiplied) opacity a pixel. It is nil
	// when Alpha16 is set and when every pixel is opaque. Flatten replaces it.
	Alpha []uint8
	// Alpha16 is the same for files with 16 bits a channel.
	Alpha16 []uint16

	// Space says which colors the numbers mean.
	Space Space

	// PPI is the resolution the file states, pixels per inch, or 0 when it
	// states none. 72 and 96 count as none: programs write them unasked.
	PPI float64

	Format  string // "PNG", "JPEG", "TIFF", "WebP", "BMP" or "GIF"
	Profile string // the embedded profile's own description; "" without one
	SHA256  string // of the file's bytes, in hexadecimal

	Findings []Finding
}

// Finding is something the user should know about the picture that does not
// stop the work.
type Finding struct {
	Code    string // stable, in kebab case: "file-ending", "profile-unused", …
	Message string // what is so, in plain words
	Mend    string // what to do about it; "" when nothing needs doing
}

// Open reads the picture in the file at path. Errors are *Error or come from
// the file system.
func Open(path string, lim Limits) (*Picture, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	switch mode := info.Mode(); {
	case mode.IsDir():
		return nil, &Error{filepath.Base(path), "this is a folder", "name the pictures in it", ErrUnsupported}
	case mode&fs.ModeDevice != 0:
		return nil, &Error{filepath.Base(path), "this is a device, not a file", "name a picture", ErrUnsupported}
	}
	return read(f, filepath.Base(path), info.Size(), lim)
}

// Read reads one picture from r to its end. The name stands in errors, and
// its ending is compared with what the content is. Errors are *Error, or come
// from r.
func Read(r io.Reader, name string, lim Limits) (*Picture, error) {
	return read(r, name, 0, lim)
}

func read(r io.Reader, name string, size int64, lim Limits) (p *Picture, err error) {
	lim = lim.orDefault()
	fail := func(err error) (*Picture, error) {
		var e *Error
		if errors.As(err, &e) {
			e.Name = name
		}
		return nil, err
	}
	// Decoders of foreign files may meet what they did not foresee.
	defer func() {
		if v := recover(); v != nil {
			p, err = fail(malformed(fmt.Sprintf("the file is damaged (%v)", v)))
		}
	}()

	kind, data, err := readAll(r, size, lim)
	if err != nil {
		return fail(err)
	}
	h := &header{data: data}
	if err := kind.header(h); err != nil {
		return fail(plain(err))
	}
	if err := lim.check(h); err != nil {
		return fail(err)
	}
	p = &Picture{Width: h.width, Height: h.height, Format: kind.name}
	if err := kind.decode(h, p); err != nil {
		return fail(plain(err))
	}
	sum := sha256.Sum256(data)
	p.SHA256 = hex.EncodeToString(sum[:])
	p.Findings = h.findings
	checkEnding(p, name, kind)
	p.setSpace(h)
	p.dropOpaque()
	p.orient(h.orientation)
	p.setResolution(h)
	return p, nil
}

// readAll reads r to its end, at most as many bytes as the limit allows, and
// stops at once when the beginning is not that of a picture. The size is a
// hint, 0 when it is not known.
func readAll(r io.Reader, size int64, lim Limits) (format, []byte, error) {
	tooLong := &Error{"", fmt.Sprintf("the file is longer than the limit of %s", byteWords(lim.MaxBytes)),
		"reduce the picture or raise the limit", ErrTooLarge}
	if size > lim.MaxBytes {
		return format{}, nil, tooLong
	}
	const head = 4096
	var buf bytes.Buffer
	if _, err := buf.ReadFrom(io.LimitReader(r, head)); err != nil {
		return format{}, nil, err
	}
	kind, err := sniff(buf.Bytes())
	if err != nil {
		return format{}, nil, err
	}
	buf.Grow(int(max(size-head, 0)) + bytes.MinRead)
	if _, err := buf.ReadFrom(io.LimitReader(r, lim.MaxBytes+1-int64(buf.Len()))); err != nil {
		return format{}, nil, err
	}
	if int64(buf.Len()) > lim.MaxBytes {
		return format{}, nil, tooLong
	}
	return kind, buf.Bytes(), nil
}

// dropOpaque forgets an alpha channel that is opaque everywhere, and reports
// one that is transparent everywhere.
func (p *Picture) dropOpaque() {
	lo, hi := uint16(0xffff), uint16(0)
	switch {
	case p.Alpha != nil:
		l, h := uint8(255), uint8(0)
		for _, a := range p.Alpha {
			l, h = min(l, a), max(h, a)
		}
		lo, hi = uint16(l)*257, uint16(h)*257
	case p.Alpha16 != nil:
		for _, a := range p.Alpha16 {
			lo, hi = min(lo, a), max(hi, a)
		}
	default:
		return
	}
	if lo == 0xffff {
		p.Alpha, p.Alpha16 = nil, nil
	}
	if hi == 0 {
		p.find(AllTransparent, "every pixel is transparent: nothing would print",
			"export the picture again with its layers shown")
	}
}

// AllTransparent is the code of the finding that nothing in the picture shows.
const AllTransparent = "all-transparent"

func (p *Picture) find(code, message, mend string) {
	p.Findings = append(p.Findings, Finding{code, message, mend})
}

// Bare reports whether the pixel at x, y is fully transparent, so that the
// paper stays bare there, before and after Flatten.
func (p *Picture) Bare(x, y int) bool {
	i := y*p.Width + x
	switch {
	case p.Alpha != nil:
		return p.Alpha[i] == 0
	case p.Alpha16 != nil:
		return p.Alpha16[i] == 0
	}
	return false
}

// At returns the encoded color of the pixel at x, y, each channel 0 … 1.
func (p *Picture) At(x, y int) (r, g, b float64) {
	i := 3 * (y*p.Width + x)
	if p.Pix16 != nil {
		s := p.Pix16[i : i+3]
		return float64(s[0]) / 65535, float64(s[1]) / 65535, float64(s[2]) / 65535
	}
	s := p.Pix[i : i+3]
	return float64(s[0]) / 255, float64(s[1]) / 255, float64(s[2]) / 255
}
