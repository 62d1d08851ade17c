package record_test

import (
	"testing"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
	"example.org/restpoint/controller/units"
)

// switched is when a relay was found at another level than before.
type switched struct {
	at    time.Duration
	level controller.Outputs
}

// leftOf is what of a batch is in the record: steps, gravities and switches of relays.
func leftOf(t *testing.T, r *record.Record, batch string) (steps, gravities int, relays []switched) {
	t.Helper()
	last := controller.Outputs{}
	for _, s := range telemetry(t, r, batch) {
		steps++
		for _, reading := range s.Readings {
			if reading.Value.Quantity == controller.SpecificGravity {
				gravities++
			}
		}
		if s.Actual != last {
			relays, last = append(relays, switched{s.Counted, s.Actual}), s.Actual
		}
	}
	return steps, gravities, relays
}

// noteDay notes a day of steps, with a relay that works eleven minutes and a bit of
// each half hour and a gravity each quarter of an hour.
func noteDay(d *desk, r *record.Record, batch string, from time.Duration, commit func()) time.Duration {
	at := from
	for ; at < from+units.Day; at += step {
		n := record.Telemetry{Vessel: "fv1", Batch: batch, Counted: at, Elapsed: step}
		n.Actual.Cool = at%(30*time.Minute) < 11*time.Minute+25*time.Second
		n.Readings = []controller.Reading{{Probe: "fv1/thermowell", Value: controller.OfTemperature(19.0625 + units.Celsius(at%(7*step))/units.Celsius(step)/16)}}
		if at%(15*time.Minute) == 35*time.Second {
			n.Readings = append(n.Readings, controller.Reading{Probe: "fv1/hydrometer", Value: controller.OfGravity(1.05)})
		}
		r.Note(n)
		d.pass(step)
		if (at+step)%(30*time.Minute) == 0 {
			commit()
		}
	}
	return at
}

func TestOldReadingsAreThinnedToOneAMinute(t *testing.T) {
	const full = int(units.Day / step)
	d := newDesk(t)
	d.synced = true
	r, _ := d.open(t)
	state := running("b1")
	flush := func() { commit(t, r, record.Entry{Vessel: "fv1", State: state}) }
	commit(t, r, started("b1"))
	at := noteDay(d, r, "b1", 0, flush)
	commit(t, r, record.Entry{Vessel: "fv1", State: controller.Fresh(), Events: []controller.Event{{Kind: controller.BatchEnded}}})
	state = controller.Fresh()
	at = noteDay(d, r, "", at, flush)
	b2 := oneStep("fv1", "b2", controller.BatchStarted)
	commit(t, r, b2)
	state = running("b2")
	noteDay(d, r, "b2", at, flush)
	_, _, relays := leftOf(t, r, "b1")

	thin := func() (pieces int, longest time.Duration) {
		t.Helper()
		for pieces = range 100 {
			before := time.Now()
			if err := r.Thin(t.Context()); err != nil {
				t.Fatal(err)
			}
			longest = max(longest, time.Since(before))
		}
		return pieces, longest
	}
	holds := func(when string, want map[string]int) {
		t.Helper()
		for batch, steps := range want {
			if n, gravities, _ := leftOf(t, r, batch); n != steps || gravities != 96 {
				t.Errorf("%s: batch %q has %d steps and %d gravities, want %d and 96", when, batch, n, gravities, steps)
			}
		}
	}
	d.pass(86 * units.Day) // 88 after the end of b1
	thin()
	holds("after 88 days", map[string]int{"b1": full, "": full, "b2": full})
	d.synced = false
	d.pass(3 * units.Day)
	thin()
	holds("with a clock that nobody believes", map[string]int{"b1": full})
	d.synced = true
	_, longest := thin()
	// One a minute, 96 with a gravity in the middle of a minute, 48 where the relay goes
	// off in the middle of one; it goes on at a minute.
	const thinned = 24*60 + 96 + 48
	holds("after 91 days", map[string]int{"b1": thinned, "b2": full})
	d.pass(units.Day)
	thin()
	holds("after 92 days", map[string]int{"b1": thinned, "": thinned, "b2": full})
	d.pass(200 * units.Day)
	thin()
	holds("while a batch runs", map[string]int{"b1": thinned, "b2": full})
	if _, _, now := leftOf(t, r, "b1"); len(now) != len(relays) || len(now) != 96 {
		t.Errorf("%d switches of the relay are left of %d", len(now), len(relays))
	} else {
		for i := range now {
			if now[i] != relays[i] {
				t.Fatalf("switch %d is at %v, was at %v", i, now[i], relays[i])
			}
		}
	}
	wide, narrow := packed(t, d.path, "b2"), packed(t, d.path, "b1")
	t.Logf("a day: %d bytes at full rate, %d thinned; the longest piece of the work took %v", wide, narrow, longest)
	if narrow*2 > wide {
		t.Errorf("a day of %d bytes was thinned to %d", wide, narrow)
	}
	shut(t, r)
}

// packed is the size of a batch's telemetry, with a row's usual overhead.
func packed(t *testing.T, path, batch string) (n int) {
	t.Helper()
	db := openSQL(t, path)
	defer db.Close()
	if err := db.QueryRowContext(t.Context(), `SELECT sum(length(pack) + 60) FROM telemetry WHERE batch = ?`, batch).Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}
