package film

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"fmt"
	"hash/crc32"
	"io"
	"math"
	"strings"

	"github.com/klauspost/compress/flate"
)

// thumbnailSide is the most a thumbnail may measure (OpenRaster, File Layout).
const thumbnailSide = 256

// WriteOpenRaster writes the plates as layers of an OpenRaster file, which drawing
// programs open: the paper, and over it each ink in its color, multiplied, the first
// printed lowest. A layer's color is the ink's over the paper's, so that a solid on
// this paper shows exactly as the ink. Overlaps multiply in sRGB: a picture to work
// on, not a proof.
func WriteOpenRaster(w io.Writer, s Set, info Info) error {
	width, height, dpi, err := s.open(info)
	if err != nil {
		return err
	}
	z := zip.NewWriter(w)
	// PNG is packed already. A stored entry would need its size before it, or readers
	// of streams refuse it; Deflate may say at the end, and need not pack.
	z.RegisterCompressor(zip.Deflate, func(w io.Writer) (io.WriteCloser, error) { return flate.NewWriter(w, flate.NoCompression) })
	// The type comes first, stored, with its length before it: that is how the file is
	// known.
	const kind = "image/openraster"
	if err := storeFile(z, "mimetype", []byte(kind)); err != nil {
		return err
	}
	if err := storeFile(z, "stack.xml", s.stack(width, height, dpi)); err != nil {
		return err
	}
	layers := s.layers()
	file := pngFile{width: width, height: height, depth: 8, color: pngRGBA, dpi: dpi}
	for i, p := range s.Plates {
		err := addPNG(z, layerName(i), file, func(dst []byte, y0, y1 int) {
			row := make([]uint16, width)
			c := layers[i]
			for y := y0; y < y1; y++ {
				p.Row(row, y)
				for _, v := range row {
					dst[0], dst[1], dst[2], dst[3] = c[0], c[1], c[2], eight(v)
					dst = dst[4:]
				}
			}
		})
		if err != nil {
			return err
		}
	}
	file.color = pngRGB
	paper := s.PaperRGB
	err = addPNG(z, "data/paper.png", file, func(dst []byte, y0, y1 int) {
		for i := 0; i < len(dst); i += 3 {
			dst[i], dst[i+1], dst[i+2] = paper[0], paper[1], paper[2]
		}
	})
	if err != nil {
		return err
	}
	merge := func(dst []byte, y0, y1 int) { s.multiply(dst, layers, width, y0, y1) }
	if err := addPNG(z, "mergedimage.png", file, merge); err != nil {
		return err
	}
	tw, th := thumbnailSize(width, height)
	small := pngFile{width: tw, height: th, depth: 8, color: pngRGB, dpi: dpi * float64(tw) / float64(width)}
	pix := thumbnail(merge, width, height, tw, th)
	err = addPNG(z, "Thumbnails/thumbnail.png", small, func(dst []byte, y0, y1 int) { copy(dst, pix[3*tw*y0:3*tw*y1]) })
	if err != nil {
		return err
	}
	return z.Close()
}

func layerName(i int) string { return fmt.Sprintf("data/ink-%d.png", i+1) }

// stack is stack.xml: layers from the top down.
func (s *Set) stack(w, h int, dpi float64) []byte {
	var b bytes.Buffer
	res := max(1, int(math.Round(dpi)))
	fmt.Fprintf(&b, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<image version=\"0.0.3\" w=\"%d\" h=\"%d\" xres=\"%d\" yres=\"%d\">\n <stack>\n", w, h, res, res)
	layer := func(name, src, op string) {
		var esc strings.Builder
		xml.EscapeText(&esc, []byte(name)) // a strings.Builder never fails
		fmt.Fprintf(&b, "  <layer name=\"%s\" src=\"%s\" x=\"0\" y=\"0\" opacity=\"1.0\" visibility=\"visible\" composite-op=\"%s\"/>\n", esc.String(), src, op)
	}
	for i := len(s.Inks) - 1; i >= 0; i-- {
		layer(s.Inks[i].Name, layerName(i), "svg:multiply")
	}
	layer("paper", "data/paper.png", "svg:src-over")
	b.WriteString(" </stack>\n</image>\n")
	return b.Bytes()
}

// layers are the inks' colors over the paper's.
func (s *Set) layers() [][3]uint8 {
	out := make([][3]uint8, len(s.Inks))
	for i, ink := range s.Inks {
		for c := range 3 {
			out[i][c] = uint8(min(255, (int(ink.RGB[c])*255+int(s.PaperRGB[c])/2)/max(1, int(s.PaperRGB[c]))))
		}
	}
	return out
}

// multiply is the stack composed: over a color B a layer of color S and alpha a
// gives B·(1 - a + a·S) (W3C Compositing and Blending, 5 and 10).
func (s *Set) multiply(dst []byte, layers [][3]uint8, w, y0, y1 int) {
	row := make([]uint16, w)
	for i := 0; i < len(dst); i += 3 {
		copy(dst[i:], s.PaperRGB[:])
	}
	for k, p := range s.Plates {
		c := layers[k]
		for y := y0; y < y1; y++ {
			p.Row(row, y)
			out := dst[3*w*(y-y0):]
			for x, v := range row {
				a := int(eight(v))
				if a == 0 {
					continue
				}
				px := out[3*x : 3*x+3]
				for i := range px {
					px[i] = uint8((int(px[i])*((255-a)*255+a*int(c[i])) + 32512) / 65025)
				}
			}
		}
	}
}

func thumbnailSize(w, h int) (tw, th int) {
	long := max(w, h)
	if long <= thumbnailSide {
		return w, h
	}
	return max(1, w*thumbnailSide/long), max(1, h*thumbnailSide/long)
}

// thumbnail is the mean of each thumbnail pixel's own pixels.
func thumbnail(rows func(dst []byte, y0, y1 int), w, h, tw, th int) []byte {
	pix := make([]byte, 3*tw*th)
	row := make([]byte, 3*w)
	sum := make([]int, 3*tw)
	for ty := range th {
		clear(sum)
		y0, y1 := ty*h/th, (ty+1)*h/th
		for y := y0; y < y1; y++ {
			rows(row, y, y+1)
			for tx := range tw {
				for x := tx * w / tw; x < (tx+1)*w/tw; x++ {
					for c := range 3 {
						sum[3*tx+c] += int(row[3*x+c])
					}
				}
			}
		}
		for tx := range tw {
			n := (y1 - y0) * ((tx+1)*w/tw - tx*w/tw)
			for c := range 3 {
				pix[3*(ty*tw+tx)+c] = uint8((sum[3*tx+c] + n/2) / n)
			}
		}
	}
	return pix
}

// storeFile adds a file as it is, its size and sum before it.
func storeFile(z *zip.Writer, name string, data []byte) error {
	n := uint64(len(data))
	w, err := z.CreateRaw(&zip.FileHeader{Name: name, Method: zip.Store, CRC32: crc32.ChecksumIEEE(data), CompressedSize64: n, UncompressedSize64: n})
	if err == nil {
		_, err = w.Write(data)
	}
	return err
}

// addPNG adds a picture without holding it.
func addPNG(z *zip.Writer, name string, p pngFile, rows func(dst []byte, y0, y1 int)) error {
	w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate})
	if err == nil {
		err = p.write(w, rows)
	}
	return err
}
