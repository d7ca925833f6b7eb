package film

import (
	"runtime"
	"sync"
)

// chunkBytes is about how much of a picture is packed at a time. Chunks are cut
// the same whatever the number of cores, so the bytes of a file are too; at
// 256 KiB a chunk the 32 KiB window lost at its start costs under 1 %.
const chunkBytes = 256 << 10

// chunkRows is how many rows of that stride make a chunk.
func chunkRows(stride int) int { return max(1, chunkBytes/max(1, stride)) }

// inOrder makes n parts on all cores and hands them to emit in order. No more
// parts than twice the cores exist at a time. work gets a worker's own space, made
// by space.
func inOrder[S, T any](n int, space func() S, work func(s S, i int) (T, error), emit func(T) error) error {
	workers := max(1, min(n, runtime.GOMAXPROCS(0)))
	type result struct {
		part T
		err  error
	}
	type order struct {
		i    int
		back chan result
	}
	todo := make(chan order)
	queue := make(chan chan result, workers) // in order; its length holds the makers back
	stop := make(chan struct{})
	var wg sync.WaitGroup
	wg.Add(workers + 1)
	for range workers {
		go func() {
			defer wg.Done()
			s := space()
			for o := range todo {
				part, err := work(s, o.i)
				o.back <- result{part, err}
			}
		}()
	}
	go func() {
		defer wg.Done()
		defer close(queue)
		defer close(todo)
		for i := range n {
			o := order{i, make(chan result, 1)}
			select {
			case queue <- o.back:
			case <-stop:
				return
			}
			todo <- o // a worker always comes: results have room
		}
	}()
	var err error
	for back := range queue {
		r := <-back
		if err == nil {
			err = r.err
			if err == nil {
				err = emit(r.part)
			}
			if err != nil {
				close(stop)
			}
		}
	}
	wg.Wait()
	return err
}
