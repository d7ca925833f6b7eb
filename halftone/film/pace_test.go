package film

import (
	"bytes"
	"io"
	"sync"
	"sync/atomic"
	"testing"
)

// paced is a film of many parts that notes how far apart its readers are.
type paced struct {
	dots
	rows  []atomic.Int64
	me    int
	apart *atomic.Int64
}

func (p *paced) Rows(dst []byte, stride, y0, y1 int) {
	p.rows[p.me].Store(int64(y0))
	for i := range p.rows {
		if other := p.rows[i].Load(); other >= 0 && int64(y0)-other > p.apart.Load() {
			p.apart.Store(int64(y0) - other)
		}
	}
	p.dots.Rows(dst, stride, y0, y1)
}

// Files at one pace have the bytes they have alone, stay within a few parts of
// each other, and one that fails holds up none.
func TestPace(t *testing.T) {
	d := dots{8 * 4096, 64 * 30, 0, 30}
	part := int64(chunkRows(4096))
	var alone bytes.Buffer
	if err := WritePNG(&alone, d, Info{DPI: 600}); err != nil {
		t.Fatal(err)
	}
	var apart atomic.Int64
	rows := make([]atomic.Int64, 3)
	pace := NewPace(4)
	out := make([]bytes.Buffer, 3)
	errs := make([]error, 4)
	var wg sync.WaitGroup
	for i := range 3 {
		wg.Go(func() {
			defer pace.Leave(i)
			errs[i] = WritePNG(&out[i], &paced{d, rows, i, &apart}, pace.Info(Info{DPI: 600}, i))
		})
	}
	wg.Go(func() {
		defer pace.Leave(3)
		errs[3] = WritePNG(io.Discard, d, pace.Info(Info{}, 3)) // no resolution
	})
	wg.Wait()
	if errs[0] != nil || errs[1] != nil || errs[2] != nil || errs[3] == nil {
		t.Fatal(errs)
	}
	for i := range out {
		if !bytes.Equal(out[i].Bytes(), alone.Bytes()) {
			t.Errorf("file %d differs from one written alone", i)
		}
	}
	if most := 16 * part; apart.Load() > most {
		t.Errorf("readers %d rows apart: at most %d", apart.Load(), most)
	}
}
