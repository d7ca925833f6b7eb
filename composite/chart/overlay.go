package chart

import (
	"image"
	"image/color"
	"math"

	"platewright/composite/spectrum"
)

// Overlay draws what was read where in the n-th picture: the picture, around each
// part that was read a frame, and in its middle the color it was read as.
func (r *Reading) Overlay(n int) image.Image {
	g := r.pages[n]
	by := (max(g.w, g.h) + 1599) / 1600
	w, h := g.w/by, g.h/by
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	code := func(v float64) uint8 {
		return uint8(math.Round(255 * spectrum.Encode(math.Max(0, math.Min(1, v)))))
	}
	for y := range h {
		for x := range w {
			var v [3]float64
			for c := range v {
				for j := range by {
					for i := range by {
						v[c] += float64(g.ch[c][(y*by+j)*g.w+x*by+i])
					}
				}
				v[c] /= float64(by * by)
			}
			m.SetRGBA(x, y, color.RGBA{code(v[0]), code(v[1]), code(v[2]), 255})
		}
	}
	line := func(a, b point, c color.RGBA) {
		d := math.Max(1, a.distance(b))
		for t := 0.0; t <= d; t += .5 {
			m.SetRGBA(int((a.x+(b.x-a.x)*t/d)/float64(by)), int((a.y+(b.y-a.y)*t/d)/float64(by)), c)
		}
	}
	for i, box := range g.boxes {
		frame := color.RGBA{0, 0, 0, 255}
		if r.Samples[i].Color[1] < 20 {
			frame = color.RGBA{255, 255, 255, 255}
		}
		for k := range 4 {
			line(box[k], box[(k+1)%4], frame)
		}
		rgb := r.Samples[i].Color.RGB().Clamp()
		c := color.RGBA{uint8(rgb[0]*255 + .5), uint8(rgb[1]*255 + .5), uint8(rgb[2]*255 + .5), 255}
		mid := point{(box[0].x + box[2].x) / 2, (box[0].y + box[2].y) / 2}
		half := box[0].distance(box[1]) / 5
		for t := -half; t <= half; t++ {
			line(point{mid.x - half, mid.y + t}, point{mid.x + half, mid.y + t}, c)
		}
	}
	return m
}
