package halftone

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

const mmPerInch = 25.4

// ParseRuling reads a ruling: "45" or "45 lpi" in lines per inch, "18/cm" in
// lines per centimetre, "45/in". It returns lines per inch.
func ParseRuling(s string) (float64, error) {
	t := strings.ToLower(strings.TrimSpace(s))
	scale := 1.0
	for _, u := range []struct {
		suffix string
		scale  float64
	}{{"lpi", 1}, {"/inch", 1}, {"/in", 1}, {"/cm", 2.54}, {"", 1}} {
		if rest, ok := strings.CutSuffix(t, u.suffix); ok {
			t, scale = strings.TrimSpace(rest), u.scale
			break
		}
	}
	v, err := strconv.ParseFloat(t, 64)
	if err != nil || !(v > 0) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("halftone: ruling %q is not a number of lines: write 45 (per inch) or 18/cm", s)
	}
	return v * scale, nil
}
