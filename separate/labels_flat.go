package separate

// Flat says how far a picture is flat artwork: areas of a few uniform colors
// with hard or antialiased edges, against gradients, photographs and dither.
type Flat struct {
	Flat   bool       // taken for flat artwork
	Share  float64    // share of the picture that behaves as flat artwork does, 0 … 1
	Colors int        // number of uniform colors
	Main   [][3]uint8 // the uniform colors, encoded RGB, largest area first
}

// The limits of flat artwork, held by TestFlatness: drawings have shares of
// .95 and more, also after JPEG; a moon drawn as a gradient over a fifth of the
// picture has .8, photographs .6 at most.
const (
	flatShare = 0.9
	flatLimit = 128
)

// flatSample is the number of pixels that Flatness looks at, in bands of rows
// spread over the picture; small pictures are looked at whole.
const (
	flatSample = 400_000
	flatBand   = 16
)

// Flatness judges a picture of w × h pixels of encoded RGB, 3 bytes a pixel.
//
// Four things count against flat artwork: uniform patches whose color is one
// step of many, as in gradients; pixels that differ from all eight around
// them, with those around them, as in dither and noise; and pixels without
// uniform ones near, as in photographs.
func Flatness(pix []uint8, w, h int) Flat {
	if w == 0 || h == 0 {
		return Flat{}
	}
	every := max(1, w*h/flatSample)
	if every > 1 && h >= 2*flatBand {
		var part []uint8
		for y := 0; y+flatBand <= h; y += flatBand * every {
			part = append(part, pix[3*y*w:3*(y+flatBand)*w]...)
		}
		pix, h = part, len(part)/3/w
	}
	b := &labeler{pix: pix, w: w, h: h, workers: 1, tol: exactly(), label: make([]uint16, w*h)}
	b.findCores()
	steps, lone, lost := 0, 0, 0
	m := mixer{tol: b.tol}
	// By bins of colors: 0 not yet looked at, 1 uniform, 2 a step.
	kind := make([]uint8, 1<<15)
	for y := range h {
		for x := range w {
			i := y*w + x
			rgb := [3]uint8(pix[3*i:])
			if b.core[i] != 0 {
				k := &kind[binOf(rgb)]
				if *k == 0 {
					*k = 2
					if f := b.nearestFlat(vecOf(rgb)); f >= 0 && b.flats[f].uniform && maxDistance(b.flats[f].rgb, rgb) <= 2*coreRange {
						*k = 1
					}
				}
				if *k == 2 {
					steps++
				}
				continue
			}
			if b.lone(rgb, x, y) {
				lone++
			}
			m.ends = m.ends[:0]
			for ring := 1; ring <= 2 && len(m.ends) == 0; ring++ {
				b.collect(&m, x, y, ring)
			}
			if len(m.ends) == 0 {
				lost++
			}
		}
	}
	all := float64(w * h)
	f := Flat{Share: max(0, 1-float64(steps+9*lone+lost)/all)}
	for _, c := range b.flats {
		if c.uniform {
			f.Main = append(f.Main, c.rgb)
		}
	}
	f.Colors = len(f.Main)
	f.Flat = f.Share >= flatShare && f.Colors > 0 && f.Colors <= flatLimit
	return f
}

// lone tells whether a pixel differs from all around it and does not lie
// between two of them as on an edge or along a line.
func (b *labeler) lone(rgb [3]uint8, x, y int) bool {
	if x < 1 || y < 1 || x >= b.w-1 || y >= b.h-1 {
		return false
	}
	const differ = 24
	i, p := y*b.w+x, vecOf(rgb)
	for _, d := range [4]int{1, b.w, b.w + 1, b.w - 1} {
		u, v := [3]uint8(b.pix[3*(i+d):]), [3]uint8(b.pix[3*(i-d):])
		if maxDistance(rgb, u) <= differ || maxDistance(rgb, v) <= differ || vecOf(u).sub(p).dot(vecOf(v).sub(p)) <= 0 {
			return false
		}
	}
	return true
}
