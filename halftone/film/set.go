package film

import (
	"errors"
	"fmt"
	"strings"

	"platewright/halftone"
)

// Ink is one ink as a file shows it, in plain numbers.
type Ink struct {
	Name     string
	Lab      [3]float64 // its solid on the paper, CIELAB under D50
	RGB      [3]uint8   // the same in sRGB
	Solidity float64    // 0 clear … 1 opaque
}

// Set is all plates of a print at the resolution of the artwork, to go into one
// file.
type Set struct {
	Plates   []halftone.Tone // one an ink, of one size, first printed first
	Inks     []Ink
	PaperLab [3]float64
	PaperRGB [3]uint8
	BleedMM  float64 // how much of the plates on each side lies outside the trim

	// Color and Shown say what a set of coverages, 0 … 1 in print order, prints:
	// CIELAB under D50, and the same in sRGB, 0 … 1, less and more where no display
	// has the color. Only the PDF needs them.
	Color func(coverage []float64) (lab [3]float64)
	Shown func(coverage []float64) (rgb [3]float64)
}

// maxInks is what a test print can measure in pairs and a file still sample.
const maxInks = 8

func (s *Set) check() (w, h int, err error) {
	if len(s.Plates) == 0 || len(s.Plates) != len(s.Inks) || len(s.Inks) > maxInks {
		return 0, 0, fmt.Errorf("film: %d plates and %d inks: give as many of both, 1 … %d", len(s.Plates), len(s.Inks), maxInks)
	}
	w, h = s.Plates[0].Size()
	if w < 1 || h < 1 {
		return 0, 0, errors.New("film: the plates are empty")
	}
	for i, p := range s.Plates {
		if pw, ph := p.Size(); pw != w || ph != h {
			return 0, 0, fmt.Errorf("film: plate %q is %d x %d pixels and the first %d x %d: make all one size", s.Inks[i].Name, pw, ph, w, h)
		}
	}
	seen := map[string]bool{}
	for _, ink := range s.Inks {
		if seen[ink.Name] {
			return 0, 0, fmt.Errorf("film: two plates are named %q: name them apart", ink.Name)
		}
		seen[ink.Name] = true
		if err := ink.check(); err != nil {
			return 0, 0, err
		}
	}
	return w, h, nil
}

// open checks what goes into a file of all plates.
func (s *Set) open(info Info) (w, h int, dpi float64, err error) {
	if w, h, err = s.check(); err != nil {
		return 0, 0, 0, err
	}
	if dpi, err = info.dpi(nil); err != nil {
		return 0, 0, 0, err
	}
	if info.Compression != Deflate {
		return 0, 0, 0, errors.New("film: Group 4 packs one-bit pictures only: leave the compression of a plate set as it is")
	}
	return w, h, dpi, nil
}

func (i *Ink) check() error {
	switch {
	case i.Name == "All" || i.Name == "None":
		// ISO 32000-1, 8.6.6.4: they mean every plate, and no plate.
		return fmt.Errorf("film: an ink named %q means something else in a PDF: rename it", i.Name)
	case i.Name == "" || strings.ContainsRune(i.Name, 0):
		return fmt.Errorf("film: ink name %q: give it a name", i.Name)
	case !(i.Solidity >= 0 && i.Solidity <= 1):
		return fmt.Errorf("film: solidity %v of ink %q: it is 0 (clear) to 1 (opaque)", i.Solidity, i.Name)
	}
	return nil
}

// interleave fills dst with rows y0 … y1-1 of all plates, one byte an ink, 255
// being full ink.
func (s *Set) interleave(dst []byte, w, y0, y1 int) {
	n := len(s.Plates)
	row := make([]uint16, w)
	for k, p := range s.Plates {
		for y := y0; y < y1; y++ {
			p.Row(row, y)
			out := dst[(y-y0)*w*n:]
			for x, c := range row {
				out[x*n+k] = eight(c)
			}
		}
	}
}
