package ingest

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// fewParts is how many parts of a thread are not worth sharing out.
const fewParts = 16

// each does something for every number below n. Many are shared out among the processor's cores, so that what is done may touch
// nothing but its own part.
func each(n int, do func(i int)) {
	workers := min(runtime.GOMAXPROCS(0), n/fewParts+1)
	if workers < 2 {
		for i := range n {
			do(i)
		}
		return
	}
	var next atomic.Int64
	var all sync.WaitGroup
	for range workers {
		all.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(i)
			}
		})
	}
	all.Wait()
}
