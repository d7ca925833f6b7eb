package spectrum

import "math"

// A spectrum is sampled at Bands wavelengths: FirstNM, FirstNM+StepNM, ….
const (
	Bands   = 36
	FirstNM = 380
	StepNM  = 10
)

// Reflectance is a reflectance factor or a ratio of two of them in each band,
// 380 … 730 nm, 0 … 1 (a perfect white is 1 throughout).
type Reflectance [Bands]float64

// table holds the CIE 1931 2° color-matching functions and the relative
// spectral power of D50 and D65, 380 … 780 nm by 10 (CIE 015, tables T.4 and
// T.1).
var table = [...]struct{ x, y, z, d50, d65 float64 }{
	{0.001368, 3.9e-05, 0.006450001, 24.45, 49.92},      // 380
	{0.004243, 0.00012, 0.02005001, 29.83, 54.6},        // 390
	{0.01431, 0.000396, 0.06785001, 49.25, 82.69},       // 400
	{0.04351, 0.00121, 0.2074, 56.45, 91.42},            // 410
	{0.13438, 0.004, 0.6456, 59.97, 93.37},              // 420
	{0.2839, 0.0116, 1.3856, 57.76, 86.63},              // 430
	{0.34828, 0.023, 1.74706, 74.77, 104.81},            // 440
	{0.3362, 0.038, 1.77211, 87.19, 116.96},             // 450
	{0.2908, 0.06, 1.6692, 90.56, 117.76},               // 460
	{0.19536, 0.09098, 1.28764, 91.32, 114.82},          // 470
	{0.09564, 0.13902, 0.8129501, 95.07, 115.89},        // 480
	{0.03201, 0.20802, 0.46518, 91.93, 108.78},          // 490
	{0.0049, 0.323, 0.272, 95.7, 109.33},                // 500
	{0.0093, 0.503, 0.1582, 96.59, 107.78},              // 510
	{0.06327, 0.71, 0.07824999, 97.11, 104.78},          // 520
	{0.1655, 0.862, 0.04216, 102.09, 107.68},            // 530
	{0.2904, 0.954, 0.0203, 100.75, 104.4},              // 540
	{0.4334499, 0.9949501, 0.008749999, 102.31, 104.04}, // 550
	{0.5945, 0.995, 0.0039, 100, 100},                   // 560
	{0.7621, 0.952, 0.0021, 97.74, 96.34},               // 570
	{0.9163, 0.87, 0.001650001, 98.92, 95.79},           // 580
	{1.0263, 0.757, 0.0011, 93.51, 88.69},               // 590
	{1.0622, 0.631, 0.0008, 97.71, 90.02},               // 600
	{1.0026, 0.503, 0.00034, 99.29, 89.61},              // 610
	{0.8544499, 0.381, 0.00019, 99.07, 87.71},           // 620
	{0.6424, 0.265, 4.999999e-05, 95.75, 83.3},          // 630
	{0.4479, 0.175, 2e-05, 98.9, 83.72},                 // 640
	{0.2835, 0.107, 0, 95.71, 80.05},                    // 650
	{0.1649, 0.061, 0, 98.24, 80.24},                    // 660
	{0.0874, 0.032, 0, 103.06, 82.3},                    // 670
	{0.04677, 0.017, 0, 99.19, 78.31},                   // 680
	{0.0227, 0.00821, 0, 87.43, 69.74},                  // 690
	{0.01135916, 0.004102, 0, 91.66, 71.63},             // 700
	{0.005790346, 0.002091, 0, 92.94, 74.37},            // 710
	{0.002899327, 0.001047, 0, 76.89, 61.62},            // 720
	{0.001439971, 0.00052, 0, 86.56, 69.91},             // 730
	{0.0006900786, 0.0002492, 0, 92.63, 75.11},          // 740
	{0.0003323011, 0.00012, 0, 78.27, 63.61},            // 750
	{0.0001661505, 6e-05, 0, 57.72, 46.43},              // 760
	{8.307527e-05, 3e-05, 0, 82.97, 66.83},              // 770
	{4.150994e-05, 1.499e-05, 0, 78.31, 63.4},           // 780
}

// weights turn a reflectance into XYZ under D50. Each column is scaled so that
// a perfect white is exactly White, although the bands beyond 730 nm are
// missing: what they would hold is below 0.1 % of Y.
var weights = func() (w [Bands][3]float64) {
	for i := range w {
		t := table[i]
		w[i] = [3]float64{t.d50 * t.x, t.d50 * t.y, t.d50 * t.z}
	}
	for c, white := range White() {
		sum, last := 0.0, 0
		for i := range w {
			sum += w[i][c]
			if w[i][c] > 0 {
				last = i
			}
		}
		// The last band takes up what rounding leaves, so that white on white
		// is no difference at all.
		for i := range last {
			w[i][c] *= white / sum
		}
		sum = 0
		for i := range last {
			sum += w[i][c]
		}
		w[last][c] = white - sum
	}
	return w
}()

// XYZ integrates r against the CIE 1931 2° observer under D50. A perfect white
// gives exactly White.
func (r *Reflectance) XYZ() XYZ {
	var c XYZ
	for i, v := range r {
		w := &weights[i]
		c[0] += float64(w[0] * v)
		c[1] += float64(w[1] * v)
		c[2] += float64(w[2] * v)
	}
	return c
}

// Luminance is the Y of r, 0 … 100.
func (r *Reflectance) Luminance() float64 {
	y := 0.0
	for i, v := range r {
		y += float64(weights[i][1] * v)
	}
	return y
}

// Valid reports whether every band is a number from 0 to max.
func (r *Reflectance) Valid(max float64) bool {
	for _, v := range r {
		if math.IsNaN(v) || v < 0 || v > max {
			return false
		}
	}
	return true
}

// Flat returns the reflectance that is v in every band.
func Flat(v float64) (r Reflectance) {
	for i := range r {
		r[i] = v
	}
	return r
}
