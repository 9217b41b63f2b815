package acquisition

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// parallel calls do for 0 … n−1, on as many goroutines as there are cores. What
// the calls do must not depend on their order.
func parallel(n int, do func(i int)) {
	workers := min(n, runtime.GOMAXPROCS(0))
	if workers < 2 {
		for i := range n {
			do(i)
		}
		return
	}
	var next atomic.Int64
	var wait sync.WaitGroup
	for range workers {
		wait.Go(func() {
			for i := next.Add(1) - 1; i < int64(n); i = next.Add(1) - 1 {
				do(int(i))
			}
		})
	}
	wait.Wait()
}
