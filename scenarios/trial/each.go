package trial

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// Each does something for every number from 0 to n−1, as many at a time as there are
// workers (fewer than one: processors), and waits until all is done. When the context
// ends it begins no more and returns its error.
func Each(ctx context.Context, workers, n int, do func(i int)) error {
	if workers < 1 {
		workers = runtime.NumCPU()
	}
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(workers, n) {
		wait.Go(func() {
			for i := int(next.Add(1)) - 1; i < n && ctx.Err() == nil; i = int(next.Add(1)) - 1 {
				do(i)
			}
		})
	}
	wait.Wait()
	return ctx.Err()
}
