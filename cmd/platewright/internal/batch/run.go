package batch

import (
	"context"
	"errors"
	"fmt"
	"os"
	"runtime"
	"sync"
	"time"

	"platewright/cmd/platewright/internal/job"
	"platewright/separate/artwork"
)

// Options are what a batch needs beyond its settings and what changes no
// result.
type Options struct {
	Results string // the folder of results
	Share   Share
	Workers int   // pictures at once; 0: one a core
	Memory  int64 // bytes that all pictures in hand may take together
	Limits  artwork.Limits
	Longest time.Duration // that one picture may take; 0: an hour
	Force   bool          // make results anew that were changed by hand

	Tell func(Event) // of every picture that is through, one call at a time; nil is silent
}

// Event says that a picture is through.
type Event struct {
	*Record
	Again   bool // it had been made before
	Through int  // pictures that are through
	Of      int
	Held    int
	Failed  int
	Left    time.Duration // estimate of the time left, 0 where it is not known
	Peak    int64         // most memory the work took, bytes; 0: not known
}

// Totals are what became of a batch.
type Totals struct {
	All, Through       int
	Made, Again        int
	Done, Held, Failed int
	Peak               int64 // most memory of one picture, bytes
	Elsewhere, Skipped int
}

// Run works on the pictures of a folder that fall to its share. A picture that
// fails is no error; that the results cannot be written is one. When ctx ends,
// what is in hand is given up without a trace and the error is ctx's.
func Run(ctx context.Context, folder *Folder, s *Settings, opt Options) (t Totals, err error) {
	st, err := openStore(opt.Results)
	if err != nil {
		return t, err
	}
	n, err := st.newSession()
	if err != nil {
		return t, err
	}
	defer n.end()
	r := &running{session: n, settings: s, opt: &opt, budget: newBudget(opt.Memory), began: time.Now()}
	if r.child, err = newChild(&opt); err != nil {
		return t, err
	}
	if s.Job.Date == "" {
		if r.date, err = st.date(time.Now().Format(time.DateOnly)); err != nil {
			return t, err
		}
	}
	var mine []*Input
	for i := range folder.Inputs {
		if in := &folder.Inputs[i]; opt.Share.has(in) {
			mine = append(mine, in)
			r.weight += in.weight()
		}
	}
	r.totals.All, r.totals.Skipped = len(mine), len(folder.Skipped)
	err = r.all(ctx, mine)
	if err == nil && opt.Share.Whole() {
		err = r.finish(folder, s)
	}
	return r.totals, err
}

// weight is a picture's share of the time: its pixels, and what every job
// takes.
func (in *Input) weight() int64 { return 500_000 + int64(in.Size.Width)*int64(in.Size.Height) }

func newChild(opt *Options) (*child, error) {
	program, err := os.Executable()
	if err != nil {
		return nil, err
	}
	longest := opt.Longest
	if longest == 0 {
		longest = time.Hour
	}
	return &child{program, opt.Limits, longest}, nil
}

// running is a batch under way.
type running struct {
	*session
	settings *Settings
	opt      *Options
	child    *child
	budget   *budget
	date     string
	began    time.Time

	mu           sync.Mutex
	totals       Totals
	weight, past int64 // of all pictures, and of those made in this run
	spared       int64 // of those that had been made
}

// all works on the pictures, and then on those that other processes had in hand.
func (r *running) all(ctx context.Context, mine []*Input) error {
	workers := r.opt.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	for waited := false; ; waited = true {
		elsewhere, err := r.some(ctx, mine, workers)
		if err != nil || len(elsewhere) == 0 {
			return err
		}
		r.mu.Lock()
		r.totals.Elsewhere = len(elsewhere)
		r.mu.Unlock()
		mine = elsewhere
		pause := 2 * time.Second
		if !waited {
			pause /= 4
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(pause):
		}
	}
}

// some works on pictures with a few workers and returns those that other
// processes have in hand. The first error ends it.
func (r *running) some(ctx context.Context, mine []*Input, workers int) (elsewhere []*Input, err error) {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	next := make(chan *Input)
	var mu sync.Mutex
	var wg sync.WaitGroup
	for range min(workers, len(mine)) {
		wg.Go(func() {
			for in := range next {
				taken, err := r.one(ctx, in)
				if err != nil {
					stop(err)
					continue
				}
				if !taken {
					mu.Lock()
					elsewhere = append(elsewhere, in)
					mu.Unlock()
				}
			}
		})
	}
	for _, in := range mine {
		select {
		case next <- in:
			continue
		case <-ctx.Done():
		}
		break
	}
	close(next)
	wg.Wait()
	return elsewhere, context.Cause(ctx)
}

// one brings a picture through, or reports that another process has it.
func (r *running) one(ctx context.Context, in *Input) (taken bool, err error) {
	if err := ctx.Err(); err != nil {
		return true, err
	}
	w, err := r.prepare(in)
	if err != nil {
		return true, r.failed(in, err)
	}
	if r.made(w) {
		return true, nil
	}
	c, err := r.claim(in.Name)
	if c == nil {
		return err != nil, err
	}
	defer c.end()
	if r.made(w) { // by the process that had it until now
		return true, nil
	}
	r.sweep(in.Name)
	if err := r.retire(in.Name, r.opt.Force); err != nil {
		if stuck(err) {
			return true, err
		}
		return true, r.failed(in, err)
	}
	need := w.need()
	if err := r.budget.take(ctx, need); err != nil {
		return true, err
	}
	o, peak, err := r.child.run(ctx, r.settings, w, r.folder(in.Name), need)
	r.budget.give(need)
	if err != nil || o.Error != "" {
		r.sweep(in.Name) // a child that was killed could not
	}
	if err != nil {
		return true, err
	}
	if o.Stuck {
		return true, errors.New(o.Error)
	}
	if o.Error != "" && w.changed(r.opt.Limits) {
		o.Error = in.Rel + ": changed while it was read: run again when it is whole"
	}
	return true, r.through(in, w.record(o), false, peak)
}

// prepare settles what is to be made of a picture, and refuses what cannot be.
func (r *running) prepare(in *Input) (*work, error) {
	if in.Err != nil {
		return nil, in.Err
	}
	w, err := r.settings.plan(in, r.root)
	if err != nil {
		return nil, err
	}
	if w.job.Date == "" {
		w.job.Date = job.Date(r.date)
	}
	if need := w.need(); need > r.opt.Memory {
		return nil, fmt.Errorf("%s: needs about %d MB of memory, and %d are allowed: raise --max-memory, or reduce the picture", in.Rel, (need+999_999)/1e6, r.opt.Memory/1e6)
	}
	return w, nil
}

// made reports whether a picture's result is there as it would be made, and
// counts it then.
func (r *running) made(w *work) bool {
	old := r.record(w.Name)
	if old == nil || old.Key != w.key || old.State != Done && old.State != Held || r.verify(w.Name, old.Report) != nil {
		return false
	}
	return r.through(w.Input, old, true, 0) == nil
}

// failed keeps why a picture was not made.
func (r *running) failed(in *Input, why error) error {
	if stuck(why) {
		return why
	}
	rec := &Record{File: in.Rel, SHA256: in.Size.SHA256, Name: in.Name, State: Failed, Reason: r.settings.Word(why)}
	return r.through(in, rec, false, 0)
}

// through counts a picture, and keeps its record when that is new.
func (r *running) through(in *Input, rec *Record, again bool, peak int64) error {
	if !again {
		if err := r.keep(rec); err != nil {
			return err
		}
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	t := &r.totals
	t.Through++
	switch rec.State {
	case Done:
		t.Done++
	case Held:
		t.Held++
	case Failed:
		t.Failed++
	}
	if again {
		t.Again++
		r.spared += in.weight()
	} else {
		t.Made++
		r.past += in.weight()
	}
	t.Peak = max(t.Peak, peak)
	if r.opt.Tell != nil {
		e := Event{Record: rec, Again: again, Through: t.Through, Of: t.All, Held: t.Held, Failed: t.Failed, Peak: peak}
		if r.past > 0 {
			e.Left = time.Duration(float64(time.Since(r.began)) * float64(r.weight-r.spared-r.past) / float64(r.past))
		}
		r.opt.Tell(e)
	}
	return nil
}

// finish writes the summary of a folder that is through and clears up.
func (r *running) finish(folder *Folder, s *Settings) error {
	const name = "summary"
	var c *claim
	for c == nil { // another process may be writing it just now
		var err error
		if c, err = r.claim(name + "."); err != nil {
			return err
		}
		if c == nil {
			time.Sleep(200 * time.Millisecond)
		}
	}
	defer c.end()
	sum := r.summarize(folder, s)
	if err := r.writeSummary(sum); err != nil {
		return err
	}
	if sum.Counts.Missing == 0 {
		r.forgetDate()
	}
	r.tidy()
	return nil
}
