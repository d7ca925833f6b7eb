// Command draw makes the example poster: a flat drawing in the eight colors
// that three inks and the paper give, and with -soft a second one whose sky
// and water run softly from light to dark.
//
//	go run ./examples/poster/draw -o examples/poster/poster.png
package main

import (
	"bytes"
	"encoding/binary"
	"flag"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
)

func main() {
	out := flag.String("o", "poster.png", "file to write")
	ppi := flag.Float64("ppi", 300, "resolution")
	soft := flag.Bool("soft", false, "let sky and water run softly from light to dark")
	flag.Parse()
	c := newCanvas(297, 420, *ppi)
	poster(c)
	var shade func(uint8, float64, float64, [3]float64) [3]float64
	if *soft {
		shade = evening
	}
	if err := write(*out, c.picture(colors(), shade), *ppi); err != nil {
		fmt.Fprintln(os.Stderr, "draw:", err)
		os.Exit(1)
	}
}

// colors are typed by eye, near to what the inks of shelf.toml give.
func colors() [8]color.RGBA {
	return [8]color.RGBA{
		0:             {0xf6, 0xf1, 0xe5, 255},
		amber:         {0xf8, 0xc1, 0x3c, 255},
		coral:         {0xef, 0x6c, 0x7c, 255},
		blue:          {0x25, 0x77, 0xa6, 255},
		amber | coral: {0xe5, 0x64, 0x2e, 255},
		amber | blue:  {0x3f, 0x6b, 0x4a, 255},
		night:         {0x4f, 0x43, 0x6b, 255},
		dark:          {0x4f, 0x3f, 0x36, 255},
	}
}

// evening lightens the night sky toward the horizon and darkens the water
// with depth.
func evening(inks uint8, x, y float64, c [3]float64) [3]float64 {
	t := 0.0
	to := [3]float64{0xef, 0x6c, 0x7c}
	switch {
	case inks == night && y < seaLevel:
		t = .75 * math.Pow(math.Max(0, y-90)/(seaLevel-90), 1.6)
	case inks == blue && y >= seaLevel && y < frameB:
		to = [3]float64{0x4f, 0x43, 0x6b}
		t = math.Min(1, (y-seaLevel)/90) * .7
	}
	for i := range c {
		c[i] += t * (to[i] - c[i])
	}
	return c
}

// write encodes m as a PNG that states its resolution (pHYs, in metres).
func write(name string, m image.Image, ppi float64) error {
	var buf bytes.Buffer
	enc := png.Encoder{CompressionLevel: png.BestCompression}
	if err := enc.Encode(&buf, m); err != nil {
		return err
	}
	const head = 8 + 25 // signature and IHDR
	chunk := make([]byte, 4, 21)
	binary.BigEndian.PutUint32(chunk, 9)
	chunk = append(chunk, "pHYs"...)
	per := uint32(math.Round(ppi / .0254))
	chunk = binary.BigEndian.AppendUint32(chunk, per)
	chunk = binary.BigEndian.AppendUint32(chunk, per)
	chunk = append(chunk, 1)
	chunk = binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(chunk[4:]))
	file := append(append(append([]byte{}, buf.Bytes()[:head]...), chunk...), buf.Bytes()[head:]...)
	return os.WriteFile(name, file, 0o644)
}
