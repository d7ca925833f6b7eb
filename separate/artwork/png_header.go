package artwork

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"io"
	"math"

	"github.com/klauspost/compress/zlib"
)

// pngInfo is what the decoder keeps of a PNG's chunks.
type pngInfo struct {
	depth, kind, interlace uint8
	palette                []byte // 3 bytes an entry
	trns                   []byte
	idat                   [][]byte // the compressed pixels, in pieces
}

// Color types (PNG third edition, 11.2.1).
const (
	pngGray      = 0
	pngRGB       = 2
	pngPalette   = 3
	pngGrayAlpha = 4
	pngRGBA      = 6
)

// samples is the number of values a pixel.
func (i *pngInfo) samples() int {
	return [...]int{pngGray: 1, pngRGB: 3, pngPalette: 1, pngGrayAlpha: 2, pngRGBA: 4}[i.kind]
}

// pngHeader walks the chunks (PNG third edition, W3C 2025).
func pngHeader(h *header) error {
	be := binary.BigEndian
	info := &pngInfo{}
	h.detail = info
	var (
		icc, cicp, srgb   []byte
		gamma, chroma     []byte
		idat              int64
		sawHeader, sawEnd bool
	)
	b := h.data[8:]
	for !sawEnd {
		if len(b) < 12 {
			return errShort
		}
		n := int64(be.Uint32(b))
		if n > math.MaxInt32 {
			return malformed("the file is damaged (a chunk's length)")
		}
		name := string(b[4:8])
		if n > int64(len(b)-12) {
			return errShort
		}
		body := b[8 : 8+n]
		if crc32.ChecksumIEEE(b[4:8+n]) != be.Uint32(b[8+n:]) {
			return malformed("the file is damaged (the checksum of a chunk)")
		}
		b = b[12+n:]
		if !sawHeader && name != "IHDR" {
			return malformed("the file is damaged (no header chunk)")
		}
		switch name {
		case "IHDR":
			if sawHeader || len(body) != 13 {
				return malformed("the file is damaged (the header chunk)")
			}
			sawHeader = true
			h.width, h.height = int(be.Uint32(body)), int(be.Uint32(body[4:]))
			info.depth, info.kind, info.interlace = body[8], body[9], body[12]
			if !pngAllowed(info.kind, info.depth) || body[10] != 0 || body[11] != 0 || info.interlace > 1 {
				return malformed("the file is damaged (the header chunk)")
			}
		case "PLTE":
			if n%3 != 0 || n == 0 || n > 768 || info.palette != nil || info.idat != nil {
				return malformed("the file is damaged (the palette)")
			}
			info.palette = body
		case "tRNS":
			info.trns = body
		case "IDAT":
			info.idat = append(info.idat, body)
			idat += n
		case "iCCP":
			icc = body
		case "cICP":
			cicp = body
		case "sRGB":
			srgb = body
		case "gAMA":
			gamma = body
		case "cHRM":
			chroma = body
		case "pHYs":
			if n == 9 && body[8] == 1 { // pixels a meter
				h.ppiX, h.ppiY = float64(be.Uint32(body))*.0254, float64(be.Uint32(body[4:]))*.0254
			}
		case "eXIf":
			h.exif(body)
		case "acTL":
			h.find("animation", "the file is an animation; its still picture is taken", "export the frame you want as a PNG")
		case "IEND":
			sawEnd = true
		default:
			if name[0]&0x20 == 0 { // a critical chunk
				return unsupported("the PNG has a part that is not read (" + cleanText(name) + ")")
			}
		}
	}
	if info.idat == nil {
		return errShort
	}
	if info.kind == pngPalette && info.palette == nil {
		return malformed("the file is damaged (no palette)")
	}
	h.colors = colorRGB
	if info.kind == pngGray || info.kind == pngGrayAlpha {
		h.colors = colorGray
	}
	h.pngSpace(icc, cicp, srgb, gamma, chroma)

	bits := int64(info.samples()) * int64(info.depth)
	// Deflate packs at most 1032 : 1.
	if int64(h.width) < math.MaxInt32 && int64(h.height) < math.MaxInt32 {
		row := (int64(h.width)*bits + 7) / 8
		if row < math.MaxInt64/int64(h.height+1) {
			h.minData = row * int64(h.height) / 1040
		}
	}
	h.bytesPerPixel = 3
	if info.alpha() {
		h.bytesPerPixel = 4
	}
	if info.depth == 16 {
		h.bytesPerPixel *= 2
	}
	h.heldPerPixel = h.bytesPerPixel
	if info.interlace != 0 {
		h.bytesPerPixel += max(1, int(bits/8)) // the passes are held whole
	}
	return nil
}

func (i *pngInfo) alpha() bool {
	return i.trns != nil || i.kind == pngGrayAlpha || i.kind == pngRGBA
}

// pngAllowed holds table 8 of the standard.
func pngAllowed(kind, depth uint8) bool {
	switch kind {
	case pngGray:
		return depth == 1 || depth == 2 || depth == 4 || depth == 8 || depth == 16
	case pngPalette:
		return depth == 1 || depth == 2 || depth == 4 || depth == 8
	case pngRGB, pngGrayAlpha, pngRGBA:
		return depth == 8 || depth == 16
	}
	return false
}

// pngSpace follows the precedence of the standard's section 4.3: cICP, iCCP,
// sRGB, then gAMA and cHRM.
func (h *header) pngSpace(icc, cicp, srgb, gama, chroma []byte) {
	if cicp != nil {
		if s, name, ok := codedSpace(cicp); ok {
			h.space, h.name = s, name
			return
		}
		h.find("color-code-unused", "the file states its colors by a video code that is not read; it is ignored",
			"convert the picture to sRGB and export it again")
	}
	if icc != nil {
		// A name, a NUL, the method 0, and the deflated profile.
		i := bytes.IndexByte(icc, 0)
		h.icc = []byte{}
		if i > 0 && i < 80 && len(icc) > i+2 && icc[i+1] == 0 {
			if body, err := inflate(icc[i+2:], maxProfile); err == nil {
				h.icc = body
			}
		}
		return
	}
	if srgb != nil {
		h.name = "sRGB"
		return
	}
	be := binary.BigEndian
	xy := srgbChromaticities()
	var c curve = srgbCurve{}
	if len(gama) == 4 {
		g := float64(be.Uint32(gama)) / 100000
		switch {
		case g > .01 && g < 10:
			// 1/2.2 is how sRGB's own curve is written in this chunk (11.3.2.2).
			if math.Abs(g*2.2-1) > .03 {
				c = gamma(1 / g)
			}
		default:
			h.find("gamma-unused", "the file states an impossible gamma; it is ignored", "export the picture again")
		}
	}
	if len(chroma) == 32 {
		for i := range xy {
			xy[i] = float64(be.Uint32(chroma[4*i:])) / 100000
		}
	}
	if len(gama) != 4 && len(chroma) != 32 {
		return
	}
	s, ok := chromaticSpace(c, xy)
	if !ok {
		h.find("chromaticities-unused", "the file states impossible primaries; the colors are taken as sRGB", "export the picture again")
		return
	}
	h.space = s
	h.name = "stated by gamma and primaries"
	if s.IsSRGB() {
		h.name = "sRGB"
	}
}

// srgbChromaticities returns x, y of white, red, green and blue (IEC 61966-2-1).
func srgbChromaticities() [8]float64 {
	return [8]float64{.3127, .3290, .64, .33, .30, .60, .15, .06}
}

// codedSpace reads a cICP chunk: the code points of ITU-T H.273 for primaries,
// transfer function, matrix (0: RGB) and range (1: full). Those for still
// pictures are read.
func codedSpace(b []byte) (s Space, name string, ok bool) {
	if len(b) != 4 || b[2] != 0 || b[3] != 1 {
		return s, "", false
	}
	xy := srgbChromaticities()
	switch b[0] {
	case 1:
		name = "BT.709"
	case 9:
		name = "BT.2020"
		copy(xy[2:], []float64{.708, .292, .170, .797, .131, .046})
	case 12:
		name = "Display P3"
		copy(xy[2:], []float64{.680, .320, .265, .690, .150, .060})
	default:
		return s, "", false
	}
	var c curve
	switch b[1] {
	case 13:
		c = srgbCurve{}
	case 1, 6, 14, 15: // the camera curve of BT.709, inverted
		c = parametric{g: 1 / .45, a: 1 / 1.099, b: .099 / 1.099, c: 1 / 4.5, d: .081}
	case 4:
		c = gamma(2.2)
	case 5:
		c = gamma(2.8)
	case 8:
		c = gamma(1)
	default:
		return s, "", false
	}
	s, ok = chromaticSpace(c, xy)
	if ok && s.IsSRGB() {
		name = "sRGB"
	}
	return s, name, ok
}

// maxProfile bounds an embedded profile, in bytes; the largest in circulation
// hold tables of some 3 MB.
const maxProfile = 16 << 20

// inflate unpacks zlib data of at most limit bytes.
func inflate(b []byte, limit int64) ([]byte, error) {
	z, err := zlib.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	out, err := io.ReadAll(io.LimitReader(z, limit+1))
	if err != nil {
		return nil, err
	}
	if int64(len(out)) > limit {
		return nil, errProfileBroken
	}
	return out, nil
}
