package artwork

import (
	"bytes"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"unicode/utf8"
)

// header is what is known of a picture before its pixels are decoded.
type header struct {
	data          []byte // the whole file
	width, height int    // as stored, before the orientation tag
	bytesPerPixel int    // of everything allocated while decoding, estimated from above
	heldPerPixel  int    // of that, what the picture takes once it is read
	minData       int64  // the least bytes in which such a picture can be stored

	orientation int     // EXIF 2.3, tag 274: 1 … 8; 0 is 1
	ppiX, ppiY  float64 // as stored; 0 when not stated

	colors colorKind
	icc    []byte // embedded color profile, nil without
	space  Space  // stated without a profile
	name   string // of that space

	findings []Finding
	detail   any // what the decoder of the format keeps from its header
}

type colorKind int

const (
	colorRGB colorKind = iota
	colorGray
	colorCMYK
)

func (h *header) find(code, message, mend string) {
	h.findings = append(h.findings, Finding{code, message, mend})
}

// format is a kind of file that is read.
type format struct {
	name    string
	endings []string
	header  func(*header) error
	decode  func(*header, *Picture) error
}

func formats() []format {
	return []format{
		{"PNG", []string{".png", ".apng"}, pngHeader, decodePNG},
		{"JPEG", []string{".jpg", ".jpeg", ".jpe", ".jfif"}, jpegHeader, decodeJPEG},
		{"TIFF", []string{".tif", ".tiff"}, tiffHeader, decodeTIFF},
		{"WebP", []string{".webp"}, webpHeader, decodeWebP},
		{"BMP", []string{".bmp", ".dib"}, bmpHeader, decodeBMP},
		{"GIF", []string{".gif"}, gifHeader, decodeGIF},
	}
}

// sniff tells the format by the content.
func sniff(data []byte) (format, error) {
	has := func(at int, s string) bool {
		return len(data) >= at+len(s) && string(data[at:at+len(s)]) == s
	}
	kinds := formats()
	switch {
	case len(data) == 0:
		return format{}, malformed("the file is empty")
	case has(0, "\x89PNG\r\n\x1a\n"):
		return kinds[0], nil
	case has(0, "\xff\xd8\xff"):
		return kinds[1], nil
	case has(0, "II*\x00"), has(0, "MM\x00*"):
		return kinds[2], nil
	case has(0, "RIFF") && has(8, "WEBP"):
		return kinds[3], nil
	case has(0, "BM") && len(data) >= 18 && data[15] == 0 && data[16] == 0 && data[17] == 0:
		return kinds[4], nil
	case has(0, "GIF87a"), has(0, "GIF89a"):
		return kinds[5], nil
	}
	what := "not a picture"
	switch {
	case has(0, "II+\x00"), has(0, "MM\x00+"):
		what = "a TIFF file of the kind for more than 4 GB, which is not read"
	case has(0, "%PDF"):
		what = "a PDF file, not a picture this reads"
	case has(0, "%!PS"), has(0, "\xc5\xd0\xd3\xc6"):
		what = "a PostScript file, not a picture this reads"
	case has(0, "8BPS"), has(0, "PK\x03\x04"):
		what = "a file with layers or an archive, not a picture this reads"
	case has(4, "ftyp"), has(0, "\xff\x0a"), has(0, "\x00\x00\x00\x0cJXL "), has(0, "\x00\x00\x00\x0cjP  "):
		what = "a picture of a kind that is not read"
	case has(0, "P") && len(data) > 2 && data[1] >= '1' && data[1] <= '7' && strings.ContainsRune(" \t\r\n", rune(data[2])):
		what = "a picture of a kind that is not read"
	case isText(data):
		what = "a text file, not a picture"
		if bytes.Contains(data[:min(len(data), 4096)], []byte("<svg")) {
			what = "an SVG file, not a picture this reads"
		}
	}
	return format{}, unsupported(what)
}

// isText reports whether the beginning of the data is plain text.
func isText(data []byte) bool {
	head := data[:min(len(data), 1024)]
	for len(head) > 0 {
		r, n := utf8.DecodeRune(head)
		if r == utf8.RuneError && n == 1 && len(head) >= utf8.UTFMax || r < ' ' && !strings.ContainsRune("\t\r\n\f", r) {
			return false
		}
		head = head[n:]
	}
	return true
}

// checkEnding reports a name whose ending says another format.
func checkEnding(p *Picture, name string, kind format) {
	ending := strings.ToLower(filepath.Ext(name))
	if ending == "" || slices.Contains(kind.endings, ending) {
		return
	}
	p.find("file-ending", fmt.Sprintf("the name ends in %s but the file is a %s", ending, kind.name),
		fmt.Sprintf("rename it to end in %s", kind.endings[0]))
}

// setSpace gives the numbers of the picture their meaning: the embedded
// profile, else what the file states otherwise, else sRGB.
func (p *Picture) setSpace(h *header) {
	if h.colors == colorCMYK {
		p.find("process-colors", "the picture is in process colors (CMYK); they are turned into sRGB by plain subtraction, so colors shift",
			"export it as RGB from the program it was made in")
	}
	if h.icc == nil {
		p.Space, p.Profile = h.space, h.name
		return
	}
	prof, err := parseProfile(h.icc)
	p.Profile = prof.name
	if err == nil && h.colors == colorRGB && string(h.icc[16:20]) == "GRAY" {
		err = errProfileKind
	}
	if h.colors == colorCMYK {
		return
	}
	if err != nil {
		p.find("profile-unused", fmt.Sprintf("the embedded color profile%s %v; the colors are taken as sRGB", quoted(prof.name), err),
			"convert the picture to sRGB and export it again")
		return
	}
	p.Space = prof.space
}

func quoted(name string) string {
	if name == "" {
		return ""
	}
	return fmt.Sprintf(" %q", name)
}

// setResolution takes the stated resolution over, after the picture has been
// turned upright.
func (p *Picture) setResolution(h *header) {
	x, y := h.ppiX, h.ppiY
	if h.orientation >= 5 {
		x, y = y, x
	}
	if x <= 0 {
		x = y
	}
	if y <= 0 {
		y = x
	}
	if !(x > 0) || unstated(x) && unstated(y) {
		return
	}
	const lowest, highest = 10, 20000
	if x < lowest || x > highest || y < lowest || y > highest {
		p.find("resolution-odd", fmt.Sprintf("the file states an impossible resolution (%.4g × %.4g ppi); it is ignored", x, y),
			"give the print size with --width or --height")
		return
	}
	if d := x / y; d < .995 || d > 1.005 {
		p.find("pixels-not-square", fmt.Sprintf("the file states %.4g ppi across and %.4g ppi down; the pixels are printed square, by the first", x, y),
			"resample the picture to one resolution, or give the print size with --width")
	}
	p.PPI = x
}

// unstated reports whether a resolution is one of those that programs write
// without being asked.
func unstated(ppi float64) bool {
	return ppi >= 71.5 && ppi <= 72.5 || ppi >= 95.5 && ppi <= 96.5
}
