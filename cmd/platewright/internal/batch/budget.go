package batch

import (
	"context"
	"sync"
)

// budget deals out memory in the order in which it is asked for.
type budget struct {
	mu    sync.Mutex
	free  int64
	queue []*request
}

type request struct {
	bytes int64
	ready chan struct{}
}

func newBudget(bytes int64) *budget { return &budget{free: bytes} }

// take waits until so much is free. What is more than the whole budget must not
// be asked for.
func (b *budget) take(ctx context.Context, bytes int64) error {
	b.mu.Lock()
	r := &request{bytes, make(chan struct{})}
	b.queue = append(b.queue, r)
	b.deal()
	b.mu.Unlock()
	select {
	case <-r.ready:
		return nil
	case <-ctx.Done():
		b.mu.Lock()
		defer b.mu.Unlock()
		for i, q := range b.queue {
			if q == r {
				b.queue = append(b.queue[:i], b.queue[i+1:]...)
				b.deal()
				return ctx.Err()
			}
		}
		b.free += bytes // it was dealt in the meantime
		b.deal()
		return ctx.Err()
	}
}

func (b *budget) give(bytes int64) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.free += bytes
	b.deal()
}

func (b *budget) deal() {
	for len(b.queue) > 0 && b.queue[0].bytes <= b.free {
		b.free -= b.queue[0].bytes
		close(b.queue[0].ready)
		b.queue = b.queue[1:]
	}
}

// What the work on a picture takes, from above: a base for the program, its
// tables and solver, of which the runtime does not count needOutside; then by
// pixel, beside the picture, the labels, the distances of the checks and the
// proof; and for each ink the plate, where plates are held. Measured on 13
// pictures of 6 to 36 million pixels, photographs, flat artwork, grays, process
// colors and palettes, it took nine tenths to a half of that.
const (
	needBase     = 80 << 20
	needOutside  = 16 << 20 // code, stacks, what the system keeps
	needPixel    = 12
	needPixelInk = 4
)

// need is how much memory the work on a picture takes, from above: reading it,
// or what comes after. The child is told to stay below.
func (w *work) need() int64 {
	perPixel := needPixel
	if !w.rows {
		perPixel += needPixelInk * w.inks
	}
	pixels := int64(w.Size.Width) * int64(w.Size.Height)
	return needBase + max(w.Size.Bytes, w.Size.Held+pixels*int64(perPixel))
}
