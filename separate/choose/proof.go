package choose

import (
	"context"
	"image"
	"math"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/composite/spectrum"
	"platewright/separate"
	"platewright/separate/artwork"
)

// A Proof is a picture printed with one set of inks, to be compared with others.
// All pictures of it have the size of Art.
type Proof struct {
	Art, Print    *image.NRGBA   // sRGB
	Want, Printed []spectrum.Lab // row-major; Want is as the print should be
	Plates        []*image.Gray  // dark where ink prints
	Fit           separate.Fit
	Tints         separate.TintRule
	Coverage      []float64 // mean of each ink over the whole area, 0 … 1
	TotalCoverage float64   // of all inks in the fullest spot, percent
	Findings      []separate.Finding
	Width, Height int // of what was separated
}

// NewProof separates the flattened picture p for the inks in print order and
// renders it, reduced so that no side is longer than longest pixels. With quick
// set it separates a reduced picture, which is for thumbnails: its figures are
// those of the reduced picture.
func NewProof(ctx context.Context, shelf *ink.Shelf, paper *ink.Paper, p *artwork.Picture, uses []composite.Use, opt separate.Options, longest int, quick bool) (*Proof, error) {
	m, err := composite.New(shelf, paper, uses)
	if err != nil {
		return nil, err
	}
	if quick && max(p.Width, p.Height) > longest {
		if opt.Tints == separate.TintsAuto {
			// A smaller picture has more edges: the whole one says what it is.
			opt.Tints, _ = separate.Decide(p, &opt)
		}
		p = p.Reduced(longest)
	}
	res, err := separate.Separate(ctx, p, m, opt)
	if err != nil {
		return nil, err
	}
	print, err := m.Render(res.Ink, p.Width, p.Height, 8, opt.Workers)
	if err != nil {
		return nil, err
	}
	out := &Proof{Fit: res.Fit, Tints: res.Tints, Findings: res.Findings, Width: p.Width, Height: p.Height}
	out.Art = p.Preview(longest)
	whole := &artwork.Picture{Width: p.Width, Height: p.Height, Pix: print.Pix}
	out.Print = whole.Preview(longest)
	out.compare(paper, &opt)
	out.plates(res, longest)
	return out, nil
}

// compare sets the colors that are wanted and printed.
func (o *Proof) compare(paper *ink.Paper, opt *separate.Options) {
	wanted := separate.Wanted(artwork.Space{}, paper.Color, opt)
	under := paper.Color.RGB().Clamp()
	n := len(o.Art.Pix) / 4
	o.Want, o.Printed = make([]spectrum.Lab, n), make([]spectrum.Lab, n)
	for i := range n {
		q := o.Print.Pix[4*i : 4*i+3]
		o.Printed[i] = spectrum.RGB{float64(q[0]) / 255, float64(q[1]) / 255, float64(q[2]) / 255}.XYZ().Lab()
		// What is transparent shows the paper.
		a := o.Art.Pix[4*i : 4*i+4]
		share := float64(a[3]) / 255
		var rgb [3]float64
		for c := range rgb {
			rgb[c] = share*float64(a[c])/255 + (1-share)*under[c]
			a[c] = uint8(math.Round(255 * rgb[c]))
		}
		a[3] = 255
		o.Want[i] = wanted(rgb)
	}
}

// plates sets the pictures of the plates and their coverages.
func (o *Proof) plates(res *separate.Result, longest int) {
	w, h := o.Art.Rect.Dx(), o.Art.Rect.Dy()
	for _, cov := range res.Ink {
		g := image.NewGray(image.Rect(0, 0, w, h))
		sum := uint64(0)
		for _, v := range cov {
			sum += uint64(v)
		}
		o.Coverage = append(o.Coverage, float64(sum)/65535/float64(len(cov)))
		for y := range h {
			for x := range w {
				x0, x1 := x*res.Width/w, (x+1)*res.Width/w
				y0, y1 := y*res.Height/h, (y+1)*res.Height/h
				part := uint64(0)
				for yy := y0; yy < y1; yy++ {
					for _, v := range cov[yy*res.Width+x0 : yy*res.Width+x1] {
						part += uint64(v)
					}
				}
				g.Pix[y*g.Stride+x] = 255 - uint8(math.Round(float64(part)/float64((x1-x0)*(y1-y0))/257))
			}
		}
		o.Plates = append(o.Plates, g)
	}
	most := uint32(0)
	for i := range res.Ink[0] {
		s := uint32(0)
		for _, cov := range res.Ink {
			s += uint32(cov[i])
		}
		most = max(most, s)
	}
	o.TotalCoverage = 100 * float64(most) / 65535
}
