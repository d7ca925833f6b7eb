package separate

import "sync/atomic"

// A labeler makes Labels.
type labeler struct {
	pix     []uint8
	w, h    int
	workers int
	label   []uint16 // noLabel where not yet known
	asked   labelCache
}

// run labels the picture.
func (b *labeler) run(l *Labels) {
	bands(b.h, 64, b.workers, func(_, y0, y1 int) {
		for i := y0 * b.w; i < y1*b.w; i++ {
			b.label[i] = b.asked.label([3]uint8(b.pix[3*i:]))
		}
	})
	l.mixStart = make([]int, b.h+1)
	l.strokeStart = make([]int, b.h+1)
}

// A labelCache remembers what assign said, by color. Two goroutines may ask
// for the same color at once, which is harmless: the answer is the same.
type labelCache struct {
	assign func([3]uint8) uint16
	// pages by the upper four bits of each channel; an entry by the lower
	// four, the label + 1, 0 for not yet asked.
	pages [4096]atomic.Pointer[[4096]atomic.Uint32]
}

func (c *labelCache) label(rgb [3]uint8) uint16 {
	slot := &c.pages[int(rgb[0]>>4)<<8|int(rgb[1]>>4)<<4|int(rgb[2]>>4)]
	page := slot.Load()
	if page == nil {
		slot.CompareAndSwap(nil, new([4096]atomic.Uint32))
		page = slot.Load()
	}
	e := &page[int(rgb[0]&15)<<8|int(rgb[1]&15)<<4|int(rgb[2]&15)]
	if v := e.Load(); v != 0 {
		return uint16(v - 1)
	}
	v := c.assign(rgb)
	e.Store(uint32(v) + 1)
	return v
}
