// Command photo makes a picture with the traits of a photograph, for trying
// tints and measuring speed: soft slopes, haze, grain and some hundred
// thousand colors, and no right to anyone's picture. A3 at 300 ppi:
//
//	go run ./examples/photo -o hills.jpg
package main

import (
	"flag"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
)

func main() {
	out := flag.String("o", "hills.jpg", "file to write, a JPEG")
	w := flag.Int("width", 3508, "pixels across")
	h := flag.Int("height", 4961, "pixels down")
	flag.Parse()
	if err := write(*out, hills(*w, *h)); err != nil {
		fmt.Fprintln(os.Stderr, "photo:", err)
		os.Exit(1)
	}
}

func write(name string, m image.Image) error {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	if err := jpeg.Encode(f, m, &jpeg.Options{Quality: 93}); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

type rgb [3]float64

func (a rgb) mix(b rgb, t float64) rgb {
	t = math.Max(0, math.Min(1, t))
	for i := range a {
		a[i] += t * (b[i] - a[i])
	}
	return a
}

// hills paints ridges behind ridges under a low sun, the far ones in haze.
func hills(w, h int) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	rnd := rand.New(rand.NewPCG(11, 4))
	const ridges = 7
	line := make([][]float64, ridges)
	for i := range line {
		line[i] = ridge(rnd, w, .36+.095*float64(i), .035+.012*float64(i), h)
	}
	high, low := rgb{58, 92, 148}, rgb{247, 176, 112}
	haze, near := rgb{236, 158, 118}, rgb{24, 38, 34}
	grain := rand.New(rand.NewPCG(2, 8))
	for y := range h {
		v := float64(y) / float64(h)
		for x := range w {
			u := float64(x) / float64(w)
			sun := math.Hypot(u-.64, (v-.33)*float64(h)/float64(w))
			c := high.mix(low, math.Pow(v/.46, 1.5))
			c = c.mix(rgb{255, 236, 190}, .85*math.Exp(-sun*sun*30)).mix(rgb{255, 250, 235}, 60*(.062-sun))
			for i := range line {
				if float64(y) < line[i][x] {
					continue
				}
				depth := float64(i+1) / ridges
				down := (float64(y) - line[i][x]) / float64(h)
				c = haze.mix(near, depth*depth).mix(rgb{70, 104, 62}, .5*depth*math.Exp(-down*14))
				c = c.mix(haze, .75*(1-depth)*math.Min(1, down*9)).mix(rgb{255, 214, 150}, .25*(1-depth)*math.Exp(-sun*3))
			}
			n := 5 * (grain.Float64() + grain.Float64() + grain.Float64() - 1.5)
			o := m.PixOffset(x, y)
			for k := range 3 {
				m.Pix[o+k] = uint8(math.Max(0, math.Min(255, c[k]+n)))
			}
			m.Pix[o+3] = 255
		}
	}
	return m
}

// ridge is a line of summed waves, finer ones smaller.
func ridge(rnd *rand.Rand, w int, level, height float64, h int) []float64 {
	out := make([]float64, w)
	for x := range out {
		out[x] = level * float64(h)
	}
	for oct := 1.0; oct < 180; oct *= 1.8 {
		phase, amp := rnd.Float64()*7, height*float64(h)/math.Pow(oct, .95)
		for x := range out {
			out[x] += amp * math.Sin(phase+oct*5*float64(x)/float64(w)+math.Sin(oct*2.3*float64(x)/float64(w)))
		}
	}
	return out
}
