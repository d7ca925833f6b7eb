package job

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"platewright/cmd/platewright/internal/sheet"
	"platewright/halftone"
)

// ToneSettings are what the films do about tints that print darker or lighter.
func (j *Job) ToneSettings() []Setting {
	return []Setting{
		{"tone-curve", "CURVE", "what film percents print, \"deep kelp: 20=26 50=68\" or without a name for all inks; films get what prints as the plates say; may be repeated; not for inks whose tints the shelf has, they are in the plates", &j.ToneCurve},
		{"tone-limits", "PERCENTS", "the lightest and the darkest tint on the films, such as 5-95; tints beyond become these, or nothing and solid, whichever is nearer", &j.ToneLimits},
	}
}

// ToneCurves are typed one by one: "deep kelp: 20=26 50=68".
type ToneCurves []string

func (t *ToneCurves) reset()          { *t = nil }
func (t *ToneCurves) texts() []string { return *t }

func (t *ToneCurves) add(s string) error {
	if _, _, err := parseCurve(s); err != nil {
		return err
	}
	*t = append(*t, strings.TrimSpace(s))
	return nil
}

// parseCurve reads film percents and what they print.
func parseCurve(typed string) (ink string, c *halftone.Curve, err error) {
	rest := typed
	if at := strings.LastIndexByte(typed, ':'); at >= 0 {
		ink, rest = strings.TrimSpace(typed[:at]), typed[at+1:]
	}
	var points [][2]float64
	for _, pair := range strings.FieldsFunc(rest, func(r rune) bool { return r == ' ' || r == ',' || r == '\t' }) {
		film, print, ok := strings.Cut(pair, "=")
		a, err1 := strconv.ParseFloat(strings.TrimSuffix(film, "%"), 64)
		b, err2 := strconv.ParseFloat(strings.TrimSuffix(print, "%"), 64)
		if !ok || err1 != nil || err2 != nil {
			return "", nil, fmt.Errorf("%q is no point of a tone curve: give film percent = printed percent, such as 20=26", pair)
		}
		points = append(points, [2]float64{a, b})
	}
	if len(points) == 0 {
		return "", nil, errors.New("give film percents and what they print, such as 20=26 50=68")
	}
	c, err = halftone.NewCurve(points)
	return ink, c, err
}

// of returns the curve of an ink, nil for none.
func (t ToneCurves) of(ink string) (found *halftone.Curve) {
	own := false
	for _, typed := range t {
		name, c, err := parseCurve(typed)
		switch {
		case err != nil:
		case strings.EqualFold(name, ink):
			found, own = c, true
		case name == "" && !own:
			found = c
		}
	}
	return found
}

// checkTones refuses curves of inks that do not print, and of those whose tints
// the shelf knows: their plates hold film percents already.
func (c *Choice) checkTones(j *Job) error {
	return c.checkCurves(j, "its plates hold film percents already")
}

// checkCurves is checkTones with the reason why the shelf's tints suffice.
func (c *Choice) checkCurves(j *Job, why string) error {
	for _, typed := range j.ToneCurve {
		name, _, err := parseCurve(typed)
		if err != nil {
			return mistyped("tone-curve", err)
		}
		for _, u := range c.Uses {
			known := len(u.Ink.Tints) > 0 || len(u.Ink.ToneCurve) > 0
			if known && (name == "" || strings.EqualFold(name, u.Ink.Name)) {
				return &SettingError{"tone-curve", "", fmt.Sprintf("the shelf knows the tints of %s, and %s: name the inks that the curve is for, or take the tints from the shelf", u.Ink.Name, why)}
			}
		}
		if name != "" {
			if _, err := c.index(name); err != nil {
				return mistyped("tone-curve", err)
			}
		}
	}
	return nil
}

// table is what an ink's coverage becomes on film; nil as it is.
func (j *Job) table(ink string) (*halftone.Table, error) {
	return j.tableOf(j.ToneCurve.of(ink))
}

// tableOf is what coverage becomes on film where curve, nil for none, prints.
func (j *Job) tableOf(curve *halftone.Curve) (*halftone.Table, error) {
	low, high, ok := j.ToneLimits.limits()
	if !ok {
		low, high = 0, 100
	}
	if curve == nil && !ok {
		return nil, nil
	}
	return halftone.Compensation(curve, low, high)
}

// ToneStep is the film percent that prints a percent.
type ToneStep struct {
	Print float64 `json:"print_percent"`
	Film  float64 `json:"film_percent"`
}

// toneSteps are the printed percents that a table tells.
var toneSteps = [...]float64{5, 10, 25, 50, 75, 90, 95}

// tones is the table of an ink, nil where its films print what they hold as far
// as anybody knows.
func (r *run) tones(i int) ([]ToneStep, error) {
	table, err := r.table(r.Inks[i])
	if err != nil {
		return nil, err
	}
	u := r.choice.Uses[i].Ink
	measured := len(u.Tints) > 0 || len(u.ToneCurve) > 0
	if table == nil && !measured {
		return nil, nil
	}
	return steps(table, func(print float64) float64 {
		if !measured {
			return print
		}
		// The plates hold film percents.
		return 100 * inverse(func(a float64) float64 { return r.choice.Model.Tone(i, a) }, print/100)
	}), nil
}

// steps lists what a table, or nil, makes of the percents that a plate holds for
// printed ones.
func steps(table *halftone.Table, plate func(print float64) float64) (out []ToneStep) {
	for _, print := range toneSteps {
		film := plate(print)
		if table != nil {
			film = float64(table[uint16(math.Round(film/100*halftone.Full))]) / halftone.Full * 100
		}
		out = append(out, ToneStep{print, Round(film, 1)})
	}
	return out
}

// inverse finds where a rising function of 0 … 1 has a value.
func inverse(f func(float64) float64, v float64) float64 {
	low, high := 0.0, 1.0
	for range 40 {
		if mid := (low + high) / 2; f(mid) < v {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}

// toneFacts are the tables as the job sheet shows them.
func (r *run) toneFacts() (facts []sheet.Fact) {
	for _, in := range r.report.Inks {
		if len(in.Tones) == 0 || !r.screened() {
			continue
		}
		var steps []string
		for _, s := range in.Tones {
			steps = append(steps, fmt.Sprintf("%g → %g", s.Print, s.Film))
		}
		facts = append(facts, sheet.Fact{Name: "Print → film %, " + in.Name, Value: strings.Join(steps, ", ")})
	}
	return facts
}
