package trial

import (
	"context"
	"sync"
)

// blockSize is how many trials a worker does at a time. Blocks are handed on in
// their order, so what is made of them does not depend on the workers.
const blockSize = 64

// Batch does the trials from first to before last and hands each result to use,
// in the order of the trials, from one goroutine at a time. It returns how many it
// handed on: fewer than asked only when the context ended, with its error.
func Batch(ctx context.Context, b *Bench, seed uint64, first, last, workers int, use func(n int, r *Result)) (done int, err error) {
	blocks := (last - first + blockSize - 1) / blockSize
	workers = max(1, min(workers, blocks))
	if workers == 1 {
		for n := first; n < last; n++ {
			if n%blockSize == 0 && ctx.Err() != nil {
				return n - first, ctx.Err()
			}
			r := b.Run(seed, n)
			use(n, &r)
		}
		return last - first, nil
	}

	type block struct {
		number  int
		results []Result
	}
	var (
		next  = make(chan int)
		ready = make(chan block, workers)
		spare = make(chan []Result, 4*workers)
		wait  sync.WaitGroup
		broke = make(chan string, workers)
	)
	go func() {
		defer close(next)
		for i := range blocks {
			select {
			case next <- i:
			case <-ctx.Done():
				return
			}
		}
	}()
	for range 4 * workers {
		spare <- make([]Result, 0, blockSize)
	}
	benches := []*Bench{b}
	for len(benches) < workers { // before any of them runs
		benches = append(benches, b.Clone())
	}
	for _, bench := range benches {
		wait.Go(func() {
			// Room for results first, then the block: a block that is begun can
			// always be finished.
			defer func() {
				if p := recover(); p != nil {
					broke <- panicked(p)
				}
			}()
			for results := range spare {
				i, more := <-next
				if !more {
					return
				}
				results = results[:0]
				for n := first + i*blockSize; n < min(first+(i+1)*blockSize, last); n++ {
					results = append(results, bench.Run(seed, n))
				}
				ready <- block{i, results}
			}
		})
	}
	go func() {
		wait.Wait()
		close(ready)
	}()
	held := map[int][]Result{}
	for number := 0; ; {
		results, ok := held[number]
		if !ok {
			select {
			case text := <-broke:
				panic(text) // in the caller, as [Each] does; the others are left waiting
			case b, open := <-ready:
				if open {
					held[b.number] = b.results
					continue
				}
			}
			if len(broke) > 0 {
				continue
			}
			break
		}
		delete(held, number)
		for i := range results {
			use(first+number*blockSize+i, &results[i])
		}
		done += len(results)
		number++
		spare <- results
	}

	if done < last-first {
		return done, ctx.Err()
	}
	return done, nil
}
