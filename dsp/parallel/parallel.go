// Package parallel does work side by side whose parts do not depend on each other's order.
package parallel

import (
	"runtime"

	"golang.org/x/sync/errgroup"
)

// Each calls do for 0 … n−1, as many at once as there are cores, and returns when all are done.
func Each(n int, do func(i int)) {
	var all errgroup.Group
	all.SetLimit(runtime.GOMAXPROCS(0))
	for i := range n {
		all.Go(func() error {
			do(i)
			return nil
		})
	}
	_ = all.Wait() // none has an error
}
