package artwork

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

const mmPerInch = 25.4

// A sheet of ISO 216 A4, within which a picture is fitted whose size nothing
// states, in millimeters.
const (
	a4Short = 210
	a4Long  = 297
)

// ParseLength reads a length with its unit, such as "297mm", "30cm" or
// "11.7in", and returns millimeters. The unit is required; the length must be
// positive.
func ParseLength(s string) (mm float64, err error) {
	t := strings.ToLower(strings.TrimSpace(s))
	number, scale := t, 0.0
	for unit, mm := range map[string]float64{"mm": 1, "cm": 10, "in": mmPerInch} {
		if n, ok := strings.CutSuffix(t, unit); ok {
			number, scale = strings.TrimSpace(n), mm
		}
	}
	v, err := strconv.ParseFloat(number, 64)
	if err != nil || strings.ContainsAny(number, "xpn_") || math.IsInf(v, 0) {
		return 0, fmt.Errorf("the length %q is not a number with a unit: write it like 297mm, 30cm or 11.7in", s)
	}
	if scale == 0 {
		return 0, fmt.Errorf("the length %q has no unit: write %smm, %scm or %sin", s, number, number, number)
	}
	if !(v > 0) {
		return 0, fmt.Errorf("the length %q is not above zero: write it like 297mm, 30cm or 11.7in", s)
	}
	return v * scale, nil
}

// longestMM is the longest side of a print: beyond the largest films and frames
// that there are, and short of what a slip with a unit gives.
const longestMM = 5000

// PrintSize returns the size on paper in millimeters and says in a note where
// it comes from. The wanted width and height are lengths for ParseLength, or
// "". One of them is enough, and the picture keeps its shape; both must agree
// with that shape within 0.5 %. With neither the file's own resolution counts,
// and without one the picture is fitted within A4. No side may be longer than 5 m.
func PrintSize(p *Picture, width, height string) (wMM, hMM float64, note string, err error) {
	shape := float64(p.Width) / float64(p.Height)
	var from string
	switch {
	case width != "":
		if wMM, err = ParseLength(width); err != nil {
			return 0, 0, "", fmt.Errorf("--width: %w", err)
		}
		hMM = wMM / shape
		from = "by --width"
		if height == "" {
			break
		}
		h, err := ParseLength(height)
		if err != nil {
			return 0, 0, "", fmt.Errorf("--height: %w", err)
		}
		if d := h/hMM - 1; math.Abs(d) > .005 {
			return 0, 0, "", fmt.Errorf("%s × %s is not the shape of the picture, %d × %d pixels: give --width %s alone (the height is %.1f mm) or --height %s alone (the width is %.1f mm)",
				width, height, p.Width, p.Height, width, hMM, height, h*shape)
		}
		hMM = h
		from = "by --width and --height"
	case height != "":
		if hMM, err = ParseLength(height); err != nil {
			return 0, 0, "", fmt.Errorf("--height: %w", err)
		}
		wMM = hMM * shape
		from = "by --height"
	case p.PPI > 0:
		wMM, hMM = float64(p.Width)/p.PPI*mmPerInch, float64(p.Height)/p.PPI*mmPerInch
		from = "by the resolution the file states"
	default:
		across, down := float64(a4Short), float64(a4Long)
		if shape > 1 {
			across, down = down, across
		}
		wMM, hMM = across, across/shape
		if hMM > down {
			wMM, hMM = down*shape, down
		}
		from = "fitted within A4 because the file states no resolution; give --width or --height for another size"
	}
	if m := max(wMM, hMM); m > longestMM {
		return 0, 0, "", fmt.Errorf("a print of %.1f × %.1f m, %s, is longer than the %.0f m that films are made for: give another --width, and look at its unit", wMM/1000, hMM/1000, from, longestMM/1000.0)
	}
	note = fmt.Sprintf("print size %.1f × %.1f mm (%.0f ppi), %s", wMM, hMM, float64(p.Width)/wMM*mmPerInch, from)
	return wMM, hMM, note, nil
}
