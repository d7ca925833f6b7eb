// Command picture composes the pictures of the README from a finished job
// folder: artwork, plates and proof in one, or the films near by.
//
//	go run ./examples/picture -job night-ferry-plates -art examples/poster/poster.png -o overview.png
//	go run ./examples/picture -job hills-plates -films 60,120,30,40 -o films.png
//	go run ./examples/picture -sets ferry,landfall -art examples/poster/poster.png -o sets.png
//
// The films must be PNG (--films png); the place is x,y,width,height in mm on
// the artwork.
package main

import (
	"encoding/json"
	"flag"
	"fmt"
	"image"
	"image/color"
	_ "image/jpeg"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"golang.org/x/image/draw"
	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// report is what the pictures need of a job's report.json.
type report struct {
	Print struct {
		FilmDPI  float64 `json:"film_dpi"`
		OriginPx [2]int  `json:"origin_px"`
	} `json:"print"`
	Inks []struct {
		Name, Plate, Film, Color, Dot string
		Order                         int
		RulingLPI                     float64 `json:"ruling_lpi"`
		AngleDeg                      float64 `json:"angle_deg"`
	} `json:"inks"`
}

const (
	gap      = 26
	caption  = 40
	artPlace = 900 // height of artwork and proof
)

func main() {
	folder := flag.String("job", "", "job folder")
	art := flag.String("art", "", "the artwork")
	films := flag.String("films", "", "show this place of the films at 400 %: x,y,width,height in mm")
	sets := flag.String("sets", "", "show the artwork and the proofs of these job folders, with commas between")
	out := flag.String("o", "picture.png", "file to write")
	flag.Parse()
	var err error
	if *sets != "" {
		err = compare(strings.Split(*sets, ","), *art, *out)
	} else {
		err = run(*folder, *art, *films, *out)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "picture:", err)
		os.Exit(1)
	}
}

func run(folder, art, films, out string) error {
	r, err := readReport(folder)
	if err != nil {
		return err
	}
	var m image.Image
	if films != "" {
		m, err = detail(folder, r, films)
	} else {
		m, err = overview(folder, r, art)
	}
	if err != nil {
		return err
	}
	return write(m, out)
}

func readReport(folder string) (*report, error) {
	data, err := os.ReadFile(filepath.Join(folder, "report.json"))
	if err != nil {
		return nil, err
	}
	r := new(report)
	return r, json.Unmarshal(data, r)
}

// compare sets the artwork beside the proofs of several sets of inks, with the
// inks under each.
func compare(folders []string, art, out string) error {
	a, err := read(art)
	if err != nil {
		return err
	}
	const high = 640
	w := high * a.Bounds().Dx() / a.Bounds().Dy()
	m := blank(gap+(len(folders)+1)*(w+gap), gap+high+3*caption+30)
	t, err := newType()
	if err != nil {
		return err
	}
	draw.CatmullRom.Scale(m, image.Rect(gap, gap, gap+w, gap+high), a, a.Bounds(), draw.Src, nil)
	t.write(m, gap, gap+high+27, "artwork")
	for i, folder := range folders {
		r, err := readReport(folder)
		if err != nil {
			return err
		}
		p, err := read(filepath.Join(folder, "proof.png"))
		if err != nil {
			return err
		}
		x := gap + (i+1)*(w+gap)
		draw.CatmullRom.Scale(m, image.Rect(x, gap, x+w, gap+high), p, p.Bounds(), draw.Src, nil)
		for n, ink := range r.Inks {
			y := gap + high + 10 + n*caption
			var red, green, blue uint8
			if _, err := fmt.Sscanf(ink.Color, "#%02x%02x%02x", &red, &green, &blue); err != nil {
				return err
			}
			draw.Draw(m, image.Rect(x, y, x+26, y+26), image.NewUniform(color.RGBA{red, green, blue, 255}), image.Point{}, draw.Src)
			t.write(m, x+36, y+21, fmt.Sprintf("%d  %s", ink.Order, ink.Name))
		}
	}
	return write(m, out)
}

func write(m image.Image, out string) error {
	f, err := os.Create(out)
	if err != nil {
		return err
	}
	enc := png.Encoder{CompressionLevel: png.BestCompression}
	if err := enc.Encode(f, m); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

// overview sets the artwork left, the proof right and between them the plates,
// each in its ink's color.
func overview(folder string, r *report, art string) (image.Image, error) {
	a, err := read(art)
	if err != nil {
		return nil, err
	}
	p, err := read(filepath.Join(folder, "proof.png"))
	if err != nil {
		return nil, err
	}
	k := len(r.Inks)
	w := artPlace * a.Bounds().Dx() / a.Bounds().Dy()
	ph := (artPlace - (k-1)*(caption+8)) / k
	pw := ph * a.Bounds().Dx() / a.Bounds().Dy()
	m := blank(4*gap+2*w+pw, gap+artPlace+caption+8)
	t, err := newType()
	if err != nil {
		return nil, err
	}
	put := func(src image.Image, x, y, w, h int, label string) {
		draw.CatmullRom.Scale(m, image.Rect(x, y, x+w, y+h), src, src.Bounds(), draw.Src, nil)
		t.write(m, x, y+h+27, label)
	}
	put(a, gap, gap, w, artPlace, "artwork")
	put(p, 3*gap+w+pw, gap, w, artPlace, "proof: what these inks will print")
	for i, ink := range r.Inks {
		plate, err := read(filepath.Join(folder, filepath.FromSlash(ink.Plate)))
		if err != nil {
			return nil, err
		}
		small := image.NewGray(image.Rect(0, 0, pw, ph))
		draw.CatmullRom.Scale(small, small.Rect, plate, plate.Bounds(), draw.Src, nil)
		put(inked(small, ink.Color), 2*gap+w, gap+i*(ph+caption+8), pw, ph, fmt.Sprintf("%d  %s", ink.Order, ink.Name))
	}
	return m, nil
}

// inked shows a plate in its ink's color on white.
func inked(plate *image.Gray, hex string) image.Image {
	v, _ := strconv.ParseUint(hex[1:], 16, 32)
	ink := [3]uint64{v >> 16, v >> 8 & 255, v & 255}
	m := image.NewRGBA(plate.Rect)
	for i, g := range plate.Pix {
		for c := range 3 {
			m.Pix[4*i+c] = uint8((uint64(g)*255 + (255-uint64(g))*ink[c]) / 255)
		}
		m.Pix[4*i+3] = 255
	}
	return m
}

// detail shows one place of all films at 400 % of a display of 100 ppi.
func detail(folder string, r *report, place string) (image.Image, error) {
	var x, y, w, h float64
	if n, _ := fmt.Sscanf(place, "%f,%f,%f,%f", &x, &y, &w, &h); n != 4 {
		return nil, fmt.Errorf("place %q: give x,y,width,height in mm", place)
	}
	px := func(mm float64) int { return int(math.Round(mm / 25.4 * r.Print.FilmDPI)) }
	cut := image.Rect(px(x), px(y), px(x+w), px(y+h)).Add(image.Pt(r.Print.OriginPx[0], r.Print.OriginPx[1]))
	sw, sh := int(w/25.4*400), int(h/25.4*400)
	m := blank(gap+len(r.Inks)*(sw+gap), gap+sh+caption+8)
	t, err := newType()
	if err != nil {
		return nil, err
	}
	for i, ink := range r.Inks {
		f, err := read(filepath.Join(folder, filepath.FromSlash(ink.Film)))
		if err != nil {
			return nil, err
		}
		left := gap + i*(sw+gap)
		draw.CatmullRom.Scale(m, image.Rect(left, gap, left+sw, gap+sh), f, cut, draw.Src, nil)
		label := ink.Name
		if ink.RulingLPI > 0 {
			label = fmt.Sprintf("%s, %.0f lpi at %.1f°", ink.Name, ink.RulingLPI, ink.AngleDeg)
		}
		t.write(m, left, gap+sh+27, label)
	}
	return m, nil
}

func blank(w, h int) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(m, m.Rect, image.NewUniform(color.Gray{0xed}), image.Point{}, draw.Src)
	return m
}

func read(name string) (image.Image, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	m, _, err := image.Decode(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return m, nil
}

type typeface struct{ face font.Face }

func newType() (*typeface, error) {
	f, err := opentype.Parse(goregular.TTF)
	if err != nil {
		return nil, err
	}
	face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: 19, DPI: 72})
	return &typeface{face}, err
}

func (t *typeface) write(m draw.Image, x, y int, s string) {
	d := font.Drawer{Dst: m, Src: image.NewUniform(color.Gray{0x22}), Face: t.face, Dot: fixed.P(x, y)}
	d.DrawString(s)
}
