package main

import (
	"bytes"
	"context"
	"os"
	"strings"
	"testing"

	"github.com/spf13/pflag"

	"platewright/cmd/platewright/internal/job"
)

// TestInterrupted wants 130 and an empty folder from a run that is told to stop
// before it begins.
func TestInterrupted(t *testing.T) {
	t.Chdir(t.TempDir())
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	var words bytes.Buffer
	p := &program{in: strings.NewReader(""), out: &words, err: &words}
	if code := p.run(ctx, []string{"separate", "poster.png"}); code != exitInterrupted {
		t.Errorf("exit code %d, want %d: %s", code, exitInterrupted, &words)
	}
	if entries, err := os.ReadDir("."); err != nil || len(entries) > 0 {
		t.Errorf("%v %v were left", entries, err)
	}
}

// TestFlagsAreSettings wants a setting of the same name behind every flag that
// decides a result, so that a job file can hold what the command line can, and
// the same flags of batch.
func TestFlagsAreSettings(t *testing.T) {
	program := &program{in: strings.NewReader(""), out: &bytes.Buffer{}, err: &bytes.Buffer{}}
	text := string(job.New().Format())
	other := []string{"out", "force", "json", "job", "exact", "quick", "max-pixels", "max-memory", "help"}
	n := 0
	folder := newBatch(program).Flags()
	newSeparate(program).Flags().VisitAll(func(f *pflag.Flag) {
		for _, name := range other {
			if f.Name == name {
				return
			}
		}
		n++
		if folder.Lookup(f.Name) == nil {
			t.Errorf("batch has no --%s", f.Name)
		}
		if !strings.Contains(text, "\n"+f.Name+" = ") {
			t.Errorf("--%s is not in a job file", f.Name)
		}
	})
	if n < 20 {
		t.Errorf("only %d flags were looked at", n)
	}
}

// TestCommandsAreMade catches a flag that two groups add, which pflag
// answers with a panic.
func TestCommandsAreMade(t *testing.T) {
	var out bytes.Buffer
	p := &program{in: strings.NewReader(""), out: &out, err: &out}
	for _, cmd := range p.root().Commands() {
		out.Reset()
		if code := p.run(context.Background(), []string{cmd.Name(), "--help"}); code != exitDone {
			t.Errorf("%s --help ends with %d: %s", cmd.Name(), code, &out)
		}
		if !strings.Contains(out.String(), "platewright "+cmd.Name()) {
			t.Errorf("%s --help does not say how to call it: %s", cmd.Name(), &out)
		}
	}
}
