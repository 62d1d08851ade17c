package record

import (
	"time"

	"example.org/restpoint/controller"
)

// moment is one point in time by every clock that there is.
type moment struct {
	boot   string
	wall   time.Time
	mono   time.Duration // since the boot
	synced bool
}

func (o *Options) moment() moment {
	m := moment{boot: o.BootID, wall: o.Now()}
	if o.Monotonic != nil {
		m.mono = o.Monotonic()
	}
	if o.Synchronised != nil {
		m.synced = o.Synchronised()
	}
	return m
}

// outage is the time from one moment to a later one of another run. Within one
// boot the monotonic clock knows it; over a boot only two synchronised clocks do.
func outage(from, to moment) controller.Outage {
	if from.boot != "" && from.boot == to.boot && to.mono >= from.mono && to.mono > 0 {
		return controller.Outage{Length: (to.mono - from.mono).Truncate(time.Millisecond), Known: true}
	}
	if length := to.wall.Sub(from.wall); from.synced && to.synced && length >= 0 {
		return controller.Outage{Length: length.Truncate(time.Millisecond), Known: true}
	}
	return controller.Outage{}
}
