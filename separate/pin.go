package separate

import "math"

// pinNear is how far, in steps of 1/255 in any channel, a pixel may be from a
// pinned color and still be it: what JPEG does to flat type.
const pinNear = 6

// pinCodes returns the pinned colors as encoded 8-bit values.
func (e *engine) pinCodes() [][3]uint8 {
	codes := make([][3]uint8, len(e.opt.Pins))
	for i, p := range e.opt.Pins {
		v := e.read.space.Encode(p.Color)
		for c := range v {
			codes[i][c] = uint8(math.Round(math.Max(0, math.Min(1, v[c])) * 255))
		}
	}
	return codes
}

func near(a, b [3]uint8, most int) bool {
	for i := range a {
		if d := int(a[i]) - int(b[i]); d > most || d < -most {
			return false
		}
	}
	return true
}

// pin puts the pinned colors on their ink alone, solid. An antialiased pixel
// beside a pinned one is a mixture of it and of what lies on the other side,
// and gets the same mixture of their coverages, so that no halo of other inks
// stays around type.
func (e *engine) pin() {
	if len(e.opt.Pins) == 0 {
		return
	}
	w, h := e.p.Width, e.p.Height
	pix := e.pix8()
	at := func(x, y int) [3]uint8 { return [3]uint8(pix[3*(y*w+x) : 3*(y*w+x)+3]) }
	codes := e.pinCodes()
	which := make([]uint8, w*h) // pin index + 1
	for i := range which {
		for p, c := range codes {
			if near([3]uint8(pix[3*i:3*i+3]), c, pinNear) && (e.p.Alpha == nil || e.p.Alpha[i] != 0) {
				which[i] = uint8(p + 1)
				for ink, plane := range e.res.Ink {
					plane[i] = 0
					if ink == e.opt.Pins[p].Ink {
						plane[i] = 65535
					}
				}
				break
			}
		}
	}
	type change struct {
		at   int
		from int // pixel on the other side
		pin  int
		mix  float64 // share of the pinned color
	}
	var changes []change
	for y := 0; y < h; y++ {
		for x := 0; x < w; x++ {
			i := y*w + x
			if which[i] != 0 {
				continue
			}
			best := change{at: -1}
			fit := 24.0 // largest distance off the line between the two colors
			for dy := -1; dy <= 1; dy++ {
				for dx := -1; dx <= 1; dx++ {
					nx, ny := x+dx, y+dy
					ox, oy := x-dx, y-dy
					if nx < 0 || ny < 0 || nx >= w || ny >= h || ox < 0 || oy < 0 || ox >= w || oy >= h || which[ny*w+nx] == 0 || which[oy*w+ox] != 0 {
						continue
					}
					p := int(which[ny*w+nx]) - 1
					share, off := onLine(at(x, y), codes[p], at(ox, oy))
					if off < fit && share > 0 {
						fit = off
						best = change{i, oy*w + ox, p, share}
					}
				}
			}
			if best.at >= 0 {
				changes = append(changes, best)
			}
		}
	}
	// The other side may be a mixture too; its own coverage is the one before
	// any change, so the order does not matter.
	value := make([]uint16, len(changes)*len(e.res.Ink))
	for n, c := range changes {
		for ink, plane := range e.res.Ink {
			solid := 0.0
			if ink == e.opt.Pins[c.pin].Ink {
				solid = 65535
			}
			value[n*len(e.res.Ink)+ink] = uint16(math.Round(c.mix*solid + (1-c.mix)*float64(plane[c.from])))
		}
	}
	for n, c := range changes {
		for ink, plane := range e.res.Ink {
			plane[c.at] = value[n*len(e.res.Ink)+ink]
		}
	}
}

// onLine returns how much of a is in c, seen as a mixture of a and b in
// encoded values, and how far c is off the line between them.
func onLine(c, a, b [3]uint8) (share, off float64) {
	var ab, cb [3]float64
	dot, len2 := 0.0, 0.0
	for i := range c {
		ab[i] = float64(a[i]) - float64(b[i])
		cb[i] = float64(c[i]) - float64(b[i])
		dot += ab[i] * cb[i]
		len2 += ab[i] * ab[i]
	}
	if len2 == 0 {
		return 0, math.Inf(1)
	}
	share = math.Max(0, math.Min(1, dot/len2))
	for i := range c {
		d := cb[i] - share*ab[i]
		off += d * d
	}
	return share, math.Sqrt(off)
}
