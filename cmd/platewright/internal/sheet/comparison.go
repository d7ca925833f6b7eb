package sheet

import (
	_ "embed"
	"fmt"
	"html/template"
	"image"
	"image/draw"
	"io"

	"github.com/disintegration/imaging"

	"platewright/composite/spectrum"
)

// Comparison is pictures printed with several sets of inks.
type Comparison struct {
	Title string
	Lead  string // one sentence below it
	Arts  []ComparedArt
	Notes []string
	Next  []string // the commands that come next
}

// ComparedArt is one picture with its prints.
type ComparedArt struct {
	Name string
	Art  image.Image
	Sets []ComparedSet
}

// ComparedSet is one print of a picture. All of its pictures have the size of
// the picture's own Art.
type ComparedSet struct {
	Name          string // of the set, or its place
	Paper         spectrum.XYZ
	Inks          []ComparedInk // in print order, first printed first
	Proof         image.Image
	Want, Printed []spectrum.Lab // row-major, in the size of Proof; nil: no difference map
	Figures       []Fact
	Words         []string // what speaks for and against it
	Mean, P95     float64  // CIEDE2000
	InReach       float64  // percent of the area
	Makes         []Makes  // what each overlap makes of the artwork
}

// ComparedInk is an ink of a set and its plate.
type ComparedInk struct {
	Name  string
	Color spectrum.XYZ // its solid on the paper
	Note  string
	Plate image.Image // dark where ink prints; nil: not shown
}

// Makes is an overlap of inks and the colors of the artwork that it makes.
type Makes struct {
	Inks   string
	Solid  spectrum.XYZ
	Colors []Match
}

const (
	comparisonPicture = 560 // longest side on the page, in pixels
	comparisonPlate   = 240
)

//go:embed comparison.html
var comparisonSource string

type comparisonView struct {
	*Comparison
	Rows   []comparisonRow
	Legend []legendStep
}

type comparisonRow struct {
	Name string
	Art  template.URL
	Sets []comparisonCell
}

type comparisonCell struct {
	ComparedSet
	ProofURL, DiffURL template.URL
	PlateURLs         []template.URL
}

// WriteComparison writes the comparison as one HTML page that needs no other
// file. All words of c are escaped.
func WriteComparison(w io.Writer, c Comparison) error {
	v := comparisonView{Comparison: &c, Legend: legend()}
	for _, a := range c.Arts {
		row := comparisonRow{Name: a.Name}
		var err error
		if row.Art, err = dataURL(a.Art, comparisonPicture); err != nil {
			return fmt.Errorf("sheet: %w", err)
		}
		for _, s := range a.Sets {
			cell := comparisonCell{ComparedSet: s}
			if cell.ProofURL, err = dataURL(s.Proof, comparisonPicture); err != nil {
				return fmt.Errorf("sheet: %w", err)
			}
			if s.Want != nil {
				diff, err := Differences(s.Want, s.Printed, s.Proof.Bounds().Dx())
				if err != nil {
					return err
				}
				if cell.DiffURL, err = dataURL(diff, comparisonPicture); err != nil {
					return fmt.Errorf("sheet: %w", err)
				}
			}
			for _, i := range s.Inks {
				var u template.URL
				if i.Plate != nil {
					if u, err = dataURL(i.Plate, comparisonPlate); err != nil {
						return fmt.Errorf("sheet: %w", err)
					}
				}
				cell.PlateURLs = append(cell.PlateURLs, u)
			}
			row.Sets = append(row.Sets, cell)
		}
		v.Rows = append(v.Rows, row)
	}
	t, err := template.New("comparison").Funcs(funcs()).Parse(comparisonSource)
	if err != nil {
		return fmt.Errorf("sheet: %w", err)
	}
	if err := t.Execute(w, v); err != nil {
		return fmt.Errorf("sheet: %w", err)
	}
	return nil
}

const (
	columnWidth = 420 // of a picture in the drawn comparison, in pixels
	columnGap   = 28
	drawMargin  = 40
	lineHeight  = 27
)

// DrawComparison draws the comparison as one picture: a row an artwork, in it
// the artwork and then each print with its inks, figures, plates and the map of
// where it differs.
func DrawComparison(c Comparison) (*image.RGBA, error) {
	t, err := newTypes()
	if err != nil {
		return nil, err
	}
	columns := 1
	for _, a := range c.Arts {
		columns = max(columns, 1+len(a.Sets))
	}
	w := 2*drawMargin + columns*columnWidth + (columns-1)*columnGap
	h := drawMargin + 50
	heights := make([]int, len(c.Arts))
	for n, a := range c.Arts {
		heights[n] = rowHeight(a)
		h += heights[n]
	}
	h += 2*lineHeight + drawMargin
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(m, m.Rect, image.White, image.Point{}, draw.Src)
	const black, gray = "#1b1b1d", "#5d5d61"
	t.write(m, t.large, black, drawMargin, drawMargin+24, t.fit(t.large, c.Title, w-2*drawMargin))
	y := drawMargin + 50
	for n, a := range c.Arts {
		x := drawMargin
		ph := pictureHeight(a)
		t.write(m, t.small, gray, x, y+20, t.fit(t.small, a.Name, columnWidth))
		place(m, a.Art, x, y+34, columnWidth, ph)
		for _, s := range a.Sets {
			x += columnWidth + columnGap
			if err := t.drawSet(m, s, x, y, ph); err != nil {
				return nil, err
			}
		}
		y += heights[n]
	}
	x := drawMargin
	for _, s := range legend() {
		box := image.Rect(x, y, x+20, y+20)
		draw.Draw(m, box, image.NewUniform(s.Color), image.Point{}, draw.Src)
		outline(m, box)
		t.write(m, t.small, gray, x+28, y+17, s.Label)
		x += 52 + t.width(t.small, s.Label)
	}
	t.write(m, t.small, gray, x, y+17, t.fit(t.small, DeltaEWords, w-drawMargin-x))
	return m, nil
}

// pictureHeight is that of a picture of the column's width.
func pictureHeight(a ComparedArt) int {
	b := a.Art.Bounds()
	return max(1, columnWidth*b.Dy()/max(1, b.Dx()))
}

func rowHeight(a ComparedArt) int {
	inks, figures := 0, 0
	for _, s := range a.Sets {
		inks, figures = max(inks, len(s.Inks)), max(figures, len(s.Figures))
	}
	ph := pictureHeight(a)
	// Title, proof, figures, difference map, and two plates side by side.
	return 34 + ph + 16 + figures*lineHeight + 12 + ph + 16 + (inks+1)/2*(ph/2+lineHeight+12) + 34
}

// drawSet draws one print in its column from y on.
func (t *types) drawSet(m *image.RGBA, s ComparedSet, x, y, ph int) error {
	const black, gray = "#1b1b1d", "#5d5d61"
	t.write(m, t.small, black, x, y+20, t.fit(t.small, s.Name, columnWidth))
	y += 34
	place(m, s.Proof, x, y, columnWidth, ph)
	y += ph + 16
	for _, f := range s.Figures {
		t.write(m, t.small, gray, x, y+18, t.fit(t.small, f.Name, columnWidth/2))
		v := t.fit(t.small, f.Value, columnWidth/2-12)
		t.write(m, t.small, black, x+columnWidth-t.width(t.small, v), y+18, v)
		y += lineHeight
	}
	y += 12
	if s.Want != nil {
		diff, err := Differences(s.Want, s.Printed, s.Proof.Bounds().Dx())
		if err != nil {
			return err
		}
		place(m, diff, x, y, columnWidth, ph)
	}
	y += ph + 16
	const half = (columnWidth - 16) / 2
	for n, i := range s.Inks {
		px, py := x+n%2*(half+16), y+n/2*(ph/2+lineHeight+12)
		box := image.Rect(px, py+3, px+22, py+21)
		fill(m, box, i.Color)
		outline(m, box)
		t.write(m, t.small, black, px+30, py+19, t.fit(t.small, fmt.Sprintf("%d %s", n+1, i.Name), half-30))
		if i.Plate != nil {
			place(m, i.Plate, px, py+lineHeight, half, ph*half/columnWidth)
		}
	}
	return nil
}

// place scales a picture into a box with a thin line around it.
func place(m *image.RGBA, p image.Image, x, y, w, h int) {
	box := image.Rect(x, y, x+w, y+h)
	draw.Draw(m, box, imaging.Resize(p, w, h, imaging.CatmullRom), image.Point{}, draw.Src)
	outline(m, box)
}

func outline(m *image.RGBA, box image.Rectangle) {
	line := image.NewUniform(parseHex("#c9c9c9"))
	for _, r := range []image.Rectangle{
		{box.Min, image.Pt(box.Max.X, box.Min.Y+1)}, {image.Pt(box.Min.X, box.Max.Y-1), box.Max},
		{box.Min, image.Pt(box.Min.X+1, box.Max.Y)}, {image.Pt(box.Max.X-1, box.Min.Y), box.Max},
	} {
		draw.Draw(m, r, line, image.Point{}, draw.Src)
	}
}
