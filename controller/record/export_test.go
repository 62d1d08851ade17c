package record

import (
	"context"
	"fmt"
)

// LimitPages keeps the file from growing until it is opened anew.
func (r *Record) LimitPages(ctx context.Context) error {
	return r.do(ctx, func(f *file) error {
		var pages int
		return f.db.QueryRowContext(context.Background(), "PRAGMA max_page_count = 1").Scan(&pages)
	})
}

// Forget empties SQLite's cache, so that the file is read again.
func (r *Record) Forget(ctx context.Context) error {
	return r.do(ctx, func(f *file) error {
		_, err := f.db.ExecContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE); PRAGMA shrink_memory")
		return err
	})
}

// Thin does one piece of thinning, as a flush does when nothing waits.
func (r *Record) Thin(ctx context.Context) error {
	return r.do(ctx, func(*file) error { return r.thin() })
}

// Hold keeps the goroutine busy, as a disk that hangs does, until let is closed.
func (r *Record) Hold(held chan<- struct{}, let <-chan struct{}) error {
	return r.do(context.Background(), func(*file) error {
		close(held)
		<-let
		return nil
	})
}

// Bound lowers what is kept in memory.
func (r *Record) Bound(telemetry int, events int64) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.pending.bounds = bounds{telemetry, events}
}

// MostRaw bounds an unpacked pack.
const MostRaw = mostRaw

// Deflated is raw bytes as a pack of them would be stored.
func Deflated(raw []byte) []byte {
	p := packer{buf: raw}
	b, err := p.bytes()
	if err != nil {
		panic(err)
	}
	return b
}

// FirstVersion is the script of the first version of the file.
func FirstVersion() string {
	return migrations()[0] + fmt.Sprintf(";PRAGMA user_version = 1;PRAGMA application_id = %d", applicationID)
}
