package batch

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image/jpeg"
	"io"
	"os"
	"path/filepath"
	"syscall"

	"platewright/cmd/platewright/internal/job"
	"platewright/separate/artwork"
)

// order is what a child process is asked to do, one line of JSON.
type order struct {
	Art     []byte // a path, of any bytes
	Job     []byte // TOML
	From    string // the shelf
	Copy    string
	Out     []byte
	Program string
	Hold    string
	Limits  artwork.Limits
}

// outcome is its answer.
type outcome struct {
	Report *job.Report
	Thumb  []byte
	Error  string
	Stuck  bool // what is wrong is the place of the results: the next picture would fail too
}

const (
	thumbSide    = 260 // pixels
	thumbQuality = 82
)

// Serve is the child's end: it reads an order, carries it out and writes the
// answer. When the input ends before, the parent is gone, and so is the work.
// word puts an error into a line for people.
func Serve(ctx context.Context, in io.Reader, out io.Writer, word func(error) string) error {
	r := bufio.NewReader(in)
	line, err := r.ReadBytes('\n')
	if err != nil {
		return fmt.Errorf("this command is for platewright batch: take that")
	}
	var o order
	if err := json.Unmarshal(line, &o); err != nil {
		return err
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	go func() {
		_, _ = io.Copy(io.Discard, r)
		stop()
	}()
	answer := outcome{}
	if answer.Report, answer.Thumb, err = o.do(ctx); err != nil {
		answer.Error, answer.Stuck = word(err), stuck(err)
	}
	return json.NewEncoder(out).Encode(answer)
}

// stuck reports a disk that is full or may not be written.
func stuck(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) || errors.Is(err, syscall.EROFS)
}

func (o *order) do(ctx context.Context) (*job.Report, []byte, error) {
	j, err := job.Parse(o.Job, "job")
	if err != nil {
		return nil, nil, err
	}
	j.Art, j.ShelfCopy, j.Shelf = string(o.Art), o.Copy, o.From
	stock, err := j.OpenStock()
	if err != nil {
		return nil, nil, err
	}
	report, folder, err := job.Run(ctx, j, job.Options{Program: o.Program, Out: string(o.Out), Stock: stock, Limits: o.Limits, Hold: o.Hold})
	if err != nil {
		return nil, nil, err
	}
	thumb, err := thumbnail(filepath.Join(folder, "proof.png"))
	return report, thumb, err
}

// thumbnail is a proof made small, nil where there is none.
func thumbnail(path string) ([]byte, error) {
	if _, err := os.Stat(path); err != nil {
		return nil, nil
	}
	p, err := artwork.Open(path, artwork.Limits{MaxPixels: 1 << 40, MaxBytes: 1 << 50}) // our own
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	err = jpeg.Encode(&b, p.Preview(thumbSide), &jpeg.Options{Quality: thumbQuality})
	return b.Bytes(), err
}
