package sheet

import (
	"bytes"
	"encoding/base64"
	"html/template"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"

	"github.com/disintegration/imaging"
	"golang.org/x/image/draw"
)

// reduce returns m with its longest side at most size pixels, on white.
func reduce(m image.Image, size int) *image.RGBA {
	b := m.Bounds()
	w, h := b.Dx(), b.Dy()
	if long := max(w, h); long > size {
		w, h = max(1, (w*size+long/2)/long), max(1, (h*size+long/2)/long)
	}
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(out, out.Bounds(), image.White, image.Point{}, draw.Src)
	if w != b.Dx() || h != b.Dy() {
		m = imaging.Resize(m, w, h, imaging.CatmullRom)
	}
	draw.Draw(out, out.Bounds(), m, m.Bounds().Min, draw.Over)
	return out
}

// pngLimit is the size in bytes up to which a picture stays a PNG, which
// keeps flat colors exact; a photograph is far larger and becomes a JPEG.
const pngLimit = 300 << 10

// dataURL encodes a reduced copy of m as a data: URI.
func dataURL(m image.Image, size int) (template.URL, error) {
	var p image.Image = reduce(m, size)
	enc := png.Encoder{CompressionLevel: png.BestSpeed} // most become a JPEG
	if q := paletted(p.(*image.RGBA)); q != nil {
		p, enc.CompressionLevel = q, png.DefaultCompression
	}
	var buf bytes.Buffer
	if err := enc.Encode(&buf, p); err != nil {
		return "", err
	}
	kind := "image/png"
	if buf.Len() > pngLimit {
		buf.Reset()
		kind = "image/jpeg"
		if err := jpeg.Encode(&buf, p, &jpeg.Options{Quality: 88}); err != nil {
			return "", err
		}
	}
	// Base64 of our own bytes: nothing in it comes from a name.
	return template.URL("data:" + kind + ";base64," + base64.StdEncoding.EncodeToString(buf.Bytes())), nil
}

// paletted returns m with a palette, or nil when it has over 256 colors.
func paletted(m *image.RGBA) *image.Paletted {
	index := make(map[color.RGBA]uint8)
	out := image.NewPaletted(m.Rect, nil)
	for y := range m.Rect.Dy() {
		for x := range m.Rect.Dx() {
			c := m.RGBAAt(x, y)
			i, ok := index[c]
			if !ok {
				if len(index) == 256 {
					return nil
				}
				i = uint8(len(index))
				index[c] = i
				out.Palette = append(out.Palette, c)
			}
			out.Pix[y*out.Stride+x] = i
		}
	}
	return out
}
