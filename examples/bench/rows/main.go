//go:build linux

// Command rows prints how many megapixels a second a picture separates, on one
// thread, once the inks' field is solved; how long that took stands behind.
//
//	rows picture.ppm repeats any|none "ink,ink,…"
package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"runtime"
	"strconv"
	"strings"
	"syscall"

	"platewright/composite"
	"platewright/composite/ink"
	"platewright/separate"
	"platewright/separate/artwork"
)

func main() {
	runtime.GOMAXPROCS(1)
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "rows:", err)
		os.Exit(1)
	}
}

func run(args []string) error {
	if len(args) != 4 {
		return fmt.Errorf("give a PPM, how many times to separate it, its tints and the inks")
	}
	p, err := readPPM(args[0])
	if err != nil {
		return err
	}
	repeats, err := strconv.Atoi(args[1])
	if err != nil {
		return err
	}
	opt := separate.Options{ByRows: true, Workers: 1, Tints: separate.TintsAny}
	if args[2] == "none" {
		opt.Tints = separate.TintsNone
	}
	shelf := ink.BuiltIn()
	paper, err := shelf.Paper("")
	if err != nil {
		return err
	}
	var inks []*ink.Ink
	for _, name := range strings.Split(args[3], ",") {
		i, err := shelf.Ink(name)
		if err != nil {
			return err
		}
		inks = append(inks, i)
	}
	m, err := composite.New(shelf, paper, composite.AsMeasured(inks...))
	if err != nil {
		return err
	}
	start := worked()
	res, err := separate.Separate(context.Background(), p, m, opt)
	if err != nil {
		return err
	}
	solved := worked() - start
	planes := make([][]uint16, res.Inks())
	for i := range planes {
		planes[i] = make([]uint16, p.Width)
	}
	start = worked()
	for range repeats {
		for y := range p.Height {
			res.Row(planes, y)
		}
	}
	fmt.Printf("%.2f %.2f\n", float64(p.Width*p.Height*repeats)/(worked()-start)/1e6, solved)
	return nil
}

// worked is the processor's time that this process took, in seconds: other
// programs on the machine do not count.
func worked() float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return float64(u.Utime.Sec+u.Stime.Sec) + float64(u.Utime.Usec+u.Stime.Usec)/1e6
}

func readPPM(name string) (*artwork.Picture, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	r := bufio.NewReader(f)
	p := new(artwork.Picture)
	var most int
	if _, err := fmt.Fscanf(r, "P6\n%d %d\n%d\n", &p.Width, &p.Height, &most); err != nil || most != 255 {
		return nil, fmt.Errorf("%s is not a PPM of 8 bits", name)
	}
	p.Pix = make([]uint8, 3*p.Width*p.Height)
	_, err = io.ReadFull(r, p.Pix)
	return p, err
}
