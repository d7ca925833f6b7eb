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

// What the work on a picture takes beside reading it, from above: a base for
// the program and its tables, then by pixel the labels, the distances of the
// checks and the proof, and for each ink its plate. Measured on photographs and
// flat artwork of 10 and 24 million pixels with 1 to 6 inks, it took a
// quarter to a half less.
const (
	needBase     = 64 << 20
	needPixel    = 14
	needPixelInk = 5
)

// need is how much memory the work on a picture takes, from above.
func (in *Input) need(inks int) int64 {
	pixels := int64(in.Size.Width) * int64(in.Size.Height)
	return needBase + in.Size.Bytes + pixels*int64(needPixel+needPixelInk*inks)
}
