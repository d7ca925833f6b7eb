package film

import (
	"errors"
	"fmt"
	"io"
	"math"

	"platewright/halftone"
)

// Master is the page a stencil duplicator scans or is sent, one a drum: the paper's
// size, the plate in black on it in grays, no dots and no marks. The machine makes
// its own dots.
type Master struct {
	Paper             string     // "A3", "297x420mm": width by height as it is fed, the leading edge on top
	MarginsMM         [4]float64 // unprintable at top (the leading edge), right, bottom, left
	WidthMM, HeightMM float64    // the artwork, centered on what is left
	DPI               float64    // 0 is 600
}

// masterPage is a plate on its paper, a [halftone.Tone].
type masterPage struct {
	w, h, x, y int
	plate      *resized
}

// page places a plate.
func (m *Master) page(plate halftone.Tone) (*masterPage, float64, error) {
	pw, ph, err := ParseSize(m.Paper)
	if err != nil {
		return nil, 0, err
	}
	dpi := m.DPI
	if dpi == 0 {
		dpi = 600
	}
	top, right, bottom, left := m.MarginsMM[0], m.MarginsMM[1], m.MarginsMM[2], m.MarginsMM[3]
	sheet := Sheet{WidthMM: m.WidthMM, HeightMM: m.HeightMM, DPI: dpi, NoMarks: true}
	if err := sheet.check(); err != nil {
		return nil, 0, err
	}
	for _, v := range m.MarginsMM {
		if !(v >= 0) {
			return nil, 0, fmt.Errorf("film: margin of %s mm: give 0 or more", decimal(v, 1))
		}
	}
	const slack = 1e-6
	roomW, roomH := pw-left-right, ph-top-bottom
	if m.WidthMM > roomW+slack || m.HeightMM > roomH+slack {
		most := math.Max(0, math.Floor(10*math.Min(roomW, roomH*m.WidthMM/m.HeightMM)+slack)/10)
		return nil, 0, &FitError{Film: m.Paper, WidthMM: m.WidthMM, HeightMM: m.HeightMM, LargestWidthMM: most}
	}
	if w, h := plate.Size(); w < 1 || h < 1 {
		return nil, 0, errors.New("film: the plate is empty")
	}
	px := func(mm float64) int { return round(float64(mm*dpi) / mmPerInch) }
	p := &masterPage{w: px(pw), h: px(ph), x: px(left + (roomW-m.WidthMM)/2), y: px(top + (roomH-m.HeightMM)/2)}
	p.plate = newResized(plate, min(max(1, px(m.WidthMM)), p.w-p.x), min(max(1, px(m.HeightMM)), p.h-p.y))
	return p, dpi, nil
}

// Size implements [halftone.Tone].
func (p *masterPage) Size() (w, h int) { return p.w, p.h }

// Row implements [halftone.Tone].
func (p *masterPage) Row(dst []uint16, y int) {
	clear(dst[:p.w])
	if y -= p.y; y >= 0 && y < p.plate.h {
		p.plate.Row(dst[p.x:], y)
	}
}

// WriteMasterPNG writes one drum's page as a gray PNG of 8 bits.
func WriteMasterPNG(w io.Writer, m Master, plate halftone.Tone, info Info) error {
	p, dpi, err := m.page(plate)
	if err != nil {
		return err
	}
	if info.DPI != 0 && info.DPI != dpi {
		return fmt.Errorf("film: %v dpi for a page of %v: leave it 0", info.DPI, dpi)
	}
	info.DPI = dpi
	return WritePlate(w, p, 8, info)
}

// WriteMasterPDF writes the pages of all drums as one gray PDF, a page a plate.
func WriteMasterPDF(w io.Writer, m Master, plates []halftone.Tone, info Info) error {
	if len(plates) == 0 {
		return errors.New("film: no plates: give at least one")
	}
	if info.Compression != Deflate {
		return errors.New("film: Group 4 packs one-bit pictures only: leave the compression of gray pages as it is")
	}
	var pages []*masterPage
	pt := 0.0
	for _, plate := range plates {
		p, dpi, err := m.page(plate)
		if err != nil {
			return err
		}
		if info.DPI != 0 && info.DPI != dpi {
			return fmt.Errorf("film: %v dpi for a page of %v: leave it 0", info.DPI, dpi)
		}
		pages, pt = append(pages, p), 72/dpi
	}
	f := newPDF(w)
	tree := f.promise()
	var kids []int
	for _, p := range pages {
		art := p.plate
		step := chunkRows(art.w)
		dict := fmt.Sprintf("/Type /XObject /Subtype /Image /Width %d /Height %d /BitsPerComponent 8 /ColorSpace /DeviceGray /Filter /FlateDecode /DecodeParms << /Predictor 15 /Columns %d >>", art.w, art.h, art.w)
		image := f.streamed(dict, func() error {
			return f.deflate((art.h+step-1)/step, func(z *packer, i int) []byte {
				return filterRows(z, func(dst []byte, y0, y1 int) { grayRows(art, dst, y0, y1) }, art.w, 1, i*step, min(art.h, (i+1)*step))
			})
		})
		pw, ph := decimal((float64(p.w)-hair)*pt, 5), decimal((float64(p.h)-hair)*pt, 5)
		content := f.stream("", fmt.Appendf(nil, "%s 0 0 %s 0 %s cm\n%s", decimal(pt, 9), decimal(-pt, 9), ph, draw("Plate", p.x, p.y, art.w, art.h)))
		kids = append(kids, f.add("<< /Type /Page /Parent %d 0 R /MediaBox [0 0 %s %s] /Contents %d 0 R /Resources << /XObject << /Plate %d 0 R >> >> >>", tree, pw, ph, content, image))
		if f.err != nil {
			return f.err
		}
	}
	return f.close(kids, tree, info)
}

// grayRows fills dst with rows of coverage as 0 = full ink, 255 = none.
func grayRows(t halftone.Tone, dst []byte, y0, y1 int) {
	w, _ := t.Size()
	row := make([]uint16, w)
	for ; y0 < y1; y0++ {
		t.Row(row, y0)
		for i, c := range row {
			dst[i] = ^eight(c)
		}
		dst = dst[w:]
	}
}
