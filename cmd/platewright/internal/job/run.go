package job

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"platewright/cmd/platewright/internal/preflight"
	"platewright/composite"
	"platewright/composite/ink"
	"platewright/halftone"
	"platewright/halftone/spread"
	"platewright/separate"
	"platewright/separate/artwork"
	"platewright/separate/choose"
)

// Options are what a run needs beyond the job and what changes no result.
type Options struct {
	Program string // name and version, for the report
	Out     string // the job folder; "" is NAME-plates where the program stands
	Force   bool
	Stock   *Stock
	Limits  artwork.Limits
	Other   bool   // Art may be another picture than the job was made from
	Quick   bool   // a proof for the display alone, no side longer than quickSide
	Hold    string // findings of this level or graver keep the films back; "": none do

	Say  func(format string, args ...any) // one line for people; nil is silent
	Step func(what string)                // what is being done now; nil is silent

	held int // instead of heldBytes, where not 0
}

// quickSide is the longer side, in pixels, of a quick proof.
const quickSide = 1000

// run is a job under way.
type run struct {
	*Job
	ctx       context.Context
	opt       *Options
	stock     *Stock
	ahead     map[halftone.Spec]screenMaker                 // begun before they are needed
	inspected func() (preflight.Facts, []preflight.Finding) // what the picture's check gave

	pic      *artwork.Picture
	wMM, hMM float64
	dpi      float64 // of the artwork at print size
	choice   *Choice
	angles   []float64
	res      *separate.Result
	rows     []*separate.Plate // of res, to write files from
	flats    *spread.Flats     // the trapped film of labels; nil without a trap
	base     halftone.Bits     // the choked film of the underbase; nil without one
	films    *FilmSet
	folder   *Folder
	report   *Report
	clock    time.Time
}

// Run carries a job out: it reads the picture, separates it and makes the job
// folder, which appears whole or not at all. The job's Name, Date, checksum,
// shelf, inks and tints are filled in where they are not given.
func Run(ctx context.Context, j *Job, opt Options) (rep *Report, folder string, err error) {
	r := newRun(ctx, j, &opt)
	defer func() {
		if r.folder != nil {
			r.folder.Abandon()
		}
	}()
	if err := r.steps(r.lookAhead, r.read, r.begin, r.inspectPicture, r.choose, r.settleTrap, r.layOut, r.separate, r.trap, r.inspectPlates, r.describe, r.write); err != nil {
		return nil, "", err
	}
	return r.report, r.folder.Path(), nil
}

// lap adds the time since the last call to a part's seconds.
func (r *run) lap(part *float64) {
	now := time.Now()
	*part = Round(*part+now.Sub(r.clock).Seconds(), 3)
	r.clock = now
}

// read opens the picture and settles its print size.
func (r *run) read() (err error) {
	r.opt.Step("reading " + r.Art)
	if r.pic, err = artwork.Open(r.Art, r.opt.Limits); err != nil {
		return err
	}
	switch {
	case r.SHA256 == r.pic.SHA256:
	case r.opt.Other:
		r.Name = ""
	case r.SHA256 != "":
		return fmt.Errorf("%s is not the picture the job was made from: to separate it as it is now, name it before --job", r.Art)
	}
	r.SHA256 = r.pic.SHA256
	if r.Name == "" {
		r.Name = ArtName(r.Art)
	}
	if r.Date == "" {
		r.Date = Date(time.Now().Format(time.DateOnly))
	}
	var note string
	if r.wMM, r.hMM, note, err = artwork.PrintSize(r.pic, string(r.Width), string(r.Height)); err != nil {
		return &SizeError{filepath.Base(r.Art), err}
	}
	r.dpi = float64(r.pic.Width) / r.wMM * 25.4
	r.opt.Say("%s: %s", r.Art, note)
	for _, f := range Found("", r.pic) {
		r.find(f)
	}
	r.report.Name = r.Name
	r.report.Date = string(r.Date)
	r.report.Artwork = Artwork{File: filepath.Base(r.Art), SHA256: r.pic.SHA256, Width: r.pic.Width, Height: r.pic.Height,
		Profile: r.pic.Profile, Format: r.pic.Format, PPI: Round(r.dpi, 2)}
	r.lap(&r.report.Seconds.Read)
	return nil
}

// SizeError is a print size that cannot be.
type SizeError struct {
	File string
	Err  error
}

func (e *SizeError) Error() string { return e.File + ": " + e.Err.Error() }
func (e *SizeError) Unwrap() error { return e.Err }

func (r *run) find(f Finding) { r.report.Findings = addFinding(r.report.Findings, f) }

// begin opens the job folder, so that an error about it comes before the work.
func (r *run) begin() (err error) {
	out := r.opt.Out
	if out == "" {
		out = r.Name + "-plates"
	}
	inputs := []string{r.Art}
	if r.stock.From != BuiltIn {
		inputs = append(inputs, r.stock.From)
	}
	r.folder, err = NewFolder(out, r.opt.Force, inputs)
	return err
}

// choose settles paper and inks.
func (r *run) choose() error {
	paper, inks, err := r.stock.Named(r.Job)
	if err != nil {
		return err
	}
	for _, f := range r.stock.Findings() {
		r.find(f)
	}
	if r.stock.Here {
		r.opt.Say("inks: ./%s", r.stock.From)
	}
	r.pic.Flatten(paper.Color)
	if r.opt.Quick {
		r.pic = r.pic.Reduced(quickSide)
		r.dpi = float64(r.pic.Width) / r.wMM * 25.4
	}
	if len(inks) == 0 {
		if inks, err = r.best(paper); err != nil {
			return err
		}
	}
	if inks, err = r.stock.withUnderbase(r.Job, inks); err != nil {
		return err
	}
	if r.choice, err = r.stock.Choose(r.Job, paper, inks); err != nil {
		return err
	}
	r.Shelf, r.ShelfCopy = r.stock.From, r.stock.Copy
	r.Paper, r.Inks = paper.Name, r.choice.Names()
	r.angles = r.screenAngles(r.Inks, r.choice.darkness())
	r.Angle = PerInkOf(r.Inks, r.angles)
	r.report.Paper = paper.Name
	r.report.Shelf = r.stock.From
	if r.stock.From != BuiltIn {
		r.report.Shelf = filepath.Base(r.stock.From)
	}
	return nil
}

// best chooses the inks that print the picture best.
func (r *run) best(paper *ink.Paper) ([]*ink.Ink, error) {
	if len(r.stock.Inks) == 0 {
		return nil, fmt.Errorf("%s: no ink; describe one under [[ink]] with name and color", r.stock.From)
	}
	r.opt.Step("choosing inks")
	q := choose.Question{Count: min(r.InkCount, len(r.stock.Inks)), Top: 1, WidthMM: r.wMM, Register: r.Register.MM()}
	for _, pin := range r.Pin {
		if at := strings.LastIndexByte(pin, '='); at >= 0 {
			i, err := r.stock.Ink(pin[at+1:])
			if err != nil {
				return nil, mistyped("pin", err)
			}
			if !slices.Contains(q.With, i.Name) {
				q.With = append(q.With, i.Name)
			}
		}
	}
	var err error
	if q.Options, err = r.options(nil); err != nil {
		return nil, err
	}
	found, err := choose.Rank(r.ctx, r.stock.Shelf, paper, r.pic, q)
	if err != nil {
		return nil, err
	}
	r.opt.Say("inks: %s; the best %d on this shelf (%s)", strings.Join(found[0].Names(), ", "), q.Count, found[0].Why)
	var inks []*ink.Ink
	for _, u := range found[0].Uses {
		inks = append(inks, u.Ink)
	}
	return inks, nil
}

// separate turns the picture into plates.
func (r *run) separate() error {
	opt, err := r.options(r.choice)
	if err != nil {
		return err
	}
	opt.ByRows = r.byRows(r.choice, r.pic.Width*r.pic.Height, cmp.Or(r.opt.held, heldBytes))
	r.opt.Step("separating")
	if r.res, err = separate.Separate(r.ctx, r.pic, r.choice.Model, opt); err != nil {
		return err
	}
	r.takeInspected()
	if r.Tints == "" {
		r.opt.Say("tints: %s (%s)", r.res.Tints, r.res.Why)
		r.Tints = Tints(r.res.Tints.String())
	}
	for _, f := range r.res.Findings {
		r.find(Finding{Code: f.Code, Level: f.Level, Message: f.Message, Mend: f.Mend})
	}
	fit := r.res.Fit
	r.report.Artwork.DistinctColors = r.res.Distinct
	r.report.Tints = string(r.Tints)
	r.report.Fit = &Fit{MeanDE00: Round(fit.MeanDE, 3), P95DE00: Round(fit.P95DE, 3), MaxDE00: Round(fit.MaxDE, 3),
		InReachPercent: Round(fit.InReach, 2), LatticeError: Round(fit.LatticePercent, 3)}
	if r.report.Fit.PlusMinus, err = r.doubt(); err != nil {
		return err
	}
	r.lap(&r.report.Seconds.Separate)
	return nil
}

// doubt is the mean over the picture of how far its overprint colors may be
// off, each weighed by the share of the spot it takes.
func (r *run) doubt() (float64, error) {
	doubt, err := composite.Doubt(r.stock.Shelf, r.choice.Paper, r.choice.Uses)
	if err != nil || slices.Max(doubt) == 0 {
		return 0, err
	}
	step := max(1, r.res.Width*r.res.Height/20000) | 1
	sum, n := 0.0, 0
	share := make([]float64, len(doubt))
	cov := make([]uint16, len(r.Inks))
	for at := 0; at < r.res.Width*r.res.Height; at += step {
		share = append(share[:0], 1)
		r.res.At(at%r.res.Width, at/r.res.Width, cov)
		for _, v := range cov {
			a := float64(v) / 65535
			for _, s := range share {
				share = append(share, s*a)
			}
			for i := range share[:len(share)/2] {
				share[i] *= 1 - a
			}
		}
		for mask, s := range share {
			sum += s * doubt[mask]
		}
		n++
	}
	return Round(sum/float64(n), 2), nil
}

// options are the settings as package separate takes them, without pins while
// there is no choice of inks.
func (j *Job) options(c *Choice) (separate.Options, error) {
	smooth := j.Smooth
	opt := separate.Options{InksPerSpot: j.InksPerSpot, Smooth: &smooth}
	switch j.Tints {
	case "":
	case "any":
		opt.Tints = separate.TintsAny
	case "none":
		opt.Tints = separate.TintsNone
	default:
		opt.Tints, opt.Percents = separate.TintsList, j.Tints.List()
	}
	j.underbaseOptions(&opt, c)
	if j.OutOfReach == "ease" {
		opt.OutOfReach = separate.Ease
	}
	switch j.Solve {
	case "exact":
		opt.Solve = separate.SolveExact
	case "lattice":
		opt.Solve = separate.SolveLattice
	}
	for _, pin := range j.Pin {
		if c == nil {
			break // inks are being chosen
		}
		at := strings.LastIndexByte(pin, '=')
		if at < 0 {
			return opt, &SettingError{"pin", fmt.Sprintf("%q", pin), "give COLOR=INK, such as 000000=night ink"}
		}
		color, err := ink.ParseColor(pin[:at])
		if err != nil {
			return opt, mistyped("pin", err)
		}
		i, err := c.index(pin[at+1:])
		if err != nil {
			return opt, mistyped("pin", err)
		}
		opt.Pins = append(opt.Pins, separate.Pin{Color: color, Ink: i})
	}
	if j.Unprinted != "" {
		color, err := ink.ParseColor(j.Unprinted)
		if err != nil {
			return opt, mistyped("unprinted", err)
		}
		opt.Unprinted = append(opt.Unprinted, color)
	}
	return opt, nil
}

// layOut makes the sheet of the films, so that an error about it comes before
// the work.
func (r *run) layOut() (err error) {
	if r.films, err = r.newFilmSet(r.Inks, r.wMM, r.hMM); err == nil {
		r.films.ahead = r.ahead
	}
	return err
}

// describe fills the report with what is known once the plates are.
func (r *run) describe() error {
	if r.screened() && !r.duplicator() && !r.opt.Quick {
		if err := r.films.makeScreens(r.angles); err != nil {
			return err
		}
	}
	for _, f := range r.films.Findings {
		r.find(f)
	}
	r.report.Print, r.report.Mesh = r.films.Print, r.films.Mesh
	for i, name := range r.Inks {
		in := Ink{Name: name, Order: i + 1, BasePercent: Round(r.choice.base(r.stock, i), 3), Dot: "none",
			MeanCoverage: Round(r.report.Coverage.Plates[i].Share, 5), Color: HexCode(r.choice.Solid(i)), KnownBy: r.choice.Uses[i].Ink.KnownBy()}
		if s := r.films.screens[i]; s != nil {
			in.Dot = string(r.Dot)
			in.RulingLPI, in.AngleDeg = Round(s.Ruling(), 3), Round(s.Angle(), 3)
		} else if r.opt.Quick && r.screened() { // as asked: no screen is made
			in.Dot, in.RulingLPI, in.AngleDeg = string(r.Dot), Round(r.Ruling.Of(name), 3), r.angles[i]
		} else if r.duplicator() && r.screened() { // the machine is set to them
			in.Dot = "the machine's"
			in.RulingLPI, in.AngleDeg = Round(r.Ruling.Of(name), 3), r.angles[i]
		}
		var err error
		if in.Tones, err = r.tones(i); err != nil {
			return err
		}
		r.report.Inks = append(r.report.Inks, in)
	}
	r.lap(&r.report.Seconds.Film)
	return nil
}

// screened reports whether the plates hold tints, which films screen.
func (r *run) screened() bool { return r.res.Tints != separate.TintsNone }

// heldBytes is what plates may take before they are made row by row each time
// they are written: an A3 at 300 ppi in five inks is held.
const heldBytes = 192 << 20

// ByRows reports whether the plates of a picture of that many pixels are too
// large to be held. Those that are worked on are held whatever their size.
func (j *Job) ByRows(c *Choice, pixels int) bool { return j.byRows(c, pixels, heldBytes) }

func (j *Job) byRows(c *Choice, pixels, held int) bool {
	worked := len(j.KnockOut) > 0 || j.Underbase != "" || j.Trap != "" || j.registerMM(c) > 0
	return !worked && 2*len(c.Uses)*pixels > held
}

// Round rounds to a number of decimals.
func Round(v float64, decimals int) float64 {
	p := math.Pow10(decimals)
	return math.Round(v*p) / p
}

// Guarded is a file that stops taking bytes when the run is interrupted.
type Guarded struct {
	*os.File
	ctx context.Context
}

// Guard guards a file that is written.
func Guard(ctx context.Context, f *os.File) *Guarded { return &Guarded{f, ctx} }

func (g *Guarded) Write(b []byte) (int, error) {
	if err := g.ctx.Err(); err != nil {
		return 0, err
	}
	return g.File.Write(b)
}

var _ io.WriteSeeker = (*Guarded)(nil)
