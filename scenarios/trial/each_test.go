package trial

import (
	"context"
	"errors"
	"sync/atomic"
	"testing"
)

func TestEachDoesEveryNumberOnce(t *testing.T) {
	for _, workers := range []int{-1, 0, 1, 2, 7, 100} {
		for _, n := range []int{0, 1, 5, 64} {
			times := make([]atomic.Int32, n)
			if err := Each(context.Background(), workers, n, func(i int) { times[i].Add(1) }); err != nil {
				t.Error(err)
			}
			for i := range times {
				if got := times[i].Load(); got != 1 {
					t.Errorf("%d workers: number %d of %d was done %d times", workers, i, n, got)
				}
			}
		}
	}
}

func TestEachBeginsNoMoreWhenTheContextEnds(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	done := 0
	err := Each(ctx, 1, 100, func(i int) {
		if done++; i == 9 {
			cancel()
		}
	})
	if !errors.Is(err, context.Canceled) || done != 10 {
		t.Errorf("%d done, %v", done, err)
	}
}
