package job

import (
	"fmt"
	"math"
	"path/filepath"
	"strings"

	"platewright/halftone"
	"platewright/separate/artwork"
)

// Plate is a plate read from a file, perhaps made or worked on by hand.
type Plate struct {
	halftone.Plate
	Path     string
	WidthMM  float64 // print size
	HeightMM float64
	Note     string // where the size comes from
	Findings []Finding
}

// grayStep is by how much the channels of a gray may differ, 0 … 1: JPEG moves
// them by that much.
const grayStep = 8.0 / 255

// ReadPlate reads a grayscale picture as a plate: black is full ink, white and
// transparent none. Width and height are as in a job.
func ReadPlate(path string, lim artwork.Limits, width, height Length) (*Plate, error) {
	pic, err := artwork.Open(path, lim)
	if err != nil {
		return nil, err
	}
	p := &Plate{Path: path, Plate: halftone.Plate{Width: pic.Width, Height: pic.Height, Cov: make([]uint16, pic.Width*pic.Height)}, Findings: Found(path, pic)}
	if p.WidthMM, p.HeightMM, p.Note, err = artwork.PrintSize(pic, string(width), string(height)); err != nil {
		return nil, &SizeError{filepath.Base(path), err}
	}
	i := 0
	for y := range pic.Height {
		for x := range pic.Width {
			r, g, b := pic.At(x, y)
			if max(r, g, b)-min(r, g, b) > grayStep && !pic.Bare(x, y) {
				return nil, fmt.Errorf("%s: a plate is gray and this picture has colors: save it as grayscale, or split it with platewright separate", path)
			}
			p.Cov[i] = 65535 - uint16(math.Round((r+g+b)/3*65535))
			i++
		}
	}
	for i, cov := range p.Cov {
		switch {
		case pic.Alpha != nil:
			p.Cov[i] = uint16((uint32(cov)*uint32(pic.Alpha[i]) + 127) / 255)
		case pic.Alpha16 != nil:
			p.Cov[i] = uint16((uint64(cov)*uint64(pic.Alpha16[i]) + 32767) / 65535)
		}
	}
	return p, nil
}

// ReadPlates reads the plates of one print, which all have the same size.
func ReadPlates(paths []string, lim artwork.Limits, width, height Length) ([]*Plate, error) {
	var out []*Plate
	for _, path := range paths {
		p, err := ReadPlate(path, lim, width, height)
		if err != nil {
			return nil, err
		}
		if len(out) > 0 {
			first := out[0]
			if p.Width != first.Width || p.Height != first.Height {
				return nil, fmt.Errorf("%s has %d × %d pixels and %s %d × %d: plates of one print have the same size, save them uncropped",
					path, p.Width, p.Height, first.Path, first.Width, first.Height)
			}
			if math.Abs(p.WidthMM/first.WidthMM-1) > .005 {
				return nil, fmt.Errorf("%s prints %.1f mm wide and %s %.1f mm: plates of one print have the same resolution, or give --width",
					path, p.WidthMM, first.Path, first.WidthMM)
			}
		}
		out = append(out, p)
	}
	return out, nil
}

// PlateFindings are what the reader found about plates.
func PlateFindings(plates []*Plate) []Finding {
	out := []Finding{}
	for _, p := range plates {
		out = append(out, p.Findings...)
	}
	return out
}

// PPI is the plate's resolution at print size.
func (p *Plate) PPI() float64 { return float64(p.Width) / p.WidthMM * 25.4 }

// Shift is a plate out of register, in millimetres to the right and down.
type Shift struct{ X, Y float64 }

// ParseShifts reads how far the plates of inks in print order lie out of
// register. "0.5mm" moves all but the first by that far, each to another side;
// "brick rust=0.5mm/-0.2mm" moves one to the right and down.
func ParseShifts(typed []string, inks []string) ([]Shift, error) {
	out := make([]Shift, len(inks))
	for _, s := range typed {
		at := strings.LastIndexByte(s, '=')
		if at < 0 {
			mm, err := signedLength(s)
			if err != nil {
				return nil, &SettingError{"shift", s, err.Error()}
			}
			for i := 1; i < len(out); i++ {
				sin, cos := math.Sincos(float64(i-1) * 2 * math.Pi / float64(max(3, len(out)-1)))
				out[i] = Shift{Round(mm*cos, 6), Round(mm*sin, 6)}
			}
			continue
		}
		i := -1
		for k, name := range inks {
			if strings.EqualFold(name, strings.TrimSpace(s[:at])) {
				i = k
			}
		}
		if i < 0 {
			return nil, &SettingError{"shift", s, fmt.Sprintf("no ink %q in this print, which has %s", s[:at], strings.Join(inks, ", "))}
		}
		x, y, both := strings.Cut(s[at+1:], "/")
		if !both {
			return nil, &SettingError{"shift", s, "give how far to the right and down: ink=0.5mm/-0.2mm"}
		}
		var err error
		if out[i].X, err = signedLength(x); err == nil {
			out[i].Y, err = signedLength(y)
		}
		if err != nil {
			return nil, &SettingError{"shift", s, err.Error()}
		}
	}
	return out, nil
}

// signedLength reads a length that may be negative or, as 0, without a unit.
func signedLength(s string) (float64, error) {
	s = strings.TrimSpace(s)
	positive, negative := strings.CutPrefix(s, "-")
	if strings.Trim(strings.TrimRight(positive, "cimn"), "0.") == "" && strings.ContainsRune(positive, '0') {
		return 0, nil
	}
	mm, err := artwork.ParseLength(positive)
	if negative {
		mm = -mm
	}
	return mm, err
}

// Shifted returns the plate moved by a shift, bare where it moved away. Parts of
// a pixel are interpolated.
func (p *Plate) Shifted(by Shift) []uint16 {
	if by == (Shift{}) {
		return p.Cov
	}
	scale := p.PPI() / 25.4
	dx, dy := by.X*scale, by.Y*scale
	ix, iy := int(math.Floor(dx)), int(math.Floor(dy))
	fx, fy := dx-float64(ix), dy-float64(iy)
	out := make([]uint16, len(p.Cov))
	at := func(x, y int) float64 {
		if x < 0 || y < 0 || x >= p.Width || y >= p.Height {
			return 0
		}
		return float64(p.Cov[y*p.Width+x])
	}
	for y := range p.Height {
		for x := range p.Width {
			x0, y0 := x-ix, y-iy
			up := at(x0, y0) + float64(fx*(at(x0-1, y0)-at(x0, y0)))
			down := at(x0, y0-1) + float64(fx*(at(x0-1, y0-1)-at(x0, y0-1)))
			out[y*p.Width+x] = uint16(math.Round(up + float64(fy*(down-up))))
		}
	}
	return out
}
