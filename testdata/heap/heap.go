// Package heap measures what tests hold in memory.
package heap

import "runtime"

// Held returns how many bytes of the heap are in use. It collects twice: what was pooled
// is let go of by the second time.
func Held() int64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.GC()
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}
