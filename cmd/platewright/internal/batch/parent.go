package batch

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"time"

	"platewright/cmd/platewright/internal/job"
	"platewright/separate/artwork"
)

// ChildCommand is the command of the program that calls Serve.
const ChildCommand = "batch-one"

// child is the process that works on one picture.
type child struct {
	program string // path of this program
	limits  artwork.Limits
	longest time.Duration // that one picture may take
}

// grace is how long a child that is told to end may clear up.
const grace = 20 * time.Second

// run has a picture worked on. The error is of the run, not of the picture:
// what is wrong with that is in the outcome. peak is the most memory it took,
// 0 where the system does not say.
func (c *child) run(ctx context.Context, s *Settings, w *work, out string, need int64) (o *outcome, peak int64, err error) {
	line, err := json.Marshal(order{Art: []byte(w.Path), Job: w.job.Format(), From: w.stock.From, Copy: w.stock.Copy, Out: []byte(out),
		Program: s.Program, Hold: s.Hold, Limits: c.limits})
	if err != nil {
		return nil, 0, err
	}
	cmd := exec.Command(c.program, ChildCommand)
	cmd.Args[0] = "platewright"
	cmd.Env = append(os.Environ(), "GOMEMLIMIT="+strconv.FormatInt(need-needOutside, 10), "GOTRACEBACK=single")
	var answer bytes.Buffer
	words := &tail{}
	cmd.Stdout, cmd.Stderr = &answer, words
	in, err := cmd.StdinPipe()
	if err != nil {
		return nil, 0, err
	}
	defer in.Close()
	if err := cmd.Start(); err != nil {
		return nil, 0, err
	}
	// A child that has died already takes no order; that shows below.
	_, _ = in.Write(append(line, '\n'))
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	late := time.NewTimer(c.longest)
	defer late.Stop()
	tooLong := false
	select {
	case err = <-ended:
	case <-ctx.Done():
		err = c.stop(cmd, in.Close, ended)
	case <-late.C:
		tooLong = true
		err = c.stop(cmd, in.Close, ended)
	}
	peak = peakMemory(cmd.ProcessState)
	if e := ctx.Err(); e != nil {
		return nil, peak, e
	}
	if tooLong {
		return &outcome{Error: fmt.Sprintf("%s: took longer than %v: raise --max-minutes, or reduce the picture", w.Rel, c.longest)}, peak, nil
	}
	o = &outcome{}
	if err != nil || json.Unmarshal(answer.Bytes(), o) != nil {
		why := words.cause()
		if why == "" && err != nil {
			why = err.Error()
		}
		var exit *exec.ExitError
		if errors.As(err, &exit) && exit.ExitCode() < 0 && why == "" {
			why = "it was ended from outside"
		}
		return &outcome{Error: fmt.Sprintf("%s: the work on it broke off (%s): export it again, or reduce it", w.Rel, why)}, peak, nil
	}
	return o, peak, nil
}

// stop tells a child to end, and makes it.
func (c *child) stop(cmd *exec.Cmd, tell func() error, ended <-chan error) error {
	_ = tell()
	t := time.NewTimer(grace)
	defer t.Stop()
	select {
	case err := <-ended:
		return err
	case <-t.C:
		_ = cmd.Process.Kill()
		return <-ended
	}
}

// tail keeps the first words that a child says as it breaks, and no more.
type tail struct{ b []byte }

func (t *tail) Write(p []byte) (int, error) {
	if room := 4096 - len(t.b); room > 0 {
		t.b = append(t.b, p[:min(room, len(p))]...)
	}
	return len(p), nil
}

func (t *tail) cause() string {
	line, _, _ := strings.Cut(strings.TrimSpace(string(t.b)), "\n")
	return strings.TrimPrefix(strings.TrimPrefix(line, "fatal error: "), "panic: ")
}

// changed reports whether a picture is not what it was when it was measured.
func (w *work) changed(lim artwork.Limits) bool {
	info, err := os.Stat(w.Path)
	if err != nil {
		return true
	}
	s, _ := measure(w.Path, info.Size(), lim)
	return s.SHA256 != w.Size.SHA256
}

// record is what is remembered of an outcome.
func (w *work) record(o *outcome) *Record {
	r := &Record{Key: w.key, File: w.Rel, SHA256: w.Size.SHA256, Name: w.Name, State: Done, Reason: o.Error, Report: o.Report, Thumb: o.Thumb}
	switch {
	case o.Error != "":
		r.State = Failed
	case o.Report.Held:
		r.State = Held
	}
	if r.Report != nil {
		report := *r.Report
		report.Seconds = job.Seconds{}
		r.Report = &report
	}
	return r
}
