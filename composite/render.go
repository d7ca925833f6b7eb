package composite

import (
	"fmt"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"platewright/composite/spectrum"
)

// A Renderer turns rows of plates into rows of the predicted print. It has
// workspace of its own; make one for each goroutine.
type Renderer struct {
	e     *Evaluator
	cov   []float64
	key   []uint16 // the coverages of the last color
	last8 [3]uint8
	lastL [3]float64 // linear light of the last color
	code  *[65536]uint8
}

// NewRenderer returns a Renderer for m.
func (m *Model) NewRenderer() *Renderer {
	return &Renderer{e: m.NewEvaluator(), cov: make([]float64, m.k), key: make([]uint16, m.k), code: encodeTable()}
}

// encodeTable gives the 8-bit sRGB code of linear light in steps of 1/65535,
// the steepest of which is a twentieth of a code.
var encodeTable = sync.OnceValue(func() *[65536]uint8 {
	t := new([65536]uint8)
	for i := range t {
		t[i] = uint8(math.Round(spectrum.Encode(float64(i)/65535) * 255))
	}
	return t
})

// color sets the linear light of the coverages at x and reports whether they
// differ from the last ones.
func (r *Renderer) color(plates [][]uint16, x int) bool {
	same := true
	for i, p := range plates {
		if r.key[i] != p[x] {
			same = false
			break
		}
	}
	if same {
		return false
	}
	for i, p := range plates {
		r.key[i] = p[x]
		r.cov[i] = float64(p[x]) * (1.0 / 65535)
	}
	r.lastL = r.e.XYZ(r.cov).Linear()
	return true
}

// reset forgets the last color, so that a row does not depend on another.
func (r *Renderer) reset(plates [][]uint16) {
	for i := range r.key {
		r.key[i] = ^plates[i][0]
	}
}

// Row8 writes the print of one row of plates, coverage 0 … 65535 in print
// order, as sRGB, three bytes a pixel. Colors outside sRGB are cut.
func (r *Renderer) Row8(plates [][]uint16, dst []uint8) {
	r.reset(plates)
	for x := range plates[0] {
		if r.color(plates, x) {
			for c, v := range r.lastL {
				r.last8[c] = r.code[int(math.Max(0, math.Min(1, v))*65535+.5)]
			}
		}
		d := dst[3*x : 3*x+3]
		d[0], d[1], d[2] = r.last8[0], r.last8[1], r.last8[2]
	}
}

// Row16 is Row8 with 16 bits a channel.
func (r *Renderer) Row16(plates [][]uint16, dst []uint16) {
	r.reset(plates)
	var last [3]uint16
	for x := range plates[0] {
		if r.color(plates, x) {
			for c, v := range r.lastL {
				last[c] = uint16(math.Max(0, math.Min(1, spectrum.Encode(v)))*65535 + .5)
			}
		}
		copy(dst[3*x:3*x+3], last[:])
	}
}

// A Print is a rendered proof: sRGB, three values a pixel, row-major. One of
// Pix and Pix16 is set.
type Print struct {
	Width, Height int
	Pix           []uint8
	Pix16         []uint16
}

// Render predicts the print of whole plates of width × height pixels, one per
// ink in print order, coverage 0 … 65535. bits is 8 or 16. Rows are shared
// among workers, one a core for 0; the result does not depend on them.
func (m *Model) Render(plates [][]uint16, width, height, bits, workers int) (*Print, error) {
	if len(plates) != m.k {
		return nil, fmt.Errorf("composite: %d plates for %d inks", len(plates), m.k)
	}
	for i, p := range plates {
		if len(p) != width*height {
			return nil, fmt.Errorf("composite: plate %d has %d pixels, not %d × %d", i+1, len(p), width, height)
		}
	}
	out := &Print{Width: width, Height: height}
	switch bits {
	case 8:
		out.Pix = make([]uint8, 3*width*height)
	case 16:
		out.Pix16 = make([]uint16, 3*width*height)
	default:
		return nil, fmt.Errorf("composite: a proof of %d bits: give 8 or 16", bits)
	}
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			r := m.NewRenderer()
			rows := make([][]uint16, m.k)
			for {
				y := int(next.Add(1)) - 1
				if y >= height {
					return
				}
				for i, p := range plates {
					rows[i] = p[y*width : (y+1)*width]
				}
				if bits == 8 {
					r.Row8(rows, out.Pix[3*y*width:])
				} else {
					r.Row16(rows, out.Pix16[3*y*width:])
				}
			}
		})
	}
	wg.Wait()
	return out, nil
}
