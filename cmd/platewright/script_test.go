package main

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"platewright": main})
}

// TestScripts runs the program as its users do, one script a behavior.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"draw":  draw,
			"exits": exits,
			"field": field,
			"cut":   cut,
			"bomb":  bomb,
			"size":  size,
			"list":  list,
			"alike": alike,
		},
	})
}

// exits CODE COMMAND… runs a command that must end with the given code.
func exits(ts *testscript.TestScript, _ bool, args []string) {
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	code := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		var exit *exec.ExitError
		if !errors.As(err, &exit) {
			ts.Fatalf("%v", err)
		}
		code = exit.ExitCode()
	}
	if code != want {
		ts.Fatalf("exit code %d, want %d", code, want)
	}
}

// draw KIND FILE WIDTH HEIGHT makes a small picture.
func draw(ts *testscript.TestScript, _ bool, args []string) {
	w, err := strconv.Atoi(args[2])
	ts.Check(err)
	h, err := strconv.Atoi(args[3])
	ts.Check(err)
	r := image.Rect(0, 0, w, h)
	var m image.Image
	switch args[0] {
	case "flat": // a disc and a bar in plain colors on white
		p := image.NewRGBA(r)
		for y := range h {
			for x := range w {
				c := color.RGBA{255, 255, 255, 255}
				if dx, dy := x-w/2, y-h/3; dx*dx+dy*dy < w*w/9 {
					c = color.RGBA{20, 70, 140, 255}
				}
				if y > h*2/3 && y < h*5/6 && x > w/8 {
					c = color.RGBA{220, 60, 50, 255}
				}
				p.SetRGBA(x, y, c)
			}
		}
		m = p
	case "touch": // two colors side by side
		p := image.NewRGBA(r)
		for y := range h {
			for x := range w {
				c := color.RGBA{232, 208, 96, 255}
				if x > w/2 {
					c = color.RGBA{20, 70, 140, 255}
				}
				p.SetRGBA(x, y, c)
			}
		}
		m = p
	case "soft": // every color another one
		p := image.NewRGBA(r)
		for y := range h {
			for x := range w {
				p.SetRGBA(x, y, color.RGBA{uint8(255 * x / w), uint8(255 * y / h), uint8(255 * (x + y) / (w + h)), 255})
			}
		}
		m = p
	case "clear": // half of it transparent
		p := image.NewNRGBA(r)
		for y := range h {
			for x := range w {
				c := color.NRGBA{20, 70, 140, 255}
				if x < w/2 {
					c = color.NRGBA{20, 70, 140, 0}
				}
				p.SetNRGBA(x, y, c)
			}
		}
		m = p
	case "nothing": // all of it transparent
		m = image.NewNRGBA(r)
	case "gray": // a ramp from black to white
		p := image.NewGray(r)
		for y := range h {
			for x := range w {
				p.SetGray(x, y, color.Gray{uint8(255 * x / max(1, w-1))})
			}
		}
		m = p
	case "black", "white":
		p := image.NewGray(r)
		if args[0] == "white" {
			for i := range p.Pix {
				p.Pix[i] = 255
			}
		}
		m = p
	default:
		ts.Fatalf("draw: no kind %q", args[0])
	}
	f, err := os.Create(ts.MkAbs(args[1]))
	ts.Check(err)
	defer f.Close()
	ts.Check(png.Encode(f, m))
}

// cut FILE BYTES keeps the beginning of a file.
func cut(ts *testscript.TestScript, _ bool, args []string) {
	n, err := strconv.ParseInt(args[1], 10, 64)
	ts.Check(err)
	ts.Check(os.Truncate(ts.MkAbs(args[0]), n))
}

// bomb FILE WIDTH HEIGHT writes a PNG that states a size and holds next to nothing.
func bomb(ts *testscript.TestScript, _ bool, args []string) {
	head := []byte("IHDR")
	for _, a := range args[1:3] {
		v, err := strconv.ParseUint(a, 10, 32)
		ts.Check(err)
		head = binary.BigEndian.AppendUint32(head, uint32(v))
	}
	out := []byte("\x89PNG\r\n\x1a\n")
	for _, chunk := range [][]byte{append(head, 8, 2, 0, 0, 0), []byte("IDAT\x78\x9c\x63\x00\x00"), []byte("IEND")} {
		out = binary.BigEndian.AppendUint32(out, uint32(len(chunk)-4))
		out = append(out, chunk...)
		out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(chunk))
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), out, 0o666))
}

// field FILE PATH VALUE wants a value in a JSON file: field r.json inks.0.name "deep kelp".
func field(ts *testscript.TestScript, neg bool, args []string) {
	var v any
	ts.Check(json.Unmarshal([]byte(ts.ReadFile(args[0])), &v))
	for _, key := range strings.Split(args[1], ".") {
		switch at := v.(type) {
		case map[string]any:
			next, ok := at[key]
			if !ok {
				ts.Fatalf("%s: no %q in %s", args[0], key, args[1])
			}
			v = next
		case []any:
			i, err := strconv.Atoi(key)
			ts.Check(err)
			if i >= len(at) {
				ts.Fatalf("%s: %s has %d entries", args[0], args[1], len(at))
			}
			v = at[i]
		default:
			ts.Fatalf("%s: nothing at %q of %s", args[0], key, args[1])
		}
	}
	if len(args) == 2 {
		return // it is there
	}
	if got := fmt.Sprint(v); (got == args[2]) == neg {
		ts.Fatalf("%s: %s is %s, want %s (not: %v)", args[0], args[1], got, args[2], neg)
	}
}

// size FILE WIDTH HEIGHT wants a PNG of that many pixels.
func size(ts *testscript.TestScript, _ bool, args []string) {
	f, err := os.Open(ts.MkAbs(args[0]))
	ts.Check(err)
	defer f.Close()
	c, err := png.DecodeConfig(f)
	ts.Check(err)
	if got := fmt.Sprintf("%d %d", c.Width, c.Height); got != args[1]+" "+args[2] {
		ts.Fatalf("%s is %s pixels, want %s %s", args[0], got, args[1], args[2])
	}
}

// list FOLDER NAMES… wants exactly these entries, hidden ones too.
func list(ts *testscript.TestScript, _ bool, args []string) {
	entries, err := os.ReadDir(ts.MkAbs(args[0]))
	ts.Check(err)
	var got []string
	for _, e := range entries {
		got = append(got, e.Name())
	}
	if strings.Join(got, " ") != strings.Join(args[1:], " ") {
		ts.Fatalf("%s holds %q, want %q", filepath.Base(args[0]), got, args[1:])
	}
}

// alike A B wants two reports that differ in their seconds alone.
func alike(ts *testscript.TestScript, _ bool, args []string) {
	var r [2]map[string]any
	for i := range r {
		ts.Check(json.Unmarshal([]byte(ts.ReadFile(args[i])), &r[i]))
		delete(r[i], "seconds")
	}
	if !reflect.DeepEqual(r[0], r[1]) {
		ts.Fatalf("%v\nand\n%v", r[0], r[1])
	}
}
