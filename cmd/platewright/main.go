// Platewright splits a picture into one plate per ink for printing by hand,
// predicts the print and writes the film positives.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"golang.org/x/term"
)

func main() { os.Exit(start(os.Args[1:])) }

// start runs one command line and returns the exit code. An interrupt ends it
// in good order, and a second one does not cut that short.
func start(args []string) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	p := &program{in: os.Stdin, out: os.Stdout, err: os.Stderr, terminal: term.IsTerminal(int(os.Stderr.Fd()))}
	return p.run(ctx, args)
}
