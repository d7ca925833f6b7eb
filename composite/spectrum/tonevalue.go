package spectrum

import "math"

// ToneValue is the tone value of a spot color, 0 for paper and 100 for the
// solid (ISO 20654): how far a tint has come from paper towards the solid,
//
//	100·‖Vtint−Vpaper‖ / ‖Vsolid−Vpaper‖
//	V = (L + 116a/500, L, L − 116b/200)
//
// It is NaN where solid and paper have the same color.
func ToneValue(tint, solid, paper Lab) float64 {
	v := func(c Lab) [3]float64 { return [3]float64{c[0] + 116*c[1]/500, c[0], c[0] - 116*c[2]/200} }
	t, s, p := v(tint), v(solid), v(paper)
	num, den := 0.0, 0.0
	for i := range t {
		num += (t[i] - p[i]) * (t[i] - p[i])
		den += (s[i] - p[i]) * (s[i] - p[i])
	}
	return 100 * math.Sqrt(num/den)
}
