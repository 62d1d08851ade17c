package daemon

import (
	"context"
	"time"
)

// Wall ticks every step by the wall's monotonic clock until the context ends. A
// tick that nobody takes is dropped: the loop then is late, and says so itself.
func Wall(ctx context.Context, step time.Duration, ticks chan<- Tick) {
	t := time.NewTicker(step)
	defer t.Stop()
	for {
		select {
		case ticks <- Tick{}:
		case <-ctx.Done():
			return
		}
		select {
		case <-t.C:
		case <-ctx.Done():
			return
		}
	}
}
