package figures

import (
	"runtime"
	"sync"
)

// Each does n things, as many at once as there are processors, and gives what came
// of them in their order.
func Each[T any](n int, one func(i int) T) []T {
	out := make([]T, n)
	next := make(chan int)
	var workers sync.WaitGroup
	for range runtime.NumCPU() {
		workers.Go(func() {
			for i := range next {
				out[i] = one(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	workers.Wait()
	return out
}
