package chart

import (
	"errors"
	"image"
	"image/draw"
	"strings"
	"testing"
)

// Every picture that cannot be read is named for what it is, with the mend.
func TestFaults(t *testing.T) {
	s := uncoated(t)
	good := shot{sensor: scanners()[2], level: .8, noise: .004, blur: .5, dpi: 90, seed: 3, turn: 2}
	take := func(change func(*shot)) *image.RGBA {
		sh := good
		change(&sh)
		m, _ := sh.take(s.press, s.print, s.chart)
		return m
	}
	plain := take(func(*shot) {})
	// Upside down and on its side it is read as it is.
	for _, turn := range []float64{90, 178, 271} {
		m := take(func(sh *shot) { sh.turn = turn })
		if _, err := s.chart.Read([]*Picture{picture("turned", m, 90)}, nil); err != nil {
			t.Errorf("turned by %g: %v", turn, err)
		}
	}
	part := func(x0, y0, x1, y1 float64) *image.RGBA {
		w, h := float64(plain.Rect.Dx()), float64(plain.Rect.Dy())
		m := image.NewRGBA(image.Rect(0, 0, int(w*(x1-x0)), int(h*(y1-y0))))
		draw.Draw(m, m.Rect, plain, image.Pt(int(w*x0), int(h*y0)), draw.Src)
		return m
	}
	covered := image.NewRGBA(plain.Rect)
	draw.Draw(covered, covered.Rect, plain, image.Point{}, draw.Src)
	draw.Draw(covered, image.Rect(int(.82*float64(plain.Rect.Dx())), int(.82*float64(plain.Rect.Dy())), plain.Rect.Dx(), plain.Rect.Dy()), image.White, image.Point{}, draw.Src)
	empty := image.NewRGBA(plain.Rect)
	draw.Draw(empty, empty.Rect, image.White, image.Point{}, draw.Src)
	swapped := &scene{press: s.press, chart: s.chart, print: pull(s.chart, nil, []int{1, 0, 2, 3})}
	swap, _ := good.take(swapped.press, swapped.print, swapped.chart)
	lightSwap := &scene{press: s.press, chart: s.chart, print: pull(s.chart, nil, []int{0, 2, 1, 3})}
	light, _ := good.take(lightSwap.press, lightSwap.print, lightSwap.chart)
	for _, tt := range []struct {
		name string
		m    *image.RGBA
		kind Fault
		say  string
	}{
		{"mirrored", take(func(sh *shot) { sh.mirror = true }), Mirrored, "flip the picture, or print with the film right-reading"},
		{"dark", take(func(sh *shot) { sh.level = .03 }), Dark, "expose brighter"},
		{"out of focus", take(func(sh *shot) { sh.blur = 5 }), Blurred, "hold the camera still"},
		{"far out of focus", take(func(sh *shot) { sh.blur = 11 }), Blurred, "hold the camera still"},
		{"a corner covered", covered, CutOff, "a corner of the sheet is cut off"},
		{"half the sheet", part(0, 0, 1, .5), CutOff, "show the whole sheet"},
		{"the other side of the sheet", empty, NotFound, "printed side to the glass"},
		{"swapped inks", swap, Swapped, "print each film in its own ink"},
		{"swapped inks of which none is found by", light, Swapped, "the film of magenta is printed in what looks like yellow"},
		{"small", part(.4, .4, .5, .5), Small, "150 dpi or more"},
	} {
		_, err := s.chart.Read([]*Picture{picture(tt.name, tt.m, 90)}, nil)
		var e *ReadError
		if !errors.As(err, &e) || e.Kind != tt.kind || !strings.Contains(e.Text, tt.say) {
			t.Errorf("%s: %v, want %s: … %s", tt.name, err, tt.kind, tt.say)
		}
	}
	for say, other := range map[string]*Chart{
		"this is chart " + s.chart.Code + " and chart.toml is of chart": layOut(t, 3, 210, 297),
		"not the code of this chart":                                    layOut(t, 3, 297, 420),
	} {
		_, err := other.Read([]*Picture{picture("other", plain, 90)}, nil)
		var e *ReadError
		if !errors.As(err, &e) || e.Kind != Wrong || !strings.Contains(e.Text, say) || !strings.Contains(e.Text, "take the chart.toml made with these films") {
			t.Errorf("another chart: %v, want %q", err, say)
		}
	}
}
