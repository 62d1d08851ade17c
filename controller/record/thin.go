package record

import (
	"context"
	"database/sql"
	"time"

	"example.org/restpoint/controller"
)

// How long every step is kept, and what is kept afterwards. Both are choices: a
// quarter of a year is long enough to ask about a beer that is being drunk; one step a
// minute shows each run of a compressor. By clocks that were synchronised at both
// ends only: where nobody knows the date nothing is thrown away.
const (
	fullRate  = 90 * 24 * time.Hour // after the end of the batch; without a batch, after the step
	thinEvery = time.Minute
)

// thinSpan is how much of one run is put into one row, so that what is thinned does
// not drown in rows: at one step a minute about as much as a flush at full rate.
const thinSpan = 6 * time.Hour

// thinAtOnce bounds one piece of the work, in rows. A commit waits for one piece at
// the most: some ten milliseconds on a small board.
const thinAtOnce = 100

// thin makes room: it takes the oldest steps of full rate that are old enough, of one
// vessel and one run, and keeps one a minute, one a minute with a gravity, and each
// with another level of a relay than the one before, so that relays can still be
// counted. The replay says that such steps cannot be taken again.
func (r *Record) thin() error {
	now := r.opt.moment()
	if r.file == nil || !now.synced {
		return nil
	}
	return wrap("thin old readings", r.file.transact(func(tx *sql.Tx) error {
		old, err := oldest(tx, now.wall.Add(-fullRate))
		if err != nil || len(old) == 0 {
			return err
		}
		return thinned(tx, old)
	}))
}

// row is a row of telemetry on its way to being thinned.
type row struct {
	id, run, from, to int64
	vessel, batch     string
	pack              []byte
}

// oldest gives the oldest rows of full rate that may be thinned, of one vessel, run
// and batch.
func oldest(tx *sql.Tx, before time.Time) (list []row, err error) {
	rows, err := tx.QueryContext(context.Background(), `
		WITH first AS (
			SELECT t.run, t.vessel, t.batch, t.counted_from AS counted FROM telemetry t LEFT JOIN batches b ON b.id = t.batch
			WHERE t.every = 0 AND t.wall < ?1 AND t.synced AND (t.batch = '' OR b.ended < ?1)
			ORDER BY t.wall LIMIT 1)
		SELECT t.id, t.run, t.counted_from, t.counted_to, t.vessel, t.batch, t.pack FROM telemetry t, first f
		WHERE t.every = 0 AND t.wall < ?1 AND t.run = f.run AND t.vessel = f.vessel AND t.batch = f.batch
			AND t.counted_from >= f.counted AND t.counted_to < f.counted + ?2
		ORDER BY t.id LIMIT ?3`, before.UnixMilli(), thinSpan.Milliseconds(), thinAtOnce)
	if err != nil {
		return nil, err
	}
	err = scanned(rows, func(scan scan) error {
		var t row
		err := scan(&t.id, &t.run, &t.from, &t.to, &t.vessel, &t.batch, &t.pack)
		list = append(list, t)
		return err
	})
	return list, err
}

// thinned puts what is kept of the rows into the first of them. One that is damaged
// is kept as it is, and not looked at again.
func thinned(tx *sql.Tx, rows []row) error {
	var kept packer
	n := 0
	k := keeper{}
	ctx := context.Background()
	for i := range rows {
		steps, err := Unpack(rows[i].pack)
		if err != nil {
			if i > 0 {
				rows = rows[:i] // the damaged one is the first of the next piece
				break
			}
			_, err := tx.ExecContext(ctx, `UPDATE telemetry SET every = -1 WHERE id = ?`, rows[i].id)
			return err
		}
		for s := range steps {
			if k.keeps(&steps[s]) {
				kept.add(&steps[s])
				n++
			}
		}
	}
	pack, err := kept.bytes()
	if err != nil {
		return err
	}
	for i := range rows[1:] {
		if _, err := tx.ExecContext(ctx, `DELETE FROM telemetry WHERE id = ?`, rows[i+1].id); err != nil {
			return err
		}
	}
	_, err = tx.ExecContext(ctx, `UPDATE telemetry SET every = ?, counted_to = ?, steps = ?, pack = ?, state_sum = NULL WHERE id = ?`,
		thinEvery.Milliseconds(), rows[len(rows)-1].to, n, pack, rows[0].id)
	return err
}

// keeper chooses the steps that are kept.
type keeper struct {
	begun, weighed  bool
	minute, gravity time.Duration // of the newest step, and of the newest one with a gravity
	last            controller.Outputs
}

func (k *keeper) keeps(t *Telemetry) bool {
	minute := t.Counted / thinEvery
	keep := !k.begun || minute != k.minute || t.Actual != k.last
	if hasGravity(t) && (!k.weighed || minute != k.gravity) {
		keep, k.weighed, k.gravity = true, true, minute
	}
	if keep {
		k.begun, k.minute, k.last = true, minute, t.Actual
	}
	return keep
}

func hasGravity(t *Telemetry) bool {
	for i := range t.Readings {
		switch t.Readings[i].Value.Quantity {
		case controller.SpecificGravity, controller.OwnNumber:
			return true
		case controller.Temperature, controller.GaugePressure:
		}
	}
	return false
}
