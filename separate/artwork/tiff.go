package artwork

import (
	"bytes"

	"golang.org/x/image/tiff"
)

func tiffHeader(h *header) error {
	d, err := tiffStart(h.data)
	if err != nil {
		return err
	}
	h.width, h.height = int(d.uint(tagWidth, 0)), int(d.uint(tagHeight, 0))
	h.bytesPerPixel = 16
	h.ppiX, h.ppiY = d.resolution()
	h.orientation = d.orientation()
	if icc, ok := d.bytes(tagColorProfile); ok {
		h.icc = icc
	}
	return nil
}

func decodeTIFF(h *header, p *Picture) error {
	img, err := tiff.Decode(bytes.NewReader(h.data))
	if err != nil {
		return err
	}
	return p.take(img)
}
