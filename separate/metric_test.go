package separate

import (
	"math"
	"math/rand"
	"testing"

	"platewright/composite/spectrum"
)

// In the small the metric is CIEDE2000 (which is checked against the pairs of
// Sharma, Wu and Dalal 2005 where it is defined).
func TestMetricIsCIEDE2000InTheSmall(t *testing.T) {
	rng := rand.New(rand.NewSource(1))
	for i := 0; i < 5000; i++ {
		c := spectrum.Lab{rng.Float64() * 100, rng.NormFloat64() * 40, rng.NormFloat64() * 40}
		d := spectrum.Lab{rng.NormFloat64() * .01, rng.NormFloat64() * .01, rng.NormFloat64() * .01}
		if math.Hypot(c[1], c[2]) < 1 { // hue turns within the step
			continue
		}
		m := metricAt(c)
		r := m.residual(d)
		got := math.Sqrt(dot(r, r))
		want := spectrum.DeltaE(spectrum.Lab{c[0] - d[0]/2, c[1] - d[1]/2, c[2] - d[2]/2}, spectrum.Lab{c[0] + d[0]/2, c[1] + d[1]/2, c[2] + d[2]/2})
		if math.Abs(got-want) > .01*want+1e-5 {
			t.Fatalf("at %.2f step %.4f: %.6f, CIEDE2000 %.6f", c, d, got, want)
		}
	}
}
