package main

import (
	"math"
	"math/rand/v2"

	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/gomedium"
)

const (
	frameL, frameT, frameR, frameB = 15.0, 15.0, 282.0, 376.0
	horizon                        = 214.0
	seaLevel                       = 240.0
)

func wave(x float64) float64 { return seaLevel + 2.2*math.Sin(x/15) + .9*math.Sin(x/6.3+1) }

func deep(x float64) float64 { return 306 + 7*math.Sin(x/38+.6) + 2.5*math.Sin(x/13) }

func poster(c *canvas) {
	c.draw(rect(frameL, frameT, frameR-frameL, frameB-frameT), set(night))
	sky(c)
	sea(c)
	lighthouse(c)
	ferry(c)
	below(c)
	frame(c)
	words(c)
}

func sky(c *canvas) {
	rnd := rand.New(rand.NewPCG(7, 21))
	for range 150 {
		x, y := 20+rnd.Float64()*258, 72+rnd.Float64()*128
		r := .42 + .5*rnd.Float64()*rnd.Float64()
		c.draw(ellipse(x, y, r, r), set(0))
	}
	// The beam: blue alone is lighter than the night around it.
	c.draw(poly(64, 116, frameR, 58, frameR, 104), on(night, set(blue)))
	c.draw(poly(64, 116, frameR, 72, frameR, 90), on(blue, set(0)))
	c.draw(poly(64, 116, 14, 111, 14, 124), on(night, set(blue)))
	// The moon, and in front of it clouds that are coral's absence in the
	// sky and coral's presence on the moon.
	const mx, my, mr = 196.0, 142.0, 50.0
	c.draw(ellipse(mx, my, mr+7, mr+7), on(night, set(blue)))
	c.draw(ellipse(mx, my, mr, mr), set(amber))
	for _, p := range [][3]float64{{176, 122, 6}, {212, 130, 8}, {190, 150, 11}, {222, 158, 4.5}, {170, 146, 4}} {
		c.draw(ellipse(p[0], p[1], p[2], p[2]*.92), on(amber, set(amber|coral)))
		c.draw(ellipse(p[0]+p[2]*.22, p[1]+p[2]*.2, p[2]*.86, p[2]*.8), on(amber|coral, set(amber)))
	}
	for _, p := range [][3]float64{
		{132, 166, 92}, {152, 172.5, 118}, {118, 179, 76}, {214, 150, 66}, {236, 156.5, 60},
		{30, 158, 58}, {18, 164.5, 44}, {98, 196, 60}, {190, 190, 70},
	} {
		cloud := pill(p[0], p[1], p[2], 5.2)
		c.draw(cloud, func(v uint8) uint8 {
			if v&amber != 0 {
				return amber | coral
			}
			return blue
		})
	}
}

func sea(c *canvas) {
	c.draw(rect(frameL, horizon, frameR-frameL, frameB-horizon), set(blue))
	rnd := rand.New(rand.NewPCG(3, 9))
	// Far water: short dashes of night, and the moon's glitter in amber.
	for y := horizon + 1.6; y < seaLevel; y += 2.3 {
		near := (y - horizon) / (seaLevel - horizon)
		for x := frameL - 10 + rnd.Float64()*12; x < frameR; x += 12 + rnd.Float64()*(16+16*near) {
			c.draw(pill(x, y, 5+rnd.Float64()*(6+10*near), .6+.9*near), put(coral))
		}
		for range 4 {
			spread := 12 + 26*near
			x := 196 + (rnd.Float64()-.5)*2*spread
			l := 4 + rnd.Float64()*(7+6*near)
			c.draw(pill(x-l/2, y+1, l, .7+.9*near), set(amber))
		}
	}
}

func lighthouse(c *canvas) {
	// The rock.
	c.draw(blob(8, 250, 14, 222, 26, 212, 40, 205, 52, 199, 78, 199, 90, 207, 104, 217, 118, 232, 126, 250), set(dark))
	c.draw(blob(84, 206, 92, 213, 104, 222, 114, 236, 118, 248, 104, 248, 100, 232, 92, 220), on(dark, set(night)))
	c.draw(blob(60, 202, 70, 212, 74, 226, 82, 246, 66, 246, 62, 228, 56, 214), on(dark, set(night)))
	// The keeper's house.
	c.draw(rect(80, 186, 24, 17), set(0))
	c.draw(rect(96, 186, 8, 17), set(blue))
	c.draw(poly(77, 187, 82, 176, 102, 176, 107, 187), set(coral))
	c.draw(rect(84, 191, 4, 5), set(amber))
	c.draw(rect(90.5, 191, 4, 5), set(amber))
	c.draw(rect(86, 169.5, 3.4, 8), set(dark))
	// The tower, in bands, its far side in shade.
	half := func(y float64) float64 { return 8 + 5.5*(y-127)/(202-127) }
	band := func(y0, y1 float64) path {
		return poly(64-half(y0), y0, 64+half(y0), y0, 64+half(y1), y1, 64-half(y1), y1)
	}
	c.draw(band(127, 202), set(0))
	for y := 140.0; y < 195; y += 30 {
		c.draw(band(y, y+15), set(coral))
	}
	c.draw(poly(64+3, 127, 64+half(127), 127, 64+half(202), 202, 64+5, 202), put(blue))
	for _, y := range []float64{147, 177} {
		c.draw(rect(61, y, 3.4, 6.5), set(dark))
	}
	c.draw(band(196, 202), set(dark))
	// Gallery and lantern.
	c.draw(rect(52.5, 124.4, 23, 3), set(dark))
	for x := 53.0; x <= 75; x += 3.1 {
		c.draw(rect(x, 118.8, .55, 6), set(dark))
	}
	c.draw(rect(52.5, 118.4, 23, .8), set(dark))
	c.draw(rect(57.5, 109, 13, 15.5), set(amber))
	for _, x := range []float64{57.5, 61.4, 65.6, 69.7} {
		c.draw(rect(x, 109, .8, 15.5), set(dark))
	}
	c.draw(ellipse(64, 116.4, 2.6, 3.6), set(0))
	c.draw(poly(55.5, 109.4, 72.5, 109.4, 69, 103.5, 59, 103.5), set(dark))
	c.draw(ellipse(64, 103.5, 5, 4.4), set(coral))
	c.draw(rect(63.6, 92.5, .8, 7), set(dark))
	c.draw(ellipse(64, 98.2, 1.5, 1.5), set(dark))
}

func ferry(c *canvas) {
	// Masts and rigging: lines of a little over half a millimetre.
	c.draw(rect(156.4, 176, 1.1, 30), set(dark))
	c.draw(rect(244.4, 184, 1.1, 26), set(dark))
	c.draw(stroke(157, 177, 190, 204, .6), set(dark))
	c.draw(stroke(245, 185, 262, 222, .6), set(dark))
	c.draw(stroke(245, 185, 222, 206, .6), set(dark))
	for i := range 9 { // flags on the forestay
		t := .12 + float64(i)*.085
		x, y := 157-25*t, 177+45*t
		k := []uint8{coral, 0, amber}[i%3]
		c.draw(poly(x, y, x-1.9, y+3.4, x+2.4, y+3.6), set(k))
	}
	c.draw(stroke(157, 177, 132, 222, .6), set(dark))
	// Funnel and its smoke.
	c.draw(blob(203, 189, 207, 183, 216, 180, 228, 181, 236, 176, 250, 177, 262, 172, 276, 172, 270, 177, 256, 181, 244, 183, 232, 187, 218, 187, 208, 191), set(0))
	c.draw(poly(197, 190, 210, 190, 212, 212, 198, 212), set(coral))
	c.draw(poly(197.2, 194, 210.3, 194, 210.8, 200, 197.6, 200), put(amber))
	c.draw(poly(206, 190, 210, 190, 212, 212, 207.5, 212), put(blue))
	c.draw(rect(196.2, 188.4, 14.8, 2.2), set(dark))
	// Houses.
	c.draw(poly(150, 203, 252, 203, 252, 214, 146, 214), set(0))
	c.draw(poly(143, 213, 262, 213, 262, 226, 138, 226), set(0))
	c.draw(poly(148, 196, 176, 196, 176, 204, 145, 204), set(0))
	c.draw(rect(144, 194.8, 34, 1.6), set(dark))
	c.draw(rect(146, 212.6, 108, 1), set(blue))
	for x := 149.0; x < 174; x += 5 {
		c.draw(rect(x, 198, 3.8, 3.4), set(amber))
	}
	for x := 152.0; x < 248; x += 6.2 {
		c.draw(rect(x, 205.6, 3.6, 4), set(amber))
	}
	for x := 146.0; x < 258; x += 5.6 {
		c.draw(ellipse(x+1.6, 219.5, 1.7, 1.7), set(amber))
	}
	c.draw(rect(136, 225.2, 128, .9), set(blue))
	// Rails.
	for x := 253.0; x < 263; x += 2.4 {
		c.draw(rect(x, 208.6, .6, 4.6), set(dark))
	}
	c.draw(rect(252, 208.2, 10.6, .6), set(dark))
	// The hull, dark above the water and coral below.
	c.draw(poly(124, 222, 138, 226, 268, 226, 266.5, 235.4, 258, 254, 147, 254, 133, 235.4), set(dark))
	c.draw(poly(127.6, 227, 267.6, 229.4, 267.3, 231.6, 129.6, 229.6), set(amber))
	c.draw(poly(133, 235.4, 266.5, 235.4, 257.5, 255, 148, 255, 140, 248), set(coral))
	c.draw(poly(140, 248, 262, 248, 257.5, 255, 148, 255), put(blue))
	c.draw(poly(258, 246, 268, 243, 268, 255, 262, 255), set(dark))
}

// below draws everything under the surface.
func below(c *canvas) {
	// The surface: a paper-white crest, broken by the bow.
	c.draw(ribbon(frameL, frameR, .5, wave, func(x float64) float64 { return 1.4 + .4*math.Sin(x/9) }), set(0))
	c.draw(blob(118, 240, 124, 235, 132, 236.5, 142, 240, 150, 242.5, 138, 243, 126, 243), set(0))
	// Deep water: coral joins the blue.
	var bottom []point
	for x := frameL; x <= frameR; x += 1 {
		bottom = append(bottom, point{x, deep(x)})
	}
	bottom = append(bottom, point{frameR, frameB}, point{frameL, frameB})
	c.draw(path{bottom}, func(v uint8) uint8 {
		if v == 0 {
			return blue
		}
		return v | coral
	})
	for _, k := range []struct{ x, height, lean float64 }{
		{26, 84, 1}, {40, 118, -1}, {58, 96, 1}, {76, 112, -1}, {94, 84, 1}, {112, 64, 1},
		{276, 92, -1}, {262, 112, -1}, {247, 78, 1}, {232, 50, 1},
	} {
		kelp(c, k.x, 372, k.height, k.lean, uint64(k.x))
	}
	// The floor.
	c.draw(blob(0, 390, 0, 360, 20, 352, 48, 358, 80, 352, 108, 362, 140, 358, 170, 366, 205, 358, 240, 362, 268, 352, 300, 358, 300, 390), set(dark))
	rnd := rand.New(rand.NewPCG(5, 5))
	for range 46 {
		x, y := 128+rnd.Float64()*110, 268+rnd.Float64()*80
		r := .5 + 1.1*rnd.Float64()*rnd.Float64()
		ring := append(ellipse(x, y, r+.75, r+.75), reversed(ellipse(x, y, r, r))...)
		c.draw(ring, set(0))
	}
	fish(c, 150, 282, 17, 1, coral, amber)
	fish(c, 176, 294, 13, 1, coral, amber)
	fish(c, 143, 302, 11, 1, amber, coral)
	fish(c, 207, 284, 10, 1, amber, coral)
	fish(c, 197, 334, 21, -1, coral, amber)
	fish(c, 162, 342, 13, -1, amber, coral)
	fish(c, 226, 319, 9, -1, amber, coral)
	star(c, 136, 366, 6, coral, 10)
	star(c, 226, 369, 5, amber, 40)
	star(c, 64, 366, 4.5, amber, -12)
}

func reversed(p path) path {
	for _, l := range p {
		for i, j := 0, len(l)-1; i < j; i, j = i+1, j-1 {
			l[i], l[j] = l[j], l[i]
		}
	}
	return p
}

// kelp grows one plant: amber laid over the water, so that it is green in
// blue water and nearly black in the deep.
func kelp(c *canvas, x, foot, height, lean float64, seed uint64) {
	rnd := rand.New(rand.NewPCG(seed, 1))
	ph := rnd.Float64() * 6
	mid := func(t float64) (float64, float64) { // t from 0 at the foot to 1
		return x + lean*6*math.Sin(t*4.4+ph) + lean*8*t*t, foot - height*t
	}
	var l, r []point
	for i := 0; i <= 100; i++ {
		t := float64(i) / 100
		px, py := mid(t)
		w := 1.1 * (1 - .6*t)
		l = append(l, point{px - w, py})
		r = append([]point{{px + w, py}}, r...)
	}
	c.draw(path{append(l, r...)}, put(amber))
	side := 1.0
	for t := .08; t < 1; t += 8.6 / height {
		px, py := mid(t)
		size := (21 + 6*rnd.Float64()) * (1 - .5*t)
		deg := -38 - 16*rnd.Float64()
		leaf := blob(
			px, py, px+size*.22, py-size*.15, px+size*.55, py-size*.17, px+size*.85, py-size*.05, px+size*1.08, py+size*.1,
			px+size*.8, py+size*.17, px+size*.5, py+size*.19, px+size*.2, py+size*.13)
		leaf = leaf.turned(px, py, deg)
		vein := stroke(px, py, px+size*.8, py+size*.03, .85).turned(px, py, deg)
		if side < 0 {
			leaf, vein = mirrored(leaf, px), mirrored(vein, px)
		}
		c.draw(leaf, put(amber))
		c.draw(vein, cut(amber))
		c.draw(ellipse(px+side*1.6, py-.8, 1.5, 1.9), set(amber))
		side = -side
	}
}

func mirrored(p path, x float64) path {
	for _, l := range p {
		for i := range l {
			l[i].x = 2*x - l[i].x
		}
	}
	return p
}

// fish draws one fish of the given length; dir 1 looks right.
func fish(c *canvas, x, y, n, dir float64, body, stripe uint8) {
	at := func(p path, o op) {
		if dir < 0 {
			p = mirrored(p, x)
		}
		c.draw(p, o)
	}
	at(blob(x-.5*n, y, x-.25*n, y-.2*n, x+.1*n, y-.25*n, x+.4*n, y-.13*n, x+.5*n, y, x+.4*n, y+.12*n, x+.1*n, y+.22*n, x-.25*n, y+.17*n), set(body))
	at(blob(x-.42*n, y, x-.62*n, y-.2*n, x-.74*n, y-.24*n, x-.66*n, y, x-.74*n, y+.24*n, x-.62*n, y+.2*n), set(body))
	at(blob(x-.12*n, y-.2*n, x+.02*n, y-.34*n, x+.2*n, y-.32*n, x+.24*n, y-.2*n), set(body))
	for i := range 3 {
		s := x - .28*n + float64(i)*.17*n
		at(blob(s, y-.24*n, s+.06*n, y-.24*n, s+.1*n, y, s+.06*n, y+.22*n, s, y+.22*n, s+.03*n, y), on(body, put(stripe)))
	}
	at(ellipse(x+.33*n, y-.05*n, .05*n+.25, .05*n+.25), set(0))
	at(ellipse(x+.34*n, y-.05*n, .028*n+.12, .028*n+.12), set(dark))
}

func star(c *canvas, x, y, r float64, k uint8, deg float64) {
	var xy []float64
	for i := range 10 {
		d := r
		if i%2 == 1 {
			d = r * .42
		}
		s, co := math.Sincos((deg + float64(i)*36) * math.Pi / 180)
		xy = append(xy, x+d*s, y-d*co)
	}
	c.draw(blob(xy...), set(k))
}

// frame clears what reaches into the margin.
func frame(c *canvas) {
	c.draw(rect(0, 0, 297, frameT), set(0))
	c.draw(rect(0, frameB, 297, 420-frameB), set(0))
	c.draw(rect(0, 0, frameL, 420), set(0))
	c.draw(rect(frameR, 0, 297-frameR, 420), set(0))
}

// words sets the type: the title knocked out of the sky, the small type in
// blue alone, so that no letter depends on register.
func words(c *canvas) {
	bold, medium := face(gobold.TTF), face(gomedium.TTF)
	title := "NIGHT FERRY"
	_, w := text(bold, title, 0, 0, 27, 1.5, false)
	size := 27 * (frameR - frameL - 24) / w
	p, _ := text(bold, title, 148.5, 30+size, size, 1.5*size/27, true)
	c.draw(p, set(0))
	p, _ = text(bold, "Saltmere to Northholm", frameL, 390.5, 7.4, .1, false)
	c.draw(p, set(blue))
	p, _ = text(medium, "every night at ten, from the old stone pier", frameL, 401.5, 4.1, .12, false)
	c.draw(p, set(blue))
	p, _ = text(medium, "lamps, tea and a warm deck until the morning", frameL, 409, 4.1, .12, false)
	c.draw(p, set(blue))
	// Three portholes, crossing: what two inks and three inks make.
	c.draw(ellipse(259.5, 401.5, 10.5, 10.5), put(coral))
	c.draw(ellipse(271.5, 401.5, 10.5, 10.5), put(amber))
	c.draw(ellipse(265.5, 391.5, 10.5, 10.5), put(blue))
}
