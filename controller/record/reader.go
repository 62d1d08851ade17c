package record

import (
	"context"
	"errors"
	"fmt"
	"os"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// Reader reads a record and never writes to it: the one of a program that is at
// work, a copy, or one on a card that cannot be written. It may be used by several
// goroutines at once.
type Reader struct {
	questions

	file *file
}

// Read opens a record for reading. What a running program has flushed is there;
// each question sees what is stored when it is asked.
func Read(ctx context.Context, path string) (*Reader, error) {
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("read the record %s: %w", path, err)
	}
	if info, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("read the record: %w", err)
	} else if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("read the record %s: it is not a file", path)
	}
	f, err := openReader(path, false)
	if e, ok := errors.AsType[*sqlite.Error](err); ok && e.Code()&0xff == sqlite3.SQLITE_NOTADB {
		return nil, fmt.Errorf("read the record %s: it is no record: it is no SQLite database", path)
	}
	if err != nil {
		return nil, fmt.Errorf("read the record %s: %w", path, err)
	}
	if f.version == 0 {
		return nil, errors.Join(fmt.Errorf("read the record %s: it is empty", path), f.db.Close())
	}
	r := &Reader{file: f}
	r.questions = questions{do: r.ask}
	return r, nil
}

// openReader opens the file as it lies there. Where no index for its journal can
// be made beside it, on a card that is full or may not be written, no program writes
// to it either: then it is read without locks, its journal with an index in memory.
func openReader(path string, check bool) (*file, error) {
	f, err := connect(readOnly(path), check)
	if err == nil || !noIndex(err) {
		return f, err
	}
	how := "&vfs=unix-none&_pragma=locking_mode(EXCLUSIVE)"
	if info, err := os.Stat(path + "-wal"); errors.Is(err, os.ErrNotExist) || err == nil && info.Size() == 0 {
		how = "&immutable=1"
	}
	return connect(readOnly(path)+how, check)
}

// readOnly names a file that is to be read. The wait is for the moments in which the
// writer begins its journal anew.
func readOnly(path string) string {
	return uri(path) + "?mode=ro&_pragma=busy_timeout(5000)&_pragma=query_only(ON)&_pragma=trusted_schema(OFF)"
}

// noIndex tells whether an error can come of a folder in which nothing may be written.
func noIndex(err error) bool {
	e, ok := errors.AsType[*sqlite.Error](err)
	if !ok {
		return false
	}
	switch e.Code() & 0xff {
	case sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_IOERR:
		return true
	}
	return false
}

func (r *Reader) ask(ctx context.Context, question func(*file) error) error {
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("read the record: %w", err)
	}
	return wrapIf("read the record", question(r.file))
}

// Close lets go of the file.
func (r *Reader) Close() error { return wrapIf("close the record", r.file.db.Close()) }
