package parallel

import (
	"sync/atomic"
	"testing"
)

func TestEach(t *testing.T) {
	for _, n := range []int{0, 1, 2, 1000} {
		done := make([]int32, n)
		var all atomic.Int32
		Each(n, func(i int) {
			atomic.AddInt32(&done[i], 1)
			all.Add(1)
		})
		if int(all.Load()) != n {
			t.Errorf("%d of %d when it returned", all.Load(), n)
		}
		for i, times := range done {
			if times != 1 {
				t.Errorf("%d was done %d times", i, times)
			}
		}
	}
}
