package artwork

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// eachBand calls f for bands of rows that together are 0 … rows-1, on several
// goroutines. What f does to a row must not depend on other rows, so that the
// result is the same however many there are.
func eachBand(rows int, f func(y0, y1 int)) {
	const least = 32
	bands := (rows + least - 1) / least
	eachJob(bands, func(next func() (int, bool)) {
		for i, ok := next(); ok; i, ok = next() {
			f(i*least, min((i+1)*least, rows))
		}
	})
}

// eachJob calls work on several goroutines; each takes the numbers 0 … n-1 of
// jobs from next until there is none. A panic in work comes up in the caller.
func eachJob(n int, work func(next func() (int, bool))) {
	var taken atomic.Int64
	next := func() (int, bool) {
		i := taken.Add(1) - 1
		return int(i), i < int64(n)
	}
	workers := min(runtime.GOMAXPROCS(0), n)
	if workers <= 1 {
		work(next)
		return
	}
	panics := make([]any, workers)
	var wg sync.WaitGroup
	for k := range workers {
		wg.Go(func() {
			defer func() { panics[k] = recover() }()
			work(next)
		})
	}
	wg.Wait()
	for _, v := range panics {
		if v != nil {
			panic(v)
		}
	}
}
