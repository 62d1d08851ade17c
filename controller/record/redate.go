package record

import (
	"context"
	"time"

	"example.org/restpoint/controller"
)

// redate puts right what was labelled before the clock was first set: a board without
// a clock battery begins in the past. All runs of this boot are dated by the time that
// the kernel and the steps have counted, which no clock can move. What another boot
// wrote with a clock that nobody believed stays so: how long the board was off is not
// known.
func (w *writer) redate(now moment) {
	if w.err != nil || !now.synced || now.boot == "" || now.mono <= 0 {
		return
	}
	type run struct {
		id    int64
		began time.Time
	}
	var runs []run
	rows, err := w.tx.QueryContext(context.Background(), `SELECT id, mono FROM runs WHERE boot = ? AND mono <= ? AND NOT synced`, now.boot, now.mono.Milliseconds())
	if err == nil {
		err = scanned(rows, func(scan scan) error {
			var r run
			var mono int64
			err := scan(&r.id, &mono)
			r.began = now.wall.Add(time.Duration(mono)*time.Millisecond - now.mono)
			runs = append(runs, r)
			return err
		})
	}
	w.err = err
	for _, r := range runs {
		began := r.began.UnixMilli()
		w.exec(`UPDATE events SET wall = ? + counted, synced = 1 WHERE run = ? AND NOT synced`, began, r.id)
		w.exec(`UPDATE orders SET wall = ? + counted, synced = 1 WHERE run = ? AND NOT synced`, began, r.id)
		w.exec(`UPDATE decisions SET wall = ? + counted, synced = 1 WHERE run = ? AND NOT synced`, began, r.id)
		w.exec(`UPDATE begins SET wall = ? + counted, synced = 1 WHERE run = ? AND NOT synced`, began, r.id)
		w.exec(`UPDATE telemetry SET wall = ? + counted_from, synced = 1 WHERE run = ? AND NOT synced`, began, r.id)
		w.exec(`UPDATE batches SET started = (SELECT max(wall) FROM events WHERE batch = batches.id AND kind = ?1)
			WHERE id IN (SELECT batch FROM events WHERE run = ?2 AND kind = ?1)`, string(controller.BatchStarted), r.id)
		w.exec(`UPDATE batches SET ended = (SELECT max(wall) FROM events WHERE batch = batches.id AND kind = ?1)
			WHERE ended IS NOT NULL AND id IN (SELECT batch FROM events WHERE run = ?2 AND kind = ?1)`, string(controller.BatchEnded), r.id)
		w.exec(`UPDATE runs SET wall = ?, synced = 1 WHERE id = ?`, began, r.id)
	}
}
