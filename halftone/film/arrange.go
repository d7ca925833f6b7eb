package film

import "math"

// Sizes of marks in mm. The cross in a circle, its line and its circle are the
// house design; crop marks of 5 mm held 3 mm off the area are common practice.
const (
	lineMM     = 0.35 // every line: what holds on a hand-printed mesh (common practice)
	circleMM   = 8.0  // outer diameter of the registration circle
	crossMM    = 12.0 // its cross, end to end
	clearMM    = 3.0  // between the area and anything around it
	edgeMM     = 4.0  // between marks and the film's edge
	cropMM     = 5.0  // length of a crop mark
	gapMM      = 4.0  // between two things in the margin
	centeredMM = 20.0 // trim from which the marks on center lines stay clear of the corners'
	ringMM     = clearMM + crossMM/2
	marginMM   = edgeMM + crossMM + clearMM
	barMM      = 100.0
	patchMM    = 4.0 // one step of the wedge: seven dots wide at 45 lpi
	wedgeStep  = 5   // percent
	wedgeN     = 100/wedgeStep + 1
)

// box is a place in mm from the area's top left corner.
type box struct{ x, y, w, h float64 }

// what goes into the margins, in the order in which it takes its place.
const (
	labelItem = iota
	upItem
	linesItem
	wedgeItem
	barItem
	items
)

// needs are the sizes of the items in mm. The label takes what there is from this
// width on.
var needs = [items]struct{ w, h float64 }{
	labelItem: {76, 12},
	upItem:    {46, 9},
	wedgeItem: {wedgeN*patchMM + 1, 10},
	barItem:   {barMM + 1, 9},
	linesItem: {float64(len(lineWidths)) * lineCell, 11},
}

// arrangement is a sheet just large enough.
type arrangement struct {
	w, h      float64 // of the sheet
	left, top float64 // of the area on it
	at        [items]box
}

func (a *arrangement) within(w, h float64) bool {
	const slack = 1e-6 // sizes in inches do not come out even
	return a.w <= w+slack && a.h <= h+slack
}

// arrange finds a place for everything around an area of w × h mm. Beside the
// center marks above and below the area lie four lanes; what finds no place in
// them goes into rows below.
func arrange(w, h, bleed float64, noMarks bool) arrangement {
	if noMarks {
		return arrangement{w: w, h: h}
	}
	a := arrangement{left: marginMM, top: marginMM}
	type lane struct{ x, y, left float64 }
	inset := math.Max(bleed, 0) + clearMM // off the crop marks
	room := w/2 - crossMM/2 - clearMM - inset
	const topL, topR, botL, botR = 0, 1, 2, 3
	lanes := [4]lane{
		{inset, -clearMM - crossMM, room}, {w/2 + crossMM/2 + clearMM, -clearMM - crossMM, room},
		{inset, h + clearMM, room}, {w/2 + crossMM/2 + clearMM, h + clearMM, room},
	}
	prefer := [items][]int{
		labelItem: {botL}, upItem: {topL}, wedgeItem: {botR, topR}, barItem: {topR, topL, botR}, linesItem: {topL, topR, botR},
	}
	// Rows below: as wide as the corner marks reach, and wide enough for the bar.
	rowW := math.Max(w+2*(clearMM+crossMM), barMM+1)
	rowX := (w - rowW) / 2
	x, y, rowH := rowX, h+clearMM+crossMM+clearMM, 0.0
	bottom := h + clearMM + crossMM
	for i, n := range needs {
		placed := false
		for _, k := range prefer[i] {
			if ln := &lanes[k]; ln.left >= n.w {
				a.at[i] = box{ln.x, ln.y, n.w, n.h}
				if i == labelItem {
					a.at[i].w = ln.left
				}
				ln.x += a.at[i].w + gapMM
				ln.left -= a.at[i].w + gapMM
				placed = true
				break
			}
		}
		if placed {
			continue
		}
		if i == labelItem {
			n.w = rowW
		}
		if x > rowX && x+n.w > rowX+rowW {
			x, y, rowH = rowX, y+rowH+clearMM, 0
		}
		a.at[i] = box{x, y, n.w, n.h}
		x += n.w + gapMM
		rowH = math.Max(rowH, n.h)
		bottom = y + rowH
	}
	a.w = math.Max(w+2*marginMM, rowW+2*edgeMM)
	a.left = (a.w - w) / 2
	a.h = marginMM + bottom + edgeMM
	return a
}
