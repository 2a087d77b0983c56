package encoder

// fifo is a first-in-first-out queue that keeps its memory between trials.
type fifo[T any] struct {
	slots []T // length a power of two, or 0
	head  int
	n     int
}

func (q *fifo[T]) len() int { return q.n }

func (q *fifo[T]) reset() { q.head, q.n = 0, 0 }

func (q *fifo[T]) push(v T) {
	if q.n == len(q.slots) {
		grown := make([]T, max(8, 2*len(q.slots)))
		for i := range q.n {
			grown[i] = q.slots[(q.head+i)&(len(q.slots)-1)]
		}
		q.slots, q.head = grown, 0
	}
	q.slots[(q.head+q.n)&(len(q.slots)-1)] = v
	q.n++
}

func (q *fifo[T]) front() *T { return &q.slots[q.head] }

// back returns the newest, or nil.
func (q *fifo[T]) back() *T {
	if q.n == 0 {
		return nil
	}
	return &q.slots[(q.head+q.n-1)&(len(q.slots)-1)]
}

func (q *fifo[T]) pop() T {
	v := q.slots[q.head]
	q.head = (q.head + 1) & (len(q.slots) - 1)
	q.n--
	return v
}
