package trial

import (
	"context"
	"sync"
	"sync/atomic"
)

// blockSize is how many trials a worker does at a time. Blocks are handed on in
// their order, so what is made of them does not depend on the workers.
const blockSize = 64

// Batch does the trials from first to before last and hands each result to use,
// in the order of the trials, from one goroutine at a time. It returns how many it
// handed on: fewer than asked only when the context ended, or when a trial was given
// up (an *encoder.Runaway), with that error.
func Batch(ctx context.Context, b *Bench, seed uint64, first, last, workers int, use func(n int, r *Result)) (done int, err error) {
	blocks := (last - first + blockSize - 1) / blockSize
	workers = max(1, min(workers, blocks))
	if workers == 1 {
		for n := first; n < last; n++ {
			r, err := b.try(ctx, seed, n)
			if err != nil {
				return n - first, err
			}
			use(n, &r)
		}
		return last - first, nil
	}

	type block struct {
		number  int
		results []Result
		err     error // why there are no more
	}
	var (
		next  atomic.Int64
		ready = make(chan block, workers)
		spare = make(chan []Result, 4*workers)
		wait  sync.WaitGroup
		broke = make(chan string, workers)
	)
	more, stop := context.WithCancel(ctx)
	defer stop()
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
			// always be handed on.
			defer func() {
				if p := recover(); p != nil {
					broke <- panicked(p)
				}
			}()
			for results := range spare {
				i := int(next.Add(1)) - 1
				if i >= blocks || more.Err() != nil {
					return
				}
				begun := block{number: i, results: results[:0]}
				for n := first + i*blockSize; n < min(first+(i+1)*blockSize, last) && begun.err == nil; n++ {
					r, err := bench.try(ctx, seed, n)
					if begun.err = err; err == nil {
						begun.results = append(begun.results, r)
					}
				}
				ready <- begun
			}
		})
	}
	go func() {
		wait.Wait()
		close(ready)
	}()
	held := map[int]block{}
	for number := 0; ; {
		oldest, ok := held[number]
		if !ok {
			select {
			case text := <-broke:
				panic(text) // in the caller, as [Each] does; the others are left waiting
			case b, open := <-ready:
				if open {
					held[b.number] = b
					continue
				}
			}
			if len(broke) > 0 {
				continue
			}
			break
		}
		delete(held, number)
		for i := range oldest.results {
			use(first+number*blockSize+i, &oldest.results[i])
		}
		done += len(oldest.results)
		if oldest.err != nil {
			stop()
			close(spare)
			for range ready { // what others had begun
			}
			return done, oldest.err
		}
		number++
		spare <- oldest.results
	}

	if done < last-first {
		return done, ctx.Err()
	}
	return done, nil
}

// try does a trial, unless the context has ended.
func (b *Bench) try(ctx context.Context, seed uint64, n int) (Result, error) {
	if err := ctx.Err(); err != nil {
		return Result{}, err
	}
	r := b.Run(seed, n)
	return r, b.gaveUp
}
