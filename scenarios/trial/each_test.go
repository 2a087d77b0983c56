package trial

import (
	"context"
	"errors"
	"strings"
	"sync/atomic"
	"testing"

	"dialwright/encoder"
	"dialwright/scenarios"
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

// A worker's panic reaches the caller, with what it said and where.
func TestAPanicOfAWorkerIsTheCallers(t *testing.T) {
	rig, task := encoder.Default(), scenarios.Heading()
	b := bench(t, Cell{Task: task, Inner: &rig})
	task.Start.List = []scenarios.Amount{} // of which nothing can be drawn
	for name, do := range map[string]func(){
		"each":  func() { Each(t.Context(), 3, 100, func(i int) { breakAt(i) }) },
		"batch": func() { Batch(t.Context(), b, 1, 0, 10000, 3, func(int, *Result) {}) },
	} {
		func() {
			defer func() {
				if text, _ := recover().(string); !strings.Contains(text, "goroutine") || !strings.Contains(text, ".go:") {
					t.Errorf("%s: %q", name, text)
				}
			}()
			do()
			t.Errorf("%s returned", name)
		}()
	}
}

func breakAt(i int) {
	if i == 50 {
		panic("broken")
	}
}
