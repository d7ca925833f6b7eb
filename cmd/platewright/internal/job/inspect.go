package job

import (
	"sync"

	"context"
	"errors"
	"image"
	"image/color"
	"image/draw"
	"time"

	"platewright/cmd/platewright/internal/preflight"
	"platewright/halftone/film"
)

// CheckSettings are the limits that a picture is checked against.
func (j *Job) CheckSettings() []Setting {
	return []Setting{
		{"sheet", "SIZE", "the paper's size, to check that the print fits: A3, letter, 500x700mm", &j.Sheet},
		{"frame", "SIZE", "what the frame or the machine prints at most: 400x500mm", &j.Frame},
		{"tones", "PERCENTS", "tints that hold in print, to warn of others: 5-95", &j.Tones},
		{"least-line", "LENGTH", "the thinnest line and the smallest dot that hold: 0.35mm", &j.LeastLine},
		{"least-gap", "LENGTH", "the narrowest bare gap in ink that stays open: 0.7mm", &j.LeastGap},
	}
}

// rules are what the picture is checked against.
func (j *Job) rules() preflight.Rules {
	r := preflight.Practice()
	r.BleedMM, r.Duplicator = j.Bleed.MM(), j.duplicator()
	if j.Dot.Screened() {
		r.RulingLPI = j.Ruling.LPI()
	}
	if v := j.LeastLine.MM(); v > 0 {
		r.LineMM = v
	}
	if v := j.LeastGap.MM(); v > 0 {
		r.GapMM = v
	}
	if low, high, ok := j.Tones.limits(); ok {
		r.LowTone, r.HighTone = low, high
	}
	for _, s := range []struct {
		from FilmSize
		to   *[2]float64
	}{{j.Sheet, &r.SheetMM}, {j.Frame, &r.FrameMM}} {
		if w, h, err := film.ParseSize(string(s.from)); err == nil {
			*s.to = [2]float64{w, h}
		}
	}
	return r
}

// inspectPicture checks the picture before its transparency is flattened; where
// there is none, beside what follows. takeInspected waits for what it finds.
func (r *run) inspectPicture() error {
	rules := r.rules()
	rules.SizeStated = r.Width != "" || r.Height != "" || r.pic.PPI > 0
	r.opt.Step("checking the picture")
	pic, w, h := r.pic, r.wMM, r.hMM
	r.inspected = sync.OnceValues(func() (preflight.Facts, []preflight.Finding) { return preflight.Picture(pic, w, h, rules) })
	if pic.Alpha == nil && pic.Alpha16 == nil {
		go r.inspected()
	} else {
		r.inspected()
	}
	return nil
}

func (r *run) takeInspected() {
	facts, found := r.inspected()
	r.report.Artwork.Facts = &facts
	r.addChecked(found)
}

// inspectPlates checks the plates, and settles whether films are held back.
func (r *run) inspectPlates() error {
	r.opt.Step("checking the plates")
	p := &preflight.Print{Picture: r.pic, Model: r.choice.Model, Names: r.Inks, Plates: r.res, Screened: r.screened() && r.Dot != "none",
		WidthMM: r.wMM, HeightMM: r.hMM}
	plates, total, found, err := preflight.Plates(p, r.rules())
	if err != nil {
		return err
	}
	r.report.Coverage = &Coverage{plates, total}
	if !r.opt.Quick { // of a reduced picture they would not be true
		r.addChecked(found)
	}
	r.checkDrums()
	for _, f := range r.report.Findings {
		if r.opt.Hold != "" && preflight.Level(f.Level).Rank() >= preflight.Level(r.opt.Hold).Rank() {
			r.report.Held = true
		}
	}
	r.lap(&r.report.Seconds.Separate)
	return nil
}

// addChecked takes findings over. One that the separation has made already only
// learns where.
func (r *run) addChecked(found []preflight.Finding) {
	for _, f := range found {
		var places []Where
		for _, p := range f.Places {
			places = append(places, Where{Round(p.X, 2), Round(p.Y, 2), Round(p.W, 2), Round(p.H, 2)})
		}
		g := Finding{Code: f.Code, Level: string(f.Level), Message: f.Message, Mend: f.Mend, Client: f.Client, Places: places}
		if len(places) > 0 {
			g.Where = &places[0]
		}
		known := false
		for i := range r.report.Findings {
			if old := &r.report.Findings[i]; old.Code == g.Code && len(old.Places) == 0 && onePerPrint(g.Code) {
				old.Where, old.Places, old.Client = g.Where, g.Places, g.Client
				known = true
			}
		}
		if !known {
			r.find(g)
		}
	}
}

// onePerPrint reports findings that package separate makes too.
func onePerPrint(code string) bool { return code == "out-of-reach" }

// Inspection is what a check of a picture gives.
type Inspection struct {
	*Report
	Art image.Image // small, on its paper
}

const inspected = 1200 // longest side of Inspection.Art, pixels

// Inspect checks a picture as Run would, without making any file. What would
// stop the films is a fault among the findings.
func Inspect(ctx context.Context, j *Job, opt Options) (*Inspection, error) {
	r := newRun(ctx, j, &opt)
	if err := r.steps(r.read, r.inspectPicture, r.choose); err != nil {
		return nil, err
	}
	small := r.pic.Preview(inspected)
	art := image.NewNRGBA(small.Rect)
	draw.Draw(art, art.Rect, image.NewUniform(color.White), image.Point{}, draw.Src)
	draw.Draw(art, art.Rect, small, image.Point{}, draw.Over)
	var fit *film.FitError
	err := r.layOut()
	if errors.As(err, &fit) {
		r.find(Finding{Code: "larger-than-film", Level: Fault, Message: fit.Error(), Mend: "print it smaller with --width, or take a larger film",
			Client: "At this size the picture is larger than what we can print. Please tell us a smaller size."})
		r.films = nil
	} else if err != nil {
		return nil, err
	}
	if err := r.steps(r.separate, r.trap, r.inspectPlates); err != nil {
		return nil, err
	}
	if r.films != nil {
		if err := r.steps(r.describe); err != nil {
			return nil, err
		}
	}
	return &Inspection{r.report, art}, nil
}

func newRun(ctx context.Context, j *Job, opt *Options) *run {
	if opt.Say == nil {
		opt.Say = func(string, ...any) {}
	}
	if opt.Step == nil {
		opt.Step = func(string) {}
	}
	r := &run{Job: j, ctx: ctx, opt: opt, stock: opt.Stock, clock: time.Now()}
	r.report = &Report{Program: opt.Program, Findings: []Finding{}}
	return r
}

// steps runs the parts of a job until one fails or the run is interrupted.
func (r *run) steps(all ...func() error) error {
	for _, step := range all {
		if err := r.ctx.Err(); err != nil {
			return err
		}
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// Checked are findings in the words of package preflight.
func Checked(findings []Finding) []preflight.Finding {
	var out []preflight.Finding
	for _, f := range findings {
		g := preflight.Finding{Code: f.Code, Level: preflight.Level(f.Level), Message: f.Message, Mend: f.Mend, Client: f.Client}
		for _, p := range f.Places {
			g.Places = append(g.Places, preflight.Place{X: p.XMM, Y: p.YMM, W: p.WMM, H: p.HMM})
		}
		out = append(out, g)
	}
	return out
}
