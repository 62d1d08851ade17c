package commission

import (
	"context"

	"example.org/restpoint/controller"
	"example.org/restpoint/sensors"
)

// follow reads probes again and again until somebody has seen enough, or the context
// ends, and tells which.
func follow(ctx context.Context, poll sensors.Poll, take func(controller.Reading) (enough bool, err error)) (bool, error) {
	ctx, end := context.WithCancel(ctx)
	readings, ended := make(chan controller.Reading), make(chan struct{})
	go func() { // ends with the context
		defer close(ended)
		_ = poll.Run(ctx, readings) // a read that hangs is left behind; its time-outs were seen
	}()
	defer func() {
		end()
		<-ended
	}()
	for {
		select {
		case <-ctx.Done():
			return false, nil
		case r := <-readings:
			if enough, err := take(r); err != nil || enough {
				return enough, err
			}
		}
	}
}
