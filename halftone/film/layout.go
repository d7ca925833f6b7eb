package film

import "math"

// Layout is the one sheet all plates of a job share. It is safe for concurrent
// use.
type Layout struct {
	sheet    Sheet
	wMM, hMM float64 // of the sheet
	w, h     int     // of the sheet, pixels
	ox, oy   int     // the area's corner before mirroring
	aw, ah   int     // of the area, pixels
	faces    faces
	marks    []outline // the same on every plate
	wedge    patchPlace
	label    box // where the label goes, mm from the area's corner
}

// New lays the sheet out. It fails with a [*FitError] when the film asked for
// is too small, and with a plain error for sizes that mean nothing.
func New(s Sheet) (*Layout, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	l := &Layout{sheet: s}
	need := arrange(s.WidthMM, s.HeightMM, s.BleedMM, s.NoMarks)
	l.wMM, l.hMM = need.w, need.h
	left, top := need.left, need.top
	if s.Film != "" {
		fw, fh, err := ParseSize(s.Film)
		if err != nil {
			return nil, err
		}
		// The film lies the way the artwork does unless only the other fits.
		if (fw > fh) != (s.WidthMM > s.HeightMM) {
			fw, fh = fh, fw
		}
		if !need.within(fw, fh) {
			fw, fh = fh, fw
		}
		if !need.within(fw, fh) {
			return nil, s.tooLarge(fw, fh)
		}
		left += (fw - need.w) / 2
		top += (fh - need.h) / 2
		l.wMM, l.hMM = fw, fh
	}
	l.w, l.h = l.pixels(l.wMM), l.pixels(l.hMM)
	l.ox, l.oy = l.pixels(left), l.pixels(top)
	l.aw, l.ah = l.pixels(s.WidthMM), l.pixels(s.HeightMM)
	// Rounding may push an area as large as its film a pixel out of it.
	l.aw, l.ah = max(1, l.aw), max(1, l.ah)
	l.w, l.h = max(1, l.w), max(1, l.h)
	l.ox, l.oy = max(0, min(l.ox, l.w-l.aw)), max(0, min(l.oy, l.h-l.ah))
	if s.NoMarks {
		return l, nil
	}
	var err error
	if l.faces, err = newFaces(); err != nil {
		return nil, err
	}
	l.place(need)
	return l, nil
}

// Size is the sheet in pixels.
func (l *Layout) Size() (w, h int) { return l.w, l.h }

// SizeMM is the sheet in millimetres.
func (l *Layout) SizeMM() (w, h float64) { return l.wMM, l.hMM }

// Origin is the pixel of the sheet, as written, where the plate's area starts.
func (l *Layout) Origin() (x, y int) {
	if l.sheet.Mirror {
		return l.w - l.ox - l.aw, l.oy
	}
	return l.ox, l.oy
}

// Area is the plate's area in pixels: what a page's plate must measure.
func (l *Layout) Area() (w, h int) { return l.aw, l.ah }

// DPI is the film resolution.
func (l *Layout) DPI() float64 { return l.sheet.DPI }

// pixels is round(mm·dpi/25.4).
func (l *Layout) pixels(mm float64) int { return int(math.Floor(l.scale(mm) + 0.5)) }

// scale turns mm into pixels and fractions.
func (l *Layout) scale(mm float64) float64 { return float64(mm*l.sheet.DPI) / mmPerInch }

// tooLarge finds the largest artwork of this shape for a film, whichever way it
// lies. It tries every tenth of a millimetre from above, because a wider sheet can
// need less room below for its label.
func (s *Sheet) tooLarge(fw, fh float64) error {
	e := &FitError{Film: s.Film, WidthMM: s.WidthMM, HeightMM: s.HeightMM, Marks: !s.NoMarks}
	shape := s.HeightMM / s.WidthMM
	for tenths := int(math.Min(s.WidthMM, math.Max(fw, fh)) * 10); tenths > 0; tenths-- {
		try := *s
		try.WidthMM = float64(tenths) / 10
		try.HeightMM = try.WidthMM * shape
		if try.check() != nil {
			break
		}
		a := arrange(try.WidthMM, try.HeightMM, s.BleedMM, s.NoMarks)
		if a.within(fw, fh) || a.within(fh, fw) {
			e.LargestWidthMM = try.WidthMM
			break
		}
	}
	return e
}
