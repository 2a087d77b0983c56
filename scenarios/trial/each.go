package trial

import (
	"context"
	"fmt"
	"runtime"
	"runtime/debug"
	"sync"
	"sync/atomic"
)

// Each does something for every number from 0 to n−1, as many at a time as there are
// workers (fewer than one: processors), and waits until all is done. When the context
// ends it begins no more and returns its error. A panic becomes one of the caller,
// who can say more than a dying worker.
func Each(ctx context.Context, workers, n int, do func(i int)) error {
	if workers < 1 {
		workers = runtime.NumCPU()
	}
	var next atomic.Int64
	var wait sync.WaitGroup
	broke := make(chan string, max(0, min(workers, n)))
	for range min(workers, n) {
		wait.Go(func() {
			defer func() {
				if p := recover(); p != nil {
					broke <- panicked(p)
				}
			}()
			for i := int(next.Add(1)) - 1; i < n && ctx.Err() == nil; i = int(next.Add(1)) - 1 {
				do(i)
			}
		})
	}
	wait.Wait()
	select {
	case text := <-broke:
		panic(text)
	default:
		return ctx.Err()
	}
}

// panicked says what a worker broke off with, and where.
func panicked(p any) string { return fmt.Sprintf("%v\n%s", p, debug.Stack()) }
