package artwork

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
)

// Size is what is known of a picture without decoding it.
type Size struct {
	Width, Height int    // as stored, before the orientation tag
	Bytes         int64  // estimated memory while reading, from above
	Held          int64  // the same once it is read
	Format        string // as Picture.Format
	SHA256        string // of the file's bytes, in hexadecimal
}

// Measure reads a file to its end and its header, and decodes no pixel. Errors
// are those of Read, as far as the header shows them; SHA256 is set once the
// whole file was read, even where the header is broken. The size is that of
// the file in bytes, 0 when it is not known.
func Measure(r io.Reader, name string, size int64, lim Limits) (s Size, err error) {
	lim = lim.orDefault()
	fail := func(err error) (Size, error) {
		var e *Error
		if errors.As(err, &e) {
			e.Name = name
		}
		return s, err
	}
	defer func() {
		if v := recover(); v != nil {
			_, err = fail(malformed(fmt.Sprintf("the file is damaged (%v)", v)))
		}
	}()
	kind, data, err := readAll(r, size, lim)
	if err != nil {
		return fail(err)
	}
	sum := sha256.Sum256(data)
	s.SHA256, s.Format = hex.EncodeToString(sum[:]), kind.name
	h := &header{data: data}
	if err := kind.header(h); err != nil {
		return fail(plain(err))
	}
	if err := lim.check(h); err != nil {
		return fail(err)
	}
	s.Width, s.Height = h.width, h.height
	s.Held = int64(h.width) * int64(h.height) * int64(h.heldPerPixel)
	s.Bytes = int64(h.width)*int64(h.height)*int64(h.bytesPerPixel) + int64(len(data))
	return s, nil
}

// IsPictureName reports whether a file's name ends as those of pictures that
// are read.
func IsPictureName(name string) bool {
	at := strings.LastIndexByte(name, '.')
	if at < 0 {
		return false
	}
	ending := strings.ToLower(name[at:])
	for _, f := range formats() {
		if slices.Contains(f.endings, ending) {
			return true
		}
	}
	return false
}
