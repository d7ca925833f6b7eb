package artwork

import (
	"fmt"
	"math"
)

// Limits says how large a picture may be. It is checked against the header,
// before anything of the picture's size is allocated.
type Limits struct {
	MaxPixels int64 // width times height; 0 is 250 million
	MaxBytes  int64 // estimated memory while reading, in bytes; 0 is 2 GiB
}

func (l Limits) orDefault() Limits {
	if l.MaxPixels <= 0 {
		l.MaxPixels = 250e6
	}
	if l.MaxBytes <= 0 {
		l.MaxBytes = 2 << 30
	}
	return l
}

// check refuses what a header announces.
func (l Limits) check(h *header) error {
	if h.width <= 0 || h.height <= 0 {
		return malformed(fmt.Sprintf("the file states a size of %d × %d pixels", h.width, h.height))
	}
	// Neither side of what a decoder below takes passes 2³¹, so that the
	// product does not overflow.
	if h.width > math.MaxInt32 || h.height > math.MaxInt32 {
		return malformed("the file states an impossible size")
	}
	pixels := int64(h.width) * int64(h.height)
	if pixels > l.MaxPixels {
		return &Error{"", fmt.Sprintf("%d × %d pixels are more than the limit of %d million", h.width, h.height, l.MaxPixels/1e6),
			"reduce the picture; 300 ppi at print size is enough", ErrTooLarge}
	}
	if h.minData > int64(len(h.data)) {
		return malformed(fmt.Sprintf("the file is cut short: %d × %d pixels cannot be in %s", h.width, h.height, byteWords(int64(len(h.data)))))
	}
	need := pixels*int64(h.bytesPerPixel) + int64(len(h.data))
	if need > l.MaxBytes {
		return &Error{"", fmt.Sprintf("%d × %d pixels need %s of memory, more than the limit of %s", h.width, h.height, byteWords(need), byteWords(l.MaxBytes)),
			"reduce the picture; 300 ppi at print size is enough", ErrTooLarge}
	}
	return nil
}

func byteWords(n int64) string {
	switch {
	case n >= 1e9:
		return fmt.Sprintf("%.1f GB", float64(n)/1e9)
	case n >= 1e6:
		return fmt.Sprintf("%.0f MB", float64(n)/1e6)
	}
	return fmt.Sprintf("%d bytes", n)
}
