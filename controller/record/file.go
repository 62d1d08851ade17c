package record

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// errBroken is a file that SQLite cannot read: it is moved aside.
var errBroken = errors.New("the file is broken")

// errNewer is a file that a newer program wrote: it is left alone.
var errNewer = errors.New("a newer program wrote the file")

// errRefused is a file that is not ours to write: a person must decide.
var errRefused = errors.New("the file is not ours to write")

// file is the open SQLite file. It is used by one goroutine only.
type file struct {
	db      *sql.DB
	version int
	info    os.FileInfo // of the file that is open; nil = not known yet
}

// openFile opens or makes the file and looks whether it may be used. It writes
// nothing yet, so that a full disk does not hide the states.
func openFile(path string, check bool) (*file, error) {
	f, err := connect(dsn(path), check)
	return f, wrapIf("open the record "+path, err)
}

// connect opens the file that is named with all that a connection begins with.
func connect(name string, check bool) (*file, error) {
	db, err := sql.Open("sqlite", name)
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	db.SetMaxIdleConns(1)
	f := &file{db: db}
	if err := f.look(check); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return f, nil
}

// dsn names the file and what every connection begins with. Other processes may
// read meanwhile, so the journal's index is a file that all of them map; SQLite
// writes each of its pages before it maps them, so that a full disk is an error
// there and not a fault of memory. The journal goes into the file after 100 pages, a
// half hour of flushes, for SQLite takes a bit that flipped in it for its end: with the
// usual 1000 a third of a day would be gone. It costs a tenth more of wear.
func dsn(path string) string {
	return uri(path) + "?_txlock=immediate" +
		"&_pragma=busy_timeout(2000)&_pragma=wal_autocheckpoint(100)" +
		"&_pragma=synchronous(FULL)&_pragma=foreign_keys(ON)&_pragma=trusted_schema(OFF)"
}

// uri names the file, whatever marks its name holds.
func uri(path string) string {
	return "file:" + strings.NewReplacer("%", "%25", "?", "%3f", "#", "%23").Replace(path)
}

// look finds out whether the file is whole and ours.
func (f *file) look(check bool) error {
	var app, tables int
	if err := f.number("PRAGMA user_version", &f.version); err != nil {
		return err
	}
	if err := f.number("PRAGMA application_id", &app); err != nil {
		return err
	}
	if err := f.number("SELECT count(*) FROM sqlite_schema", &tables); err != nil {
		return err
	}
	switch newest := len(migrations()); {
	case tables == 0 && f.version == 0:
		return nil
	case app != applicationID:
		return fmt.Errorf("%w: it is a database of another program", errRefused)
	case f.version > newest:
		return fmt.Errorf("%w: it has version %d, this program knows versions up to %d: use the newer program, or another file", errNewer, f.version, newest)
	case !check:
		return nil
	}
	var found string
	if err := f.db.QueryRowContext(context.Background(), "PRAGMA quick_check(1)").Scan(&found); err != nil {
		return wrap("check", err)
	}
	if found != "ok" {
		return fmt.Errorf("%w: %s", errBroken, found)
	}
	return nil
}

func (f *file) number(query string, to *int) error {
	return wrap(query, f.db.QueryRowContext(context.Background(), query).Scan(to))
}

// prepare makes the file ready to be written: journal and newest version.
func (f *file) prepare(path string) error {
	var mode string
	if err := f.db.QueryRowContext(context.Background(), "PRAGMA journal_mode = WAL").Scan(&mode); err != nil {
		return wrap("begin the journal", err)
	}
	if mode != "wal" {
		return fmt.Errorf("begin the journal: it is %q instead of a write-ahead log", mode)
	}
	list := migrations()
	for f.version < len(list) {
		next := f.version + 1
		script := list[f.version] + fmt.Sprintf(";PRAGMA user_version = %d;PRAGMA application_id = %d", next, applicationID)
		err := f.transact(func(tx *sql.Tx) error {
			_, err := tx.ExecContext(context.Background(), script)
			return err
		})
		if err != nil {
			return wrap(fmt.Sprintf("bring the file to version %d", next), err)
		}
		f.version = next
	}
	info, err := os.Stat(path)
	f.info = info
	return wrap("look at the file", err)
}

// there tells whether the open file still has its name.
func (f *file) there(path string) bool {
	info, err := os.Stat(path)
	if errors.Is(err, os.ErrNotExist) {
		return false
	}
	return err != nil || f.info == nil || os.SameFile(f.info, info)
}

func (f *file) transact(do func(tx *sql.Tx) error) error {
	tx, err := f.db.BeginTx(context.Background(), nil)
	if err != nil {
		return err
	}
	if err := do(tx); err != nil {
		return errors.Join(err, tx.Rollback())
	}
	return tx.Commit()
}

// wrap says what was tried, and marks what only a broken file gives.
func wrap(tried string, err error) error {
	if err == nil {
		return nil
	}
	if e, ok := errors.AsType[*sqlite.Error](err); ok {
		switch e.Code() & 0xff {
		case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
			return fmt.Errorf("%s: %w: %w", tried, errBroken, err)
		}
	}
	return fmt.Errorf("%s: %w", tried, err)
}

// moveAside gives the broken file and its journal another name. Nothing is ever
// deleted: a person may still get something out of it.
func moveAside(path string, now time.Time) (string, error) {
	aside := path + ".broken-" + now.UTC().Format("20060102T150405Z")
	for n := 2; ; n++ {
		if _, err := os.Lstat(aside); errors.Is(err, os.ErrNotExist) {
			break
		}
		aside = fmt.Sprintf("%s.broken-%s-%d", path, now.UTC().Format("20060102T150405Z"), n)
	}
	for _, end := range []string{"", "-wal", "-shm"} { // the file first: a journal alone is harmless
		if err := os.Rename(path+end, aside+end); err != nil && !errors.Is(err, os.ErrNotExist) {
			return "", fmt.Errorf("move the broken record aside: %w", err)
		}
	}
	dir, err := os.Open(filepath.Dir(path))
	if err != nil {
		return "", fmt.Errorf("move the broken record aside: %w", err)
	}
	return aside, errors.Join(dir.Sync(), dir.Close())
}
