package separate

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// Labels says which of a few printed colors stands at each spot of a picture:
// the solids and overprints of some inks, or their listed tints. Label 0 is
// bare paper.
//
// Flats have one label. A pixel on an antialiased edge has a share of each
// label that meets there, and a line thinner than a pixel is kept as a stroke
// with its own middle and width. To print larger, the shares are enlarged by
// bilinear interpolation and the largest share wins among all labels at once:
// two flats that touch leave neither gap nor overlap at any scale, because
// each spot of the film has exactly one label. The strokes lie on top.
//
// Shares are fractions of the edge in encoded values, as drawing programs
// blend them. A Labels is read-only after NewLabels, apart from Cov, and safe
// for concurrent use.
type Labels struct {
	Width, Height int

	// Map holds the label of each artwork pixel, row-major: what FilmRow gives
	// at the artwork's own size.
	Map []uint16

	// Cov holds the coverage 0 … 65535 of each ink in each label,
	// [label][ink]. Bits and Tone read it.
	Cov [][]uint16

	// Mixed pixels by rows: those of row y are mix[mixStart[y]:mixStart[y+1]],
	// by rising x.
	mix      []mixed
	mixStart []int

	// Strokes by the first artwork row that they can touch.
	strokes     []stroke
	strokeStart []int

	plan    atomic.Pointer[filmPlan] // the last film size asked for
	scratch sync.Pool                // *filmRower
}

// A mixed pixel is shared by up to three labels; the shares add to 255.
type mixed struct {
	x     int32
	n     uint8
	share [3]uint8
	label [3]uint16
}

// noLabel marks a pixel without a label of its own while labels are made.
const noLabel = 0xffff

// NewLabels labels a picture of w × h pixels. pix holds encoded RGB, 3 bytes a
// pixel, row-major. assign gives the label of a flat color; it is called from
// several goroutines, must always give the same answer for the same color, and
// is asked about each distinct color a few times at most. cov becomes
// Labels.Cov; every label that assign gives needs a row in it. workers is the
// number of goroutines, 0 for one a core; it changes no result.
func NewLabels(pix []uint8, w, h int, assign func(rgb [3]uint8) uint16, cov [][]uint16, workers int) *Labels {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	l := &Labels{Width: w, Height: h, Map: make([]uint16, w*h), Cov: cov}
	b := &labeler{
		pix: pix, w: w, h: h, workers: workers, label: l.Map, tol: exactly(),
		asked: labelCache{assign: assign},
	}
	b.run(l)
	return l
}

// At returns the label of the artwork pixel x, y.
func (l *Labels) At(x, y int) uint16 { return l.Map[y*l.Width+x] }

// mixedRow returns the mixed pixels of artwork row y.
func (l *Labels) mixedRow(y int) []mixed { return l.mix[l.mixStart[y]:l.mixStart[y+1]] }

// bands calls f for bands of rows that cover 0 … h, on several goroutines. The
// bands do not depend on the number of workers.
func bands(h, rows, workers int, f func(band, y0, y1 int)) {
	n := (h + rows - 1) / rows
	if workers > n {
		workers = n
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range workers {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				f(i, i*rows, min(h, (i+1)*rows))
			}
		}()
	}
	wg.Wait()
}
