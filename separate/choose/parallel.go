package choose

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// parallel calls f for 0 … n−1, one goroutine a core, each with a function of
// its own from make, which may hold workspace. It returns the error of the
// lowest index that failed.
func parallel(n int, make func() func(int) error) error {
	workers := min(runtime.GOMAXPROCS(0), n)
	var next atomic.Int64
	var mu sync.Mutex
	failed, first := n, error(nil)
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			f := make()
			for {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				if err := f(i); err != nil {
					mu.Lock()
					if i < failed {
						failed, first = i, err
					}
					mu.Unlock()
				}
			}
		})
	}
	wg.Wait()
	return first
}
