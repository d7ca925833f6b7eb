// Package spectrum measures color: reflectances in 36 bands, XYZ and CIELAB
// under D50 and the CIE 1931 2° observer, sRGB, CIEDE2000, adaptation between
// whites, the surface of a sheet, and the smoothest reflectance of a color.
//
// Start with Smooth, which gives a color the plainest reflectance that it can
// have, and with DeltaE. A printmaker mostly knows colors, while inks over each
// other multiply wavelength by wavelength; the smoothest spectrum bridges the
// two. It minimizes Σ(z[i+1]−z[i])² with z = atanh(2R−1), which keeps R between
// 0 and 1, under the three equations of the color (Burns 2015, "Generating
// reflectance curves from sRGB triplets").
package spectrum

import "math"

// XYZ is a tristimulus value under illuminant D50 and the CIE 1931 2°
// observer. A perfect white is White: Y = 100.
type XYZ [3]float64

// Lab is a CIELAB color relative to the D50 white: L* 0 … 100, a*, b*.
type Lab [3]float64

// RGB is an sRGB color, gamma-encoded (IEC 61966-2-1), nominally 0 … 1.
// Values outside are colors that the display cannot show; Clamp cuts them.
type RGB [3]float64

// White returns the D50 white, to which Bradford takes the white of sRGB
// (D65: .95047, 1, 1.08883).
func White() XYZ { return XYZ{whiteX, whiteY, whiteZ} }

const (
	whiteX = 96.422
	whiteY = 100.0
	whiteZ = 82.521

	labKnee  = (6.0 / 29) * (6.0 / 29) * (6.0 / 29) // CIE 15:2004, 8.2.1
	labSlope = 841.0 / 108
	labShift = 16.0 / 116
)

func labF(t float64) float64 {
	if t > labKnee {
		return math.Cbrt(t)
	}
	return labSlope*t + labShift
}

func labInv(f float64) float64 {
	if f > 6.0/29 {
		return f * f * f
	}
	return (f - labShift) / labSlope
}

// Lab converts to CIELAB (CIE 15:2004, 8.2.1.1), white D50.
func (c XYZ) Lab() Lab {
	x, y, z := labF(c[0]/whiteX), labF(c[1]/whiteY), labF(c[2]/whiteZ)
	return Lab{116*y - 16, 500 * (x - y), 200 * (y - z)}
}

// XYZ is the inverse of XYZ.Lab.
func (c Lab) XYZ() XYZ {
	y := (c[0] + 16) / 116
	return XYZ{whiteX * labInv(y+c[1]/500), whiteY * labInv(y), whiteZ * labInv(y-c[2]/200)}
}

// sRGB primaries under D65, adapted to D50 by Bradford, per unit of linear
// RGB (IEC 61966-2-1; Lindbloom's rounding of the Bradford matrix).
func linearToXYZ(r, g, b float64) XYZ {
	return XYZ{
		100 * (0.4360747*r + 0.3850649*g + 0.1430804*b),
		100 * (0.2225045*r + 0.7168786*g + 0.0606169*b),
		100 * (0.0139322*r + 0.0971045*g + 0.7141733*b),
	}
}

// Linear returns the linear-light sRGB components of c, unclamped, 0 … 1.
func (c XYZ) Linear() [3]float64 {
	x, y, z := c[0]/100, c[1]/100, c[2]/100
	return [3]float64{
		3.1338561*x - 1.6168667*y - 0.4906146*z,
		-0.9787684*x + 1.9161415*y + 0.0334540*z,
		0.0719453*x - 0.2289914*y + 1.4052427*z,
	}
}

// RGB converts to sRGB, unclamped.
func (c XYZ) RGB() RGB {
	l := c.Linear()
	return RGB{Encode(l[0]), Encode(l[1]), Encode(l[2])}
}

// XYZ converts an sRGB color to XYZ under D50.
func (c RGB) XYZ() XYZ { return linearToXYZ(Decode(c[0]), Decode(c[1]), Decode(c[2])) }

// Clamp cuts each component to 0 … 1.
func (c RGB) Clamp() RGB {
	for i, v := range c {
		c[i] = math.Max(0, math.Min(1, v))
	}
	return c
}

// Decode is the sRGB transfer function from encoded to linear light
// (IEC 61966-2-1: knee .04045, exponent 2.4, offset .055), odd around zero.
func Decode(v float64) float64 {
	if v < 0 {
		return -Decode(-v)
	}
	if v <= .04045 {
		return v / 12.92
	}
	return math.Pow((v+.055)/1.055, 2.4)
}

// Encode is the inverse of Decode.
func Encode(v float64) float64 {
	if v < 0 {
		return -Encode(-v)
	}
	if v <= .0031308 {
		return v * 12.92
	}
	return 1.055*math.Pow(v, 1/2.4) - .055
}
