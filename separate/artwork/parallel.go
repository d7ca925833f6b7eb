package artwork

import (
	"runtime"
	"sync"
)

// eachBand calls f for bands of rows that together are 0 … rows-1, on several
// goroutines. What f does to a row must not depend on other rows, so that the
// result is the same however many there are.
func eachBand(rows int, f func(y0, y1 int)) {
	n := min(runtime.GOMAXPROCS(0), (rows+31)/32)
	if n <= 1 {
		f(0, rows)
		return
	}
	var wg sync.WaitGroup
	for i := range n {
		wg.Go(func() { f(rows*i/n, rows*(i+1)/n) })
	}
	wg.Wait()
}
