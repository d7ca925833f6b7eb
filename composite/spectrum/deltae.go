package spectrum

import "math"

// DeltaE is the CIEDE2000 color difference with kL = kC = kH = 1 (CIE
// 142:2001; Sharma, Wu, Dalal 2005, whose 34 test pairs it meets in both
// orders). It is symmetric, allocates nothing and is never negative; 1 is about
// the smallest difference a person sees side by side.
func DeltaE(a, b Lab) float64 {
	c1, c2 := math.Sqrt(a[1]*a[1]+a[2]*a[2]), math.Sqrt(b[1]*b[1]+b[2]*b[2])
	g := 1.5 - 0.5*math.Sqrt(chroma7((c1+c2)/2))
	a1, a2 := g*a[1], g*b[1]
	c1, c2 = math.Sqrt(a1*a1+a[2]*a[2]), math.Sqrt(a2*a2+b[2]*b[2])

	dL, dC := b[0]-a[0], c2-c1
	dH, h := 0.0, 0.0 // h: mean hue, radians
	switch {
	case c1*c2 > 0:
		h1, h2 := math.Atan2(a[2], a1), math.Atan2(b[2], a2)
		if h1 < 0 {
			h1 += 2 * math.Pi
		}
		if h2 < 0 {
			h2 += 2 * math.Pi
		}
		dh := h2 - h1
		h = (h1 + h2) / 2
		// Hues exactly opposite count as not wrapped. Their computed
		// difference may miss π by the last places of two arctangents.
		if math.Abs(dh) > math.Pi+1e-12 {
			if h1+h2 < 2*math.Pi {
				h += math.Pi
			} else {
				h -= math.Pi
			}
			dh -= math.Copysign(2*math.Pi, dh)
		}
		dH = 2 * math.Sqrt(c1*c2) * math.Sin(dh/2)
	case c1 > 0:
		h = math.Atan2(a[2], a1)
	case c2 > 0:
		h = math.Atan2(b[2], a2)
	}
	if h < 0 {
		h += 2 * math.Pi
	}

	l50 := (a[0]+b[0])/2 - 50
	cm := (c1 + c2) / 2
	s1, k1 := math.Sincos(h)
	k2, s2 := 2*k1*k1-1, 2*s1*k1
	k3, s3 := k1*k2-s1*s2, s1*k2+k1*s2
	k4, s4 := 2*k2*k2-1, 2*s2*k2
	const ( // cosines and sines of 30°, 6° and 63°
		cos30, sin30 = 0.8660254037844386, 0.5
		cos6, sin6   = 0.9945218953682733, 0.10452846326765347
		cos63, sin63 = 0.4539904997395468, 0.8910065241883679
	)
	t := 1 - 0.17*(k1*cos30+s1*sin30) + 0.24*k2 + 0.32*(k3*cos6-s3*sin6) - 0.20*(k4*cos63+s4*sin63)
	sL := 1 + 0.015*l50*l50/math.Sqrt(20+l50*l50)
	sC := 1 + 0.045*cm
	sH := 1 + 0.015*cm*t
	w := (h*180/math.Pi - 275) / 25
	rT := 0.0
	if w*w < 50 { // beyond, the rotation is below 1e-20
		rT = -2 * math.Sqrt(chroma7(cm)) * math.Sin(math.Pi/3*math.Exp(-w*w))
	}
	dL, dC, dH = dL/sL, dC/sC, dH/sH
	return math.Sqrt(math.Max(0, dL*dL+dC*dC+dH*dH+rT*dC*dH))
}

// chroma7 is c⁷/(c⁷+25⁷).
func chroma7(c float64) float64 {
	c7 := c * c * c
	c7 = c7 * c7 * c
	return c7 / (c7 + 6103515625)
}
