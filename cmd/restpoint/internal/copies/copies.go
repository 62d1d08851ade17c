// Package copies holds the verbs that copy a record: the whole of it, or one batch.
//
// It refuses to write over a file, and to take anything out of the record.
package copies

import (
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"example.org/restpoint/controller/record"
)

// defaultRecord is where the record is unless a site says otherwise.
const defaultRecord = "/var/lib/restpoint/record.db"

// Find gives the path of the record of a site file.
type Find func(site string) (string, error)

// source are the flags that say which record is meant.
type source struct {
	site, path string
	find       Find
}

func (s *source) flags(c *cobra.Command) {
	c.Flags().StringVarP(&s.site, "site", "c", "", "the site file, to find the record")
	c.Flags().StringVar(&s.path, "record", "", "the record itself, instead of a site file")
}

func (s *source) record() (string, error) {
	switch {
	case s.path != "":
		return s.path, nil
	case s.site != "":
		return s.find(s.site)
	}
	return defaultRecord, nil
}

// Backup is the verb that copies the whole record.
func Backup(out io.Writer, find Find) *cobra.Command {
	s := source{find: find}
	c := &cobra.Command{
		Use:   "backup FILE",
		Short: "Copy the whole record into a file, while it is written",
		Long: `Copy the whole record into a new file. The program may be at work: what is
copied is what was stored at one moment. FILE is there when it is whole, and a file
that is there already is not written over. To go back to it, stop the program and
put it in the record's place, without the files NAME-wal and NAME-shm beside it.`,
		Example: "  restpoint backup -c /etc/restpoint/site.yaml /mnt/stick/2026-03-01.db",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			path, err := s.record()
			if err != nil {
				return err
			}
			if err := record.Backup(cmd.Context(), path, args[0]); err != nil {
				return err
			}
			_, err = fmt.Fprintf(out, "%s is copied to %s\n", path, args[0])
			return err
		},
	}
	s.flags(c)
	return c
}

// Archive is the verb that copies one batch.
func Archive(out io.Writer, find Find) *cobra.Command {
	s := source{find: find}
	to := ""
	c := &cobra.Command{
		Use:   "archive BATCH -o FILE",
		Short: "Copy one batch into a file of its own",
		Long: `Copy a batch with all that belongs to it into a new file: a record as any other,
which replay and the other readers open. Nothing is taken out of the record. Do so
within 90 days of the batch's end: later only one reading a minute is left of it.`,
		Example: "  restpoint archive b12 -o b12.db -c /etc/restpoint/site.yaml",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if to == "" {
				return errors.New("archive needs a file: -o FILE")
			}
			path, err := s.record()
			if err != nil {
				return err
			}
			if err := record.Archive(cmd.Context(), path, args[0], to); err != nil {
				return err
			}
			_, err = fmt.Fprintf(out, "batch %s of %s is copied to %s\n", args[0], path, to)
			return err
		},
	}
	c.Flags().StringVarP(&to, "output", "o", "", "the new file")
	s.flags(c)
	return c
}
