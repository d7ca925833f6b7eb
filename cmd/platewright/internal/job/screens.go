package job

import (
	"fmt"
	"math"

	"platewright/halftone"
	"platewright/halftone/film"
)

// angles are the halftone angles of up to eight inks: 30° apart as far as they
// go, away from 0, 45 and 90° to the threads (Sefar handbook, article 6566569);
// beyond six only 7.5° are left.
var angles = [...]float64{22.5, 52.5, 82.5, 7.5, 37.5, 67.5, 15, 45}

// screenAngles returns an angle for each ink: as the job says, else from the
// list, the lightest of four inks having 7.5°.
func (j *Job) screenAngles(c *Choice) []float64 {
	k := len(c.Uses)
	out := make([]float64, k)
	light := -1
	if k >= 4 {
		for i := range out {
			if light < 0 || c.Solid(i)[1] > c.Solid(light)[1] {
				light = i
			}
		}
	}
	next := 0
	for i := range out {
		if i == light {
			out[i] = angles[3]
		} else {
			if next == 3 && light >= 0 {
				next++
			}
			out[i] = angles[next]
			next++
		}
		if v, ok := j.Angle.Of(c.Uses[i].Ink.Name); ok {
			out[i] = v
		}
	}
	return out
}

// screens makes the screen of each ink.
func (j *Job) screens(angles []float64) ([]*halftone.Screen, error) {
	dot, err := halftone.ParseDot(string(j.Dot))
	if err != nil {
		return nil, &SettingError{"dot", string(j.Dot), err.Error()}
	}
	out := make([]*halftone.Screen, len(angles))
	for i, a := range angles {
		for k := range i { // the same screen serves twice
			if angles[k] == a {
				out[i] = out[k]
			}
		}
		if out[i] != nil {
			continue
		}
		out[i], err = halftone.NewScreen(halftone.Spec{Ruling: j.Ruling.LPI(), Angle: a, Dot: dot, DPI: j.FilmDPI,
			MinDot: j.MinDot.MM(), MinHole: j.MinDot.MM()})
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// sheet is the sheet that all films of the job share.
func (j *Job) sheet(wMM, hMM float64) (*film.Layout, error) {
	return film.New(film.Sheet{WidthMM: wMM, HeightMM: hMM, DPI: j.FilmDPI, Film: string(j.FilmSize),
		NoMarks: j.NoMarks, Mirror: j.Mirror, Negative: j.Negative})
}

// even is a patch of one coverage.
type even struct {
	w, h int
	cov  uint16
}

func (e even) Size() (w, h int) { return e.w, e.h }

func (e even) Row(dst []uint16, _ int) {
	for x := range dst[:e.w] {
		dst[x] = e.cov
	}
}

// wedge makes the steps of the tone wedge through a screen.
func wedge(s *halftone.Screen) film.Tint {
	return func(percent float64, w, h int) film.Bits {
		cov := uint16(math.Round(percent / 100 * halftone.Full))
		r, err := halftone.NewRaster(even{w, h, cov}, w, h, s, halftone.Options{})
		if err != nil {
			return nil // a patch without pixels stays empty
		}
		return r
	}
}

// screenFindings says what is unwise about the screens of plates with tints.
func (j *Job) screenFindings(c *Choice, screens []*halftone.Screen, tinted []bool) []Finding {
	if !j.Dot.Screened() {
		return nil
	}
	var out []Finding
	for _, s := range screens {
		for _, f := range s.Findings() {
			out = addFinding(out, Finding{Code: f.Code, Level: Warning, Message: f.Message, Mend: f.Mend})
		}
	}
	period := 90.0 // dots look the same turned by a right angle
	if j.Dot == "line" || j.Dot == "ellipse" {
		period = 180
	}
	for a := range screens {
		for b := range a {
			d := math.Mod(math.Abs(screens[a].Angle()-screens[b].Angle()), period)
			if tinted[a] && tinted[b] && math.Min(d, period-d) < 1 {
				out = append(out, Finding{Code: "equal-angles", Level: Warning,
					Message: fmt.Sprintf("the tints of %s and %s are screened at the same angle of %.4g°: how far their dots overlap, and so their color, drifts with the register", c.Uses[b].Ink.Name, c.Uses[a].Ink.Name, screens[a].Angle()),
					Mend:    "give them angles 15° or more apart with --angle"})
			}
		}
	}
	return out
}

// addFinding adds a finding that is not there yet.
func addFinding(list []Finding, f Finding) []Finding {
	for _, g := range list {
		if g.Code == f.Code && g.Message == f.Message {
			return list
		}
	}
	return append(list, f)
}
