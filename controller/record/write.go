package record

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"example.org/restpoint/controller"
)

// flush writes all that is pending in one transaction. What fails is kept, and
// the file is opened anew next time: after an I/O error nothing is known about
// what the disk holds of it.
func (r *Record) flush() error {
	r.mu.Lock()
	work := r.pending.take()
	r.mu.Unlock()
	var spoilt, err error
	if !work.empty() {
		spoilt, err = r.store(&work)
	}
	waiting := work.waiting
	r.mu.Lock()
	was := r.failing
	if err != nil {
		r.pending.putBack(work)
	}
	if err = errors.Join(err, spoilt); err != nil || !work.empty() {
		r.failing = err
	}
	r.mu.Unlock()
	r.tell(was, err)
	for _, done := range waiting {
		done <- err
	}
	return err
}

// tell logs a change for the worse or the better, not every failed try.
func (r *Record) tell(was, err error) {
	switch {
	case err != nil && (was == nil || was.Error() != err.Error()):
		r.opt.Log.Error("the record cannot be written", "path", r.opt.Path, "error", err)
	case err == nil && was != nil && r.Failing() == nil:
		r.opt.Log.Info("the record is written again", "path", r.opt.Path)
	}
}

// store gives what can never be stored apart from what may succeed later.
func (r *Record) store(work *pending) (spoilt, err error) {
	if err := r.reopen(); err != nil {
		return nil, err
	}
	run, now := r.run, r.opt.moment()
	err = r.file.transact(func(tx *sql.Tx) error {
		w := writer{tx: tx, run: run, sums: map[string]sum{}}
		if w.run == 0 {
			w.begin(r.born, r.opt.Version, r.running)
		}
		for i := range work.lines {
			w.line(&work.lines[i])
		}
		for i := range work.states {
			w.state(&work.states[i])
		}
		w.plant(work.plant)
		for _, c := range work.chunks {
			w.chunk(c)
		}
		if !r.dated {
			w.redate(now)
		}
		spoilt, run = w.spoilt, w.run
		return w.err
	})
	if err != nil {
		err = wrap("write the record", err)
		return nil, errors.Join(err, r.shut(), r.setAside(err))
	}
	r.run = run
	r.dated = r.dated || now.synced
	for i := range work.lines {
		r.remember(&work.lines[i])
	}
	return spoilt, nil
}

// finish notes the good end of this run.
func (r *Record) finish() error {
	if r.file == nil || r.run == 0 {
		return nil
	}
	return wrap("note the end of the run", r.file.transact(func(tx *sql.Tx) error {
		_, err := tx.ExecContext(context.Background(), `UPDATE runs SET ended = ? WHERE id = ?`, r.opt.Now().UnixMilli(), r.run)
		return err
	}))
}

// reopen opens the file where it is not open: after an error, and when somebody
// took it away, for what is written to a file without a name is lost. A new file
// begins with the run and the batches that go on.
func (r *Record) reopen() error {
	if r.file != nil && !r.file.there(r.opt.Path) {
		r.opt.Log.Error("the record was taken away: a new one is begun", "path", r.opt.Path)
		if err := r.shut(); err != nil {
			return err
		}
	}
	if r.file != nil {
		return nil
	}
	if err := r.arrive(); err != nil {
		return err
	}
	f, err := openFile(r.opt.Path, false)
	if err == nil && r.unread && f.version > 0 {
		err = errors.Join(fmt.Errorf("%w, or was so: it could not be read at the start", errBroken), f.db.Close())
	}
	if errors.Is(err, errBroken) {
		if moved := r.setAside(err); moved != nil {
			return errors.Join(err, moved)
		}
		f, err = openFile(r.opt.Path, false)
	}
	if err != nil {
		return err
	}
	r.unread = false
	if f.version == 0 {
		r.run = 0
	}
	r.file = f
	if err := f.prepare(r.opt.Path); err != nil {
		return errors.Join(err, r.shut())
	}
	return nil
}

// arrive looks whether the folder that was missing at the start is there now. A new
// record is begun in it only where there is none: what another one knows of its
// vessels must not be covered by a program that knew nothing of it.
func (r *Record) arrive() error {
	if r.absent == nil {
		return nil
	}
	if _, err := os.Stat(filepath.Dir(r.opt.Path)); err != nil {
		return r.absent
	}
	release, err := lock(r.opt.Path)
	if err != nil {
		return err
	}
	if info, err := os.Stat(r.opt.Path); err == nil && info.Size() > 0 {
		return errors.Join(fmt.Errorf("the record %s is there now and was not when the program started: start it again, and it goes on with what that holds", r.opt.Path), release())
	}
	r.release, r.absent = release, nil
	return nil
}

// setAside moves a file that turned out to be broken out of the way, so that the
// next flush begins a new one.
func (r *Record) setAside(why error) error {
	if !errors.Is(why, errBroken) {
		return nil
	}
	aside, err := moveAside(r.opt.Path, r.opt.Now())
	if err == nil {
		r.opt.Log.Error("the record is broken: it was moved aside and a new one is begun", "aside", aside, "error", why)
	}
	return err
}

// remember keeps the batches that run, for the case that the file must be begun
// anew.
func (r *Record) remember(l *line) {
	for i := range l.events {
		if l.events[i].Kind == controller.BatchEnded {
			delete(r.running, l.vessel)
		}
	}
	if l.batch == nil {
		return
	}
	b := *l.batch
	if b.Started.IsZero() {
		b.Started = l.at.wall
		if was, known := r.running[l.vessel]; known && was.ID == b.ID {
			b.Started = was.Started
		}
	}
	r.running[l.vessel] = b
}

// writer writes one transaction; its first error ends the work.
type writer struct {
	tx     *sql.Tx
	run    int64
	sums   map[string]sum // of the states that are written, by vessel
	err    error          // of the file
	spoilt error          // of what was to be written: it is left out
}

// sum is that of a state, which was so after the step of that count.
type sum struct {
	up    time.Duration
	bytes [8]byte
}

// Sum is what the record keeps of a state at each flush, to hold a replay against:
// the beginning of the SHA-256 of its JSON.
func Sum(state *controller.State) ([8]byte, error) {
	text, err := json.Marshal(state)
	return sumOf(text), err
}

func sumOf(text []byte) [8]byte {
	all := sha256.Sum256(text)
	return [8]byte(all[:8])
}

func sumBytes(text string) []byte {
	s := sumOf([]byte(text))
	return s[:]
}

// sum is over what control hangs on.
func (b *BatchInfo) sum() [8]byte {
	return sumOf(fmt.Appendf(nil, "%q %q %q %q %x %x %x", b.ID, b.Vessel, b.Name, b.Schedule, float64(b.Original), float64(b.Final), float64(b.FinalSD)))
}

// exec leaves out a row that the file will never take, rather than failing for
// ever: SQLite undoes the one statement and the transaction goes on.
func (w *writer) exec(query string, args ...any) {
	if w.err != nil {
		return
	}
	_, err := w.tx.ExecContext(context.Background(), query, args...)
	if e, ok := errors.AsType[*sqlite.Error](err); ok {
		switch e.Code() & 0xff {
		case sqlite3.SQLITE_CONSTRAINT, sqlite3.SQLITE_TOOBIG, sqlite3.SQLITE_MISMATCH:
			w.spoilt = errors.Join(w.spoilt, wrap("store a row", err))
			return
		}
	}
	w.err = err
}

// begin writes this run of the program, and the batches that run already.
func (w *writer) begin(m moment, version string, running map[string]BatchInfo) {
	var result sql.Result
	result, w.err = w.tx.ExecContext(context.Background(), `INSERT INTO runs (boot, wall, mono, synced, version) VALUES (?, ?, ?, ?, ?)`,
		m.boot, m.wall.UnixMilli(), m.mono.Milliseconds(), m.synced, version)
	if w.err == nil {
		w.run, w.err = result.LastInsertId()
	}
	for _, b := range running {
		w.batch(m, &b)
	}
}

// json leaves out what cannot be said in JSON rather than failing for ever.
func (w *writer) json(what string, v any) (string, bool) {
	text, err := json.Marshal(v)
	if err != nil {
		w.spoilt = errors.Join(w.spoilt, fmt.Errorf("store %s: %w", what, err))
		return "", false
	}
	return string(text), true
}

// line writes one step's events and orders. Each belongs to the batch that ran
// when it happened: a batch ends behind its end and begins before its start.
func (w *writer) line(l *line) {
	starts := false
	for i := range l.events {
		starts = starts || l.batch != nil && l.events[i].Kind == controller.BatchStarted
	}
	if l.batch != nil && !starts {
		w.batch(l.at, l.batch)
	}
	for i := range l.events {
		event := &l.events[i]
		if starts && begins(event) {
			starts = false
			w.end(l.at, l.vessel) // whatever ran is over
			w.batch(l.at, l.batch)
		}
		if text, ok := w.json("an event of "+l.vessel, event); ok {
			w.exec(`INSERT INTO events (run, batch, vessel, wall, synced, counted, kind, stage, event) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
				w.run, w.running(l.vessel, math.MaxInt64), l.vessel, l.at.wall.UnixMilli(), l.at.synced, l.counted.Milliseconds(), string(event.Kind), event.Stage, text)
		}
		if event.Kind == controller.BatchEnded {
			w.end(l.at, l.vessel)
		}
	}
	for i := range l.orders {
		w.order(l, &l.orders[i])
	}
	if l.decided != nil {
		w.decided(l)
	}
	if l.begin != nil {
		w.start(l)
	}
}

// start writes what the step began with. The site file is written once as long as
// it does not change.
func (w *writer) start(l *line) {
	state, ok := w.json("the state of "+l.vessel, &l.begin.State)
	wired, also := w.json("the wiring of "+l.vessel, &l.begin.Vessel)
	if !ok || !also {
		return
	}
	batch, _ := w.running(l.vessel, math.MaxInt64).(string)
	w.exec(`INSERT INTO begins (run, batch, vessel, wall, synced, counted, state, wired, site) VALUES (?, ?, ?, ?, ?, ?, ?, ?,
		nullif(?, (SELECT site FROM begins WHERE vessel = ? AND site IS NOT NULL ORDER BY id DESC LIMIT 1)))`,
		w.run, batch, l.vessel, l.at.wall.UnixMilli(), l.at.synced, l.counted.Milliseconds(), state, wired, l.begin.Site, l.vessel)
}

// begins tells whether an event is the first of a new batch: the order that started
// it belongs to it.
func begins(e *controller.Event) bool {
	return e.Kind == controller.BatchStarted || e.Kind == controller.OrderTaken && e.Verb == controller.Start
}

func (w *writer) end(at moment, vessel string) {
	w.exec(`UPDATE batches SET ended = ? WHERE vessel = ? AND ended IS NULL`, at.wall.UnixMilli(), vessel)
}

func (w *writer) batch(at moment, b *BatchInfo) {
	started, ended := b.Started, any(nil)
	if started.IsZero() {
		started = at.wall
	}
	if !b.Ended.IsZero() {
		ended = b.Ended.UnixMilli()
	}
	sum := b.sum()
	w.exec(`INSERT INTO batches (id, vessel, name, schedule, original, final, final_sd, volume, site, who, started, ended, sum)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET name = excluded.name, schedule = excluded.schedule, original = excluded.original,
			final = excluded.final, final_sd = excluded.final_sd, volume = excluded.volume, site = excluded.site, ended = excluded.ended, sum = excluded.sum`,
		b.ID, b.Vessel, b.Name, b.Schedule, float64(b.Original), float64(b.Final), float64(b.FinalSD), float64(b.Volume),
		b.Site, b.Who, started.UnixMilli(), ended, sum[:])
}

// running is the vessel's batch that runs, or that ended at the given Unix
// milliseconds or later; nil = none.
func (w *writer) running(vessel string, since int64) any {
	if w.err != nil {
		return nil
	}
	var id string
	err := w.tx.QueryRowContext(context.Background(), `SELECT id FROM batches WHERE vessel = ? AND (ended IS NULL OR ended >= ?) ORDER BY started DESC, rowid DESC LIMIT 1`, vessel, since).Scan(&id)
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	w.err = err
	return id
}

// order writes what was asked. An order that ends its batch still belongs to it.
func (w *writer) order(l *line, a *Asked) {
	o := a.Order
	o.Do.Schedule = nil
	text, ok := w.json("an order to "+l.vessel, o)
	if !ok {
		return
	}
	var schedule any
	if a.Order.Do.Schedule != nil {
		if schedule, ok = w.json("a schedule for "+l.vessel, a.Order.Do.Schedule); !ok {
			return
		}
	}
	w.exec(`INSERT INTO orders (run, batch, vessel, wall, synced, counted, order_id, who, why, words, asked, taken, text, schedule)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		w.run, w.running(l.vessel, l.at.wall.UnixMilli()), l.vessel, l.at.wall.UnixMilli(), l.at.synced, l.counted.Milliseconds(),
		o.ID, o.Who, o.Why, a.Words, text, a.Answer.Taken, a.Answer.Reason.String(), schedule)
}

func (w *writer) state(s *savedState) {
	if text, ok := w.json("the state of "+s.vessel, s.state); ok {
		w.exec(`INSERT OR REPLACE INTO states (vessel, state, boot, wall, mono, synced, run, sum) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
			s.vessel, text, s.at.boot, s.at.wall.UnixMilli(), s.at.mono.Milliseconds(), s.at.synced, w.run, sumBytes(text))
		w.sums[s.vessel] = sum{s.state.Up, sumOf([]byte(text))}
	}
}

func (w *writer) plant(s *controller.PlantState) {
	if s == nil {
		return
	}
	if text, ok := w.json("the state of the shared plant", s); ok {
		w.exec(`INSERT OR REPLACE INTO plant (one, state) VALUES (1, ?)`, text)
	}
}

func (w *writer) chunk(c *chunk) {
	pack, err := c.pack.bytes()
	if err != nil {
		w.spoilt = errors.Join(w.spoilt, err)
		return
	}
	var check any
	if s, known := w.sums[c.vessel]; known && s.up == c.to {
		check = s.bytes[:]
	}
	w.exec(`INSERT INTO telemetry (run, batch, vessel, wall, synced, counted_from, counted_to, steps, pack, state_sum) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		w.run, c.batch, c.vessel, c.first.wall.UnixMilli(), c.first.synced, c.from.Milliseconds(), c.to.Milliseconds(), c.rows, pack, check)
}

func wall(ms int64) time.Time { return time.UnixMilli(ms) }
