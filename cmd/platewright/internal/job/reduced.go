package job

import (
	"runtime"
	"sync"
	"sync/atomic"

	"platewright/composite"
	"platewright/separate"
)

// reduced are plates small enough for the job sheet.
type reduced struct {
	w, h   int
	plates [][]uint16
}

// reduce averages plates over an area so that no side is longer than longest.
// It asks for each row once.
func reduce(res *separate.Result, inks, longest int) *reduced {
	w, h := res.Width, res.Height
	out := &reduced{w: w, h: h, plates: make([][]uint16, inks)}
	if m := max(w, h); m > longest {
		out.w, out.h = max(1, (w*longest+m/2)/m), max(1, (h*longest+m/2)/m)
	}
	for i := range out.plates {
		out.plates[i] = make([]uint16, out.w*out.h)
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			rows, sums := make([][]uint16, inks), make([][]uint64, inks)
			for i := range rows {
				rows[i], sums[i] = make([]uint16, w), make([]uint64, out.w)
			}
			for y := int(next.Add(1)) - 1; y < out.h; y = int(next.Add(1)) - 1 {
				for _, sum := range sums {
					clear(sum)
				}
				y0, y1 := y*h/out.h, (y+1)*h/out.h
				for from := y0; from < y1; from++ {
					res.Row(rows, from)
					for i, row := range rows {
						for x := range out.w {
							for _, v := range row[x*w/out.w : (x+1)*w/out.w] {
								sums[i][x] += uint64(v)
							}
						}
					}
				}
				for i, sum := range sums {
					for x, v := range sum {
						n := uint64(((x+1)*w/out.w - x*w/out.w) * (y1 - y0))
						out.plates[i][y*out.w+x] = uint16((v + n/2) / n)
					}
				}
			}
		})
	}
	wg.Wait()
	return out
}

// render predicts the print after the first n pulls.
func (d *reduced) render(m *composite.Model, n int) (*composite.Print, error) {
	plates := make([][]uint16, len(d.plates))
	bare := make([]uint16, d.w*d.h)
	for i := range plates {
		plates[i] = bare
		if i < n {
			plates[i] = d.plates[i]
		}
	}
	return m.Render(plates, d.w, d.h, 8, 0)
}
