package film

import (
	"bytes"
	"strings"
	"testing"
)

// TestExposureStrip holds that all steps are alike but for their number, and that the
// words give no times and defer to the emulsion's maker.
func TestExposureStrip(t *testing.T) {
	for _, steps := range []int{3, 8, 12} {
		p, err := ExposureStrip(300, steps, kelp, dotTint)
		if err != nil {
			t.Fatal(err)
		}
		m, l := all(p), p.layout
		// Line wedge, tints and box of each step, to within the pixel that places round
		// to: compare ink, not pixels.
		var first int
		for i := range steps {
			count := 0
			for y := round(l.y(11)); y < round(l.y(stepTall)); y++ {
				for x := round(l.x(float64(i)*stepMM + .7)); x < round(l.x(float64(i+1)*stepMM-.5)); x++ {
					if m.at(x, y) {
						count++
					}
				}
			}
			if i == 0 {
				first = count
			}
			if d := count - first; d < -first/50 || d > first/50 || count == 0 {
				t.Errorf("step %d carries %d pixels of ink, the first %d", i+1, count, first)
			}
		}
		// Nothing is cut at the edges.
		for y := range m.h {
			for x := range m.w {
				if m.at(x, y) && (x < 10 || y < 10 || x >= m.w-10 || y >= m.h-10) {
					t.Fatalf("%d steps: ink at %d, %d", steps, x, y)
				}
			}
		}
		var b bytes.Buffer
		if err := WritePDF(&b, []*Page{p}, Info{}); err != nil {
			t.Fatal(err)
		}
		name := valid(t, b.Bytes())
		if im := rendered(t, "pdftoppm", name, 1, 300); im != nil {
			if s := im.Bounds().Size(); s.X != m.w || s.Y != m.h {
				t.Errorf("drawn as %v, want %d x %d", s, m.w, m.h)
			}
		}
	}
	words := strings.Join(exposureWords[:], " ")
	if !strings.Contains(words, "data sheet") || !strings.Contains(words, "UV lamp") || strings.ContainsAny(words, "0123456789") {
		t.Errorf("the strip says %q", words)
	}
	for _, steps := range []int{-1, 2, 13} {
		if _, err := ExposureStrip(300, steps, kelp, nil); err == nil {
			t.Errorf("%d steps were taken", steps)
		}
	}
	if _, err := ExposureStrip(0, 8, kelp, nil); err == nil {
		t.Error("0 dpi was taken")
	}
}
