package record

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// Backup copies the whole record into a new file, while it is written to: what is
// stored at one moment. The copy has its name only when it is whole.
func Backup(ctx context.Context, from, to string) error {
	return copied(ctx, from, to, func(part string) error {
		db, err := sql.Open("sqlite", uri(from)+"?mode=ro&_pragma=busy_timeout(5000)&_pragma=trusted_schema(OFF)")
		if err != nil {
			return err
		}
		_, err = db.ExecContext(ctx, `VACUUM INTO ?`, uri(part))
		return errors.Join(err, db.Close())
	})
}

// Archive copies one batch with all that belongs to it into a new file, which is a
// record as any other. Nothing is taken out of the record.
func Archive(ctx context.Context, from, batch, to string) error {
	return copied(ctx, from, to, func(part string) error {
		f, err := openFile(part, false)
		if err != nil {
			return err
		}
		if err := f.prepare(part); err != nil {
			return errors.Join(err, f.db.Close())
		}
		err = f.take(ctx, from, batch)
		if err == nil {
			_, err = f.db.ExecContext(ctx, `DETACH source; PRAGMA journal_mode = DELETE`)
		}
		return errors.Join(err, f.db.Close())
	})
}

// take copies the rows of a batch, and what else happened in the steps in which it
// began and ended, which belongs to none: without it these steps could not be taken
// again. Where the site file of a begin stands in an earlier row, it is written out.
func (f *file) take(ctx context.Context, from, batch string) error {
	if _, err := f.db.ExecContext(ctx, `ATTACH ? AS source`, uri(from)+"?mode=ro"); err != nil {
		return err
	}
	return f.transact(func(tx *sql.Tx) error {
		result, err := tx.ExecContext(ctx, `INSERT INTO batches SELECT * FROM source.batches WHERE id = ?`, batch)
		if err != nil {
			return err
		}
		if n, err := result.RowsAffected(); err != nil || n != 1 {
			return errors.Join(fmt.Errorf("there is no batch %q in it", batch), err)
		}
		for _, query := range []string{
			`PRAGMA defer_foreign_keys = ON`,
			`INSERT INTO runs SELECT * FROM source.runs WHERE id IN (
				SELECT run FROM source.events WHERE batch = ?1 UNION SELECT run FROM source.orders WHERE batch = ?1
				UNION SELECT run FROM source.telemetry WHERE batch = ?1 UNION SELECT run FROM source.begins WHERE batch = ?1
				UNION SELECT run FROM source.decisions WHERE batch = ?1)`,
			`INSERT INTO events SELECT * FROM source.events WHERE (run, vessel, counted) IN (SELECT run, vessel, counted FROM source.events WHERE batch = ?1)`,
			`INSERT INTO orders SELECT * FROM source.orders WHERE batch = ?1
				OR (run, vessel, counted) IN (SELECT run, vessel, counted FROM source.events WHERE batch = ?1)`,
			`UPDATE events SET batch = NULL WHERE batch <> ?1`,
			`UPDATE orders SET batch = NULL WHERE batch <> ?1`,
			`INSERT INTO telemetry SELECT * FROM source.telemetry WHERE batch = ?1`,
			`INSERT INTO decisions SELECT * FROM source.decisions WHERE batch = ?1`,
			`INSERT INTO begins SELECT * FROM source.begins WHERE batch = ?1`,
			`UPDATE begins SET site = (SELECT site FROM source.begins s WHERE s.vessel = begins.vessel AND s.id <= begins.id AND s.site IS NOT NULL
				ORDER BY s.id DESC LIMIT 1) WHERE batch = ?1`,
		} {
			var args []any
			if strings.Contains(query, "?1") {
				args = append(args, batch)
			}
			if _, err := tx.ExecContext(ctx, query, args...); err != nil {
				return err
			}
		}
		return nil
	})
}

// copied makes a copy beside its place and puts it there when it is on the card. A
// file that is there already is never written over.
func copied(ctx context.Context, from, to string, how func(part string) error) (err error) {
	tried := fmt.Sprintf("copy the record %s to %s", from, to)
	r, err := Read(ctx, from)
	if err != nil {
		return err
	}
	version := r.file.version
	if err := r.Close(); err != nil {
		return err
	}
	if newest := len(migrations()); version != newest {
		return fmt.Errorf("%s: it has version %d of the file; a program that writes to it brings it to %d first", tried, version, newest)
	}
	if _, err := os.Lstat(to); err == nil {
		return fmt.Errorf("%s: the file is there already", tried)
	}
	folder, err := os.MkdirTemp(filepath.Dir(to), ".record-")
	if err != nil {
		return wrapIf(tried, err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(folder)) }()
	part := filepath.Join(folder, "part.db")
	if err := how(part); err != nil {
		return wrap(tried, err)
	}
	return wrapIf(tried, put(part, to))
}

// put gives a whole file its name, so that it is there after a power cut too.
func put(part, to string) error {
	if err := settle(part); err != nil {
		return err
	}
	if err := os.Rename(part, to); err != nil {
		return err
	}
	return settle(filepath.Dir(to))
}

// settle waits until a file, or what a folder lists, is on the card.
func settle(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
