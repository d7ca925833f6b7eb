package job

import (
	"fmt"
	"math"
	"path/filepath"

	"platewright/composite/ink"
	"platewright/separate"
	"platewright/separate/artwork"
)

// SeparateOptions are the settings as package separate takes them. Pins need
// the inks of a print and are left out.
func (j *Job) SeparateOptions() (separate.Options, error) {
	k := *j
	k.Pin = nil
	return k.options(&Choice{})
}

// Art is a picture laid over a paper, with its size on it.
type Art struct {
	*artwork.Picture
	File              string // its name, without the folder
	WidthMM, HeightMM float64
	Note              string // the print size in words
}

// OpenArt reads a picture, settles its print size and lays its transparency
// over the paper.
func (j *Job) OpenArt(path string, paper *ink.Paper, lim artwork.Limits) (*Art, error) {
	p, err := artwork.Open(path, lim)
	if err != nil {
		return nil, err
	}
	a := &Art{Picture: p, File: filepath.Base(path)}
	if a.WidthMM, a.HeightMM, a.Note, err = artwork.PrintSize(p, string(j.Width), string(j.Height)); err != nil {
		return nil, &SizeError{a.File, err}
	}
	p.Flatten(paper.Color)
	return a, nil
}

// Found is what the reader found about the picture.
func (a *Art) Found() []Finding { return Found("", a.Picture) }

// Found is what the reader found about a picture, with the name of its file
// before it where it is one of several.
func Found(file string, p *artwork.Picture) (out []Finding) {
	for _, f := range p.Findings {
		level := Warning
		if f.Code == artwork.AllTransparent {
			level = Fault
		}
		message := f.Message
		if file != "" {
			message = file + ": " + message
		}
		out = append(out, Finding{Code: f.Code, Level: level, Message: message, Mend: f.Mend})
	}
	return out
}

// OpenMask reads a picture that says how much each pixel of art counts, black
// nothing and white most, enlarged or reduced to its size.
func OpenMask(path string, art *Art, lim artwork.Limits) ([]uint8, error) {
	p, err := artwork.Open(path, lim)
	if err != nil {
		return nil, err
	}
	if a, b := float64(p.Width)/float64(p.Height), float64(art.Width)/float64(art.Height); math.Abs(a/b-1) > .01 {
		return nil, &MaskError{filepath.Base(path), p.Width, p.Height, art}
	}
	mask := make([]uint8, art.Width*art.Height)
	for y := range art.Height {
		for x := range art.Width {
			px, py := x*p.Width/art.Width, y*p.Height/art.Height
			r, g, b := p.At(px, py)
			if !p.Bare(px, py) {
				mask[y*art.Width+x] = uint8(math.Round(255 * (r + g + b) / 3))
			}
		}
	}
	return mask, nil
}

// MaskError is a mask that is not of its picture's shape.
type MaskError struct {
	File          string
	Width, Height int
	Art           *Art
}

func (e *MaskError) Error() string {
	return fmt.Sprintf("%s is %d × %d pixels and %s %d × %d: a mask has the shape of its picture", e.File, e.Width, e.Height, e.Art.File, e.Art.Width, e.Art.Height)
}
