package ink

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"platewright/composite/spectrum"
)

// ParseColor reads a color as it is typed:
//
//	2f6d58   #2f6d58            sRGB
//	lab:62,-21,6   lab(62, -21, 6)     CIELAB under D50
//	xyz:84.5,87.6,74.6   xyz(84.5, 87.6, 74.6)     XYZ under D50, perfect white Y = 100
func ParseColor(s string) (spectrum.XYZ, error) {
	text := strings.ToLower(strings.TrimSpace(s))
	kind, rest, typed := strings.Cut(text, ":")
	if !typed {
		var inner string
		if kind, inner, typed = strings.Cut(text, "("); typed {
			if rest, typed = strings.CutSuffix(inner, ")"); !typed {
				return spectrum.XYZ{}, fmt.Errorf("color %q has no closing bracket; write lab(62, -21, 6)", s)
			}
		}
	}
	if !typed {
		return parseHex(s, strings.TrimPrefix(text, "#"))
	}
	kind = strings.TrimSpace(kind)
	if kind != "lab" && kind != "xyz" {
		return spectrum.XYZ{}, fmt.Errorf("color %q starts with %q; write 2f6d58, lab:62,-21,6 or xyz:84.5,87.6,74.6", s, kind)
	}
	var v [3]float64
	parts := strings.Split(rest, ",")
	if len(parts) != 3 {
		return spectrum.XYZ{}, fmt.Errorf("color %q needs three numbers with commas between; write %s:62,-21,6", s, kind)
	}
	for i, p := range parts {
		f, err := strconv.ParseFloat(strings.TrimSpace(p), 64)
		if err != nil || math.IsNaN(f) || math.IsInf(f, 0) {
			return spectrum.XYZ{}, fmt.Errorf("color %q: %q is not a number", s, strings.TrimSpace(p))
		}
		v[i] = f
	}
	var c spectrum.XYZ
	if kind == "lab" {
		if v[0] < 0 || v[0] > 130 || math.Abs(v[1]) > 200 || math.Abs(v[2]) > 200 {
			return c, fmt.Errorf("color %q is out of range; L is 0 … 100, a and b about -128 … 128", s)
		}
		c = spectrum.Lab(v).XYZ()
	} else {
		c = spectrum.XYZ(v)
	}
	for i := range c {
		if c[i] < -1e-9 || c[i] > 200 {
			return c, fmt.Errorf("color %q is out of range; X, Y and Z are 0 … about 100 (a perfect white has Y = 100)", s)
		}
		c[i] = max(c[i], 0)
	}
	return c, nil
}

func parseHex(s, digits string) (spectrum.XYZ, error) {
	n, err := strconv.ParseUint(digits, 16, 32)
	if err != nil || len(digits) != 6 {
		return spectrum.XYZ{}, fmt.Errorf("color %q is not one; write six hex digits as 2f6d58, or lab:62,-21,6, or xyz:84.5,87.6,74.6", s)
	}
	return spectrum.RGB{float64(n>>16) / 255, float64(n>>8&255) / 255, float64(n&255) / 255}.XYZ(), nil
}
