package daemon_test

import (
	"testing"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/daemon"
)

func TestQuietHours(t *testing.T) {
	night := daemon.Quiet{From: 22 * time.Hour, To: 7 * time.Hour}
	noon := daemon.Quiet{From: 12 * time.Hour, To: 13*time.Hour + 30*time.Minute}
	for _, c := range []struct {
		q     daemon.Quiet
		clock string
		quiet bool
	}{
		{night, "21:59", false},
		{night, "22:00", true},
		{night, "23:59", true},
		{night, "00:00", true},
		{night, "06:59", true},
		{night, "07:00", false},
		{noon, "11:59", false},
		{noon, "12:00", true},
		{noon, "13:29", true},
		{noon, "13:30", false},
		{daemon.Quiet{}, "00:00", false},
		{daemon.Quiet{}, "12:00", false},
	} {
		at, err := time.Parse("15:04", c.clock)
		if err != nil {
			t.Fatal(err)
		}
		if got := c.q.At(at); got != c.quiet {
			t.Errorf("%+v at %s: %v", c.q, c.clock, got)
		}
	}
}
