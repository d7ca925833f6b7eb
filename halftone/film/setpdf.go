package film

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
)

// labSpace is CIELAB under D50, the white of ICC.1.
const labSpace = "[/Lab << /WhitePoint [0.9642 1 0.8249] /Range [-128 127 -128 127] >>]"

// WriteColorPDF writes films as [WritePDF] does, each page in its ink's own
// separation color and its marks in /All, which prints on every plate (ISO 32000-1,
// 8.6.6.4). inks stand beside pages.
func WriteColorPDF(w io.Writer, pages []*Page, inks []Ink, info Info) error {
	if len(pages) != len(inks) {
		return fmt.Errorf("film: %d pages and %d inks: give one a page", len(pages), len(inks))
	}
	for _, ink := range inks {
		if err := ink.check(); err != nil {
			return err
		}
	}
	return writeFilms(w, pages, info, func(f *pdfFile, i int) paint {
		tint := f.add("<< /FunctionType 2 /Domain [0 1] /N 1 /C0 [100 0 0] /C1 [%s] /Range [0 100 -128 127 -128 127] >>", numbers(inks[i].Lab[:]))
		all := f.add("<< /FunctionType 2 /Domain [0 1] /N 1 /C0 [1] /C1 [0] >>")
		return paint{
			ink: "/Ink cs 1 scn", marks: "/All cs 1 scn", none: "/Ink cs 0 scn",
			resources: fmt.Sprintf("/ColorSpace << /Ink [/Separation %s %s %d 0 R] /All [/Separation /All /DeviceGray %d 0 R] >>",
				pdfName(inks[i].Name), labSpace, tint, all),
		}
	})
}

// WriteSetPDF writes all plates as one page of their own inks at true size: a
// picture in /DeviceN with an /NChannel dictionary that carries each ink's
// /Separation, its solidity and the print order (ISO 32000-1, 8.6.6.5). A reader
// without these inks shows the print on its paper: the tint transform is the set's
// Shown on a grid, linear between, to /DeviceRGB, which readers with and without color
// management take for sRGB. Of CIELAB, as the single inks have it, some without make
// colors that are off by 3.
func WriteSetPDF(w io.Writer, s Set, info Info) error {
	width, height, dpi, err := s.open(info)
	if err != nil {
		return err
	}
	if s.Color == nil || s.Shown == nil {
		return errors.New("film: a PDF of all plates needs to know what coverages print: set Color and Shown")
	}
	if least := float64(min(width, height)) / dpi * mmPerInch; !(s.BleedMM >= 0 && 2*s.BleedMM < least) {
		return fmt.Errorf("film: bleed of %s mm leaves nothing of plates of %s mm: give a smaller one", decimal(s.BleedMM, 1), decimal(least, 1))
	}
	f := newPDF(w)
	tree := f.promise()
	n := len(s.Inks)
	var names, colorants, solidities []string
	for i, ink := range s.Inks {
		name := pdfName(ink.Name)
		tint := f.sampled(1, curveSteps, labRange, func(c []float64) [3]float64 {
			all := make([]float64, n)
			all[i] = c[0]
			return s.Color(all)
		})
		names = append(names, name)
		colorants = append(colorants, fmt.Sprintf("%s [/Separation %s %s %d 0 R]", name, name, labSpace, tint))
		solidities = append(solidities, fmt.Sprintf("%s %.4f", name, ink.Solidity))
	}
	list := strings.Join(names, " ")
	space := f.add("[/DeviceN [%s] /DeviceRGB %d 0 R << /Subtype /NChannel /Colorants << %s >> /MixingHints << /Solidities << %s >> /PrintingOrder [%s] >> >>]",
		list, f.sampled(n, gridSteps[n-1], rgbRange, s.Shown), strings.Join(colorants, " "), strings.Join(solidities, " "), list)

	stride := width * n
	step := chunkRows(stride)
	dict := fmt.Sprintf("/Type /XObject /Subtype /Image /Width %d /Height %d /BitsPerComponent 8 /ColorSpace %d 0 R", width, height, space)
	parms := fmt.Sprintf(" /Filter /FlateDecode /DecodeParms << /Predictor 15 /Colors %d /BitsPerComponent 8 /Columns %d >>", n, width)
	image := f.streamed(dict+parms, func() error {
		return f.deflate((height+step-1)/step, func(p *packer, i int) []byte {
			return filterRows(p, func(dst []byte, y0, y1 int) { s.interleave(dst, width, y0, y1) }, stride, n, i*step, min(height, (i+1)*step))
		})
	})
	pt := 72 / dpi
	pw, ph := (float64(width)-hair)*pt, (float64(height)-hair)*pt
	// The picture lies in a pattern of one tile, where readers that would rather
	// simulate plates than show colors do not look for inks.
	tile := f.stream(fmt.Sprintf("/Type /Pattern /PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 %s %s] /XStep %s /YStep %s /Resources << /XObject << /Print %d 0 R >> >>",
		decimal(pw, 5), decimal(ph, 5), decimal(2*pw, 5), decimal(2*ph, 5), image),
		fmt.Appendf(nil, "%s 0 0 %s 0 %s cm\n%s", decimal(pt, 9), decimal(-pt, 9), decimal(ph, 5), draw("Print", 0, 0, width, height)))
	content := f.stream("", fmt.Appendf(nil, "/Pattern cs /Plates scn 0 0 %s %s re f", decimal(pw, 5), decimal(ph, 5)))
	in := s.BleedMM / mmPerInch * 72
	page := f.add("<< /Type /Page /Parent %d 0 R /MediaBox [0 0 %s %s] /TrimBox [%s] /Contents %d 0 R /Resources << /Pattern << /Plates %d 0 R >> >> >>",
		tree, decimal(pw, 5), decimal(ph, 5), numbers([]float64{in, in, pw - in, ph - in}), content, tile)
	return f.close([]int{page}, tree, info)
}

// curveSteps and gridSteps are samples along each ink: of one ink alone, and of k inks
// by k-1; between them a reader goes straight. They keep the grid under some 80 000
// colors, or half a megabyte before it is packed.
const curveSteps = 33

var gridSteps = [maxInks]int{33, 33, 17, 11, 9, 6, 5, 4}

// outputs are what a tint transform gives: the numbers that the samples' lowest and
// highest codes stand for, and the range results are cut to.
type outputs struct{ decode, cut [6]float64 }

var (
	labRange = outputs{[6]float64{0, 100, -128, 127, -128, 127}, [6]float64{0, 100, -128, 127, -128, 127}}
	// Samples of colors that a display lacks go beyond it, so that the line between
	// two of them crosses its edge where the colors do.
	rgbRange = outputs{[6]float64{-1, 2, -1, 2, -1, 2}, [6]float64{0, 1, 0, 1, 0, 1}}
)

// sampled writes a Type 0 function of n inputs 0 … 1 to three numbers of 16 bits.
func (f *pdfFile) sampled(n, steps int, to outputs, color func([]float64) [3]float64) int {
	total := 1
	for range n {
		total *= steps
	}
	data := make([]byte, 0, 6*total)
	at := make([]float64, n)
	for i := range total {
		for k, rest := 0, i; k < n; k, rest = k+1, rest/steps { // the first ink varies fastest
			at[k] = float64(rest%steps) / float64(steps-1)
		}
		for c, v := range color(at) {
			low, high := to.decode[2*c], to.decode[2*c+1]
			v = math.Max(0, math.Min(1, (v-low)/(high-low)))
			data = binary.BigEndian.AppendUint16(data, uint16(math.Round(v*65535)))
		}
	}
	return f.stream(fmt.Sprintf("/FunctionType 0 /Domain [%s] /Range [%s] /Decode [%s] /Size [%s] /BitsPerSample 16",
		strings.TrimSpace(strings.Repeat("0 1 ", n)), numbers(to.cut[:]), numbers(to.decode[:]), strings.TrimSpace(strings.Repeat(fmt.Sprint(steps)+" ", n))), data)
}

// numbers writes values with blanks between.
func numbers(v []float64) string {
	var s []string
	for _, x := range v {
		s = append(s, decimal(x, 4))
	}
	return strings.Join(s, " ")
}
