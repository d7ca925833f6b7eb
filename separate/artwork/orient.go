package artwork

// orient turns the picture upright as the orientation tag asks (EXIF 2.3, tag
// 274; TIFF 6.0): 1 is upright, 2 mirrored left to right, 3 upside down, 4
// mirrored top to bottom, 5 mirrored along the main diagonal, 6 to be turned
// clockwise, 7 mirrored along the other diagonal, 8 to be turned
// counterclockwise.
func (p *Picture) orient(o int) {
	if o < 2 || o > 8 {
		return
	}
	w, h := p.Width, p.Height
	p.Pix = turn(p.Pix, w, h, 3, o)
	p.Pix16 = turn(p.Pix16, w, h, 3, o)
	p.Alpha = turn(p.Alpha, w, h, 1, o)
	p.Alpha16 = turn(p.Alpha16, w, h, 1, o)
	if o >= 5 {
		p.Width, p.Height = h, w
	}
}

// turn returns pixels of n values each, w × h of them, turned upright; nil for
// nil.
func turn[T uint8 | uint16](src []T, w, h, n, o int) []T {
	if src == nil {
		return nil
	}
	// Where in the source the first pixel of the result lies, and the steps to
	// the pixels to the right of one and below it.
	var start, across, down int
	last := w*h - 1
	switch o {
	case 2:
		start, across, down = w-1, -1, w
	case 3:
		start, across, down = last, -1, -w
	case 4:
		start, across, down = last-(w-1), 1, -w
	case 5:
		start, across, down = 0, w, 1
	case 6:
		start, across, down = last-(w-1), -w, 1
	case 7:
		start, across, down = last, -w, -1
	case 8:
		start, across, down = w-1, w, -1
	}
	width, height := w, h
	if o >= 5 {
		width, height = h, w
	}
	dst := make([]T, len(src))
	eachBand(height, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			row := dst[n*y*width:][:n*width]
			s := start + y*down
			for x := range width {
				copy(row[n*x:n*x+n], src[n*s:n*s+n])
				s += across
			}
		}
	})
	return dst
}
