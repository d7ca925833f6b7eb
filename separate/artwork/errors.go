package artwork

import (
	"compress/flate"
	"compress/zlib"
	"errors"
	"io"
	"strings"
)

// What kind of error an *Error is, for errors.Is.
var (
	ErrMalformed   = errors.New("malformed picture")
	ErrUnsupported = errors.New("unsupported picture")
	ErrTooLarge    = errors.New("picture too large")
)

// Error says in one line why a picture cannot be read, and the mend.
type Error struct {
	Name    string // of the file
	Problem string
	Mend    string
	Kind    error // ErrMalformed, ErrUnsupported or ErrTooLarge
}

func (e *Error) Error() string {
	s := e.Problem + ": " + e.Mend
	if e.Name != "" {
		s = e.Name + ": " + s
	}
	return strings.Join(strings.Fields(s), " ")
}

func (e *Error) Unwrap() error { return e.Kind }

const exportAgain = "export it again"

func malformed(problem string) error {
	return &Error{"", problem, exportAgain, ErrMalformed}
}

func unsupported(problem string) error {
	return &Error{"", problem, "export it as PNG or TIFF", ErrUnsupported}
}

// errShort is what a reader of this package returns when the data ends early.
var errShort = io.ErrUnexpectedEOF

// plain turns an error of a decoder into the words of this package.
func plain(err error) error {
	var e *Error
	if errors.As(err, &e) {
		return err
	}
	if errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF) {
		return malformed("the file is cut short")
	}
	if errors.Is(err, zlib.ErrChecksum) || errors.Is(err, zlib.ErrHeader) || errors.As(err, new(flate.CorruptInputError)) {
		return malformed("the file is damaged (the compressed data)")
	}
	text := err.Error()
	for _, prefix := range []string{"png: ", "jpeg: ", "tiff: ", "bmp: ", "gif: ", "webp: ", "vp8: ", "vp8l: ", "riff: ", "invalid format: ", "invalid JPEG format: ", "unsupported feature: ", "unsupported JPEG feature: "} {
		text = strings.TrimPrefix(text, prefix)
	}
	if strings.Contains(text, "short Huffman data") || strings.Contains(text, "not enough") {
		return malformed("the file is cut short")
	}
	if strings.Contains(err.Error(), "unsupported") {
		return unsupported("this kind of file is not read (" + text + ")")
	}
	return malformed("the file is damaged (" + text + ")")
}
