package film

import "sync"

// A Pace keeps files that are written at the same time at the same rows, so that
// a picture made row by row is made once for all of them. It is safe for
// concurrent use.
type Pace struct {
	mu    sync.Mutex
	moved sync.Cond
	at    []int // parts that each file has begun; far beyond all once it has left
}

// paceLead is how many parts a file may be ahead of the last.
const paceLead = 1

// NewPace returns the pace of n files. Each must be written, or Leave.
func NewPace(n int) *Pace {
	p := &Pace{at: make([]int, n)}
	p.moved.L = &p.mu
	return p
}

// Info returns info for file i, which is written at the pace.
func (p *Pace) Info(info Info, i int) Info {
	info.pace, info.place = p, i
	return info
}

// Leave says that nothing more comes of file i: it is written, or has failed.
func (p *Pace) Leave(i int) {
	p.mu.Lock()
	p.at[i] = 1 << 62
	p.mu.Unlock()
	p.moved.Broadcast()
}

// begin waits until it is time for a part of the file.
func (info *Info) begin(part int) {
	p := info.pace
	if p == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	for p.last() < part-paceLead {
		p.moved.Wait()
	}
	if p.at[info.place] <= part {
		p.at[info.place] = part + 1
		p.moved.Broadcast()
	}
}

// last is how many parts the slowest file has begun.
func (p *Pace) last() int {
	least := p.at[0]
	for _, n := range p.at {
		least = min(least, n)
	}
	return least
}
