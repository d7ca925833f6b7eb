package artwork

import (
	"bytes"
	"image/png"
)

func decodePNG(h *header, p *Picture) error {
	img, err := png.Decode(bytes.NewReader(h.data))
	if err != nil {
		return err
	}
	return p.take(img)
}
