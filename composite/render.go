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
	m     *Model
	n     float64
	curve *[rootSteps + 1]float64 // x^n; nil where power knows a shorter way
	vert  [][3]float64            // the overprint colors' roots, a color of 1 being the white
	fold  [][3]float64
	key   [MaxInks]uint16 // the coverages of the last color
	e     *Evaluator      // of a bent model
	cov   []float64
	code  *codes
}

// rootSteps is the number of intervals of a table of x^n. The widest of straight
// lines between them is off by 2e-8.
const rootSteps = 4096

// NewRenderer returns a Renderer for m.
func (m *Model) NewRenderer() *Renderer {
	r := &Renderer{m: m, n: m.n, code: encodeTables()}
	if m.radix != nil {
		r.e, r.cov = m.NewEvaluator(), make([]float64, m.k)
		return r
	}
	scale := math.Pow(100, -1/m.n)
	r.vert = make([][3]float64, len(m.prim))
	for c := range m.root {
		for p, v := range m.root[c] {
			r.vert[p][c] = v * scale
		}
	}
	r.fold = make([][3]float64, max(4, len(m.prim)/2))
	if m.n != 1 && m.n != 1.5 && m.n != 2 {
		r.curve = new([rootSteps + 1]float64)
		for i := range r.curve {
			r.curve[i] = math.Pow(float64(i)*(rootMost/rootSteps), m.n)
		}
	}
	return r
}

// rootMost is the largest root of a table: paper may be a little lighter than
// a white, in a channel.
const rootMost = 1.25

// codes give the sRGB code of linear light in steps of 1/65535, the steepest of
// which is a twentieth of an 8-bit code.
type codes struct {
	eight   [65536]uint8
	sixteen [65537]float64 // the last once more
}

var encodeTables = sync.OnceValue(func() *codes {
	t := new(codes)
	for i := range t.eight {
		v := spectrum.Encode(float64(i) / 65535)
		t.eight[i] = uint8(math.Round(v * 255))
		t.sixteen[i] = v * 65535
	}
	t.sixteen[65536] = 65535
	return t
})

// color returns the linear light of the last coverages in steps of 1/65535, cut
// to 0 … 1.
func (r *Renderer) color() (red, green, blue float64) {
	var c [3]float64
	if r.e == nil {
		c = r.mix()
	} else {
		for i := range r.cov {
			r.cov[i] = float64(r.key[i]) * (1.0 / 65535)
		}
		c = r.e.XYZ(r.cov)
		for i := range c {
			c[i] *= .01
		}
	}
	x, y, z := c[0]*65535, c[1]*65535, c[2]*65535
	return float64(3.1338561*x) - float64(1.6168667*y) - float64(0.4906146*z),
		float64(1.9161415*y) - float64(0.9787684*x) + float64(0.0334540*z),
		float64(0.0719453*x) - float64(0.2289914*y) + float64(1.4052427*z)
}

// cut rounds to 0 … 65535, without branches.
func cut(v float64) uint16 {
	i := int64(v+32768.5) - 32768 // rounds down below 0 too
	i &^= i >> 63
	return uint16(i | (65535-i)>>63)
}

// mix is Evaluator.XYZ for all channels in one go, a white's Y being 1. It folds
// the inks from the last to the first and passes over those that do not print.
func (r *Renderer) mix() (out [3]float64) {
	src := r.vert
	for i := r.m.k - 1; i >= 0; i-- {
		half := len(src) / 2
		low, high := src[:half], src[half:2*half]
		src = low
		v := r.key[i&(MaxInks-1)]
		if v == 0 {
			continue
		}
		f := float64(v) * (1.0 / 65535)
		a, b, c := f, f, f
		if t := r.m.tones[i]; t != nil {
			a, _ = t[0].At(f)
			b, _ = t[1].At(f)
			c, _ = t[2].At(f)
		}
		src = r.fold[:half]
		for j := range low {
			l, h := &low[j], &high[j]
			src[j] = [3]float64{l[0] + float64(a*(h[0]-l[0])), l[1] + float64(b*(h[1]-l[1])), l[2] + float64(c*(h[2]-l[2]))}
		}
	}
	v := &src[0]
	switch {
	case r.n == 2:
		return [3]float64{v[0] * v[0], v[1] * v[1], v[2] * v[2]}
	case r.n == 1.5:
		return [3]float64{v[0] * math.Sqrt(v[0]), v[1] * math.Sqrt(v[1]), v[2] * math.Sqrt(v[2])}
	case r.n == 1:
		return *v
	}
	for c := range out {
		x := v[c] * (rootSteps / rootMost)
		i := min(int(x), rootSteps-1)
		out[c] = r.curve[i] + float64((x-float64(i))*(r.curve[i+1]-r.curve[i]))
	}
	return out
}

// same reports whether the coverages at x are the last ones, and keeps them.
func (r *Renderer) same(plates [][]uint16, x int) bool {
	var differ uint16
	for i, p := range plates {
		key := &r.key[i&(MaxInks-1)]
		differ |= *key ^ p[x]
		*key = p[x]
	}
	return differ == 0
}

// Row8 writes the print of one row of plates, coverage 0 … 65535 in print
// order, as sRGB, three bytes a pixel. Colors outside sRGB are cut.
func (r *Renderer) Row8(plates [][]uint16, dst []uint8) {
	var last [3]uint8
	for x := range plates[0] {
		if !r.same(plates, x) || x == 0 {
			red, green, blue := r.color()
			t := &r.code.eight
			last = [3]uint8{t[cut(red)], t[cut(green)], t[cut(blue)]}
		}
		*(*[3]uint8)(dst[3*x:]) = last
	}
}

// Row16 is Row8 with 16 bits a channel.
func (r *Renderer) Row16(plates [][]uint16, dst []uint16) {
	var last [3]uint16
	for x := range plates[0] {
		if !r.same(plates, x) || x == 0 {
			red, green, blue := r.color()
			last = [3]uint16{r.code.wide(red), r.code.wide(green), r.code.wide(blue)}
		}
		*(*[3]uint16)(dst[3*x:]) = last
	}
}

// wide is the 16-bit code of linear light in steps of 1/65535.
func (t *codes) wide(v float64) uint16 {
	v = math.Max(0, math.Min(65535, v))
	i := uint16(v)
	return uint16(t.sixteen[i] + float64((v-float64(i))*(t.sixteen[int(i)+1]-t.sixteen[i])) + .5)
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
