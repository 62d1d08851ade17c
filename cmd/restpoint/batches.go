package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/spf13/cobra"

	"example.org/restpoint/cmd/restpoint/internal/history"
	"example.org/restpoint/cmd/restpoint/internal/report"
	"example.org/restpoint/cmd/restpoint/internal/site"
	"example.org/restpoint/controller/record"
)

// The verbs that read what was recorded. The running program goes on meanwhile.

// defaultRecord is where the record lies unless the site says otherwise.
const defaultRecord = "/var/lib/restpoint/record.db"

// recordFlags say which record.
type recordFlags struct{ record, site string }

func (f *recordFlags) add(c *cobra.Command) {
	c.Flags().StringVar(&f.record, "record", "", "the record (default: the site's, or "+defaultRecord+")")
	c.Flags().StringVarP(&f.site, "site", "c", "", "the site file, to find the record")
}

func (f *recordFlags) path() (string, error) {
	switch {
	case f.record != "":
		return f.record, nil
	case f.site == "":
		return defaultRecord, nil
	}
	s, err := site.Load(f.site)
	if err != nil {
		return "", configError{err}
	}
	return s.Record, nil
}

func (f *recordFlags) open(ctx context.Context) (*record.Reader, error) {
	path, err := f.path()
	if err != nil {
		return nil, err
	}
	return record.Read(ctx, path)
}

// gather opens the record and reads one batch; the newest where none is named.
func (f *recordFlags) gather(ctx context.Context, args []string, do func(*record.Reader, *history.Batch) error) (err error) {
	r, err := f.open(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	id := ""
	if len(args) > 0 {
		id = args[0]
	}
	info, err := history.Find(ctx, r, id)
	if err != nil {
		return err
	}
	b, err := history.Gather(ctx, r, info)
	if err != nil {
		return err
	}
	return do(r, b)
}

func batchesCommand(e env) *cobra.Command {
	var f recordFlags
	var asJSON bool
	c := &cobra.Command{
		Use: "batches", Short: "List the batches of the record and compare them",
		Long: `List the batches of the record, the oldest first, with what became of them: the
gravities, the apparent attenuation by points, the alcohol after Balling, and how
far the beer was off its target in its primary (root of the mean square).`,
		Example: "  restpoint batches -c /etc/restpoint/site.yaml",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) (err error) {
			r, err := f.open(cmd.Context())
			if err != nil {
				return err
			}
			defer func() { err = errors.Join(err, r.Close()) }()
			return batches(cmd.Context(), e, r, asJSON)
		},
	}
	f.add(c)
	c.Flags().BoolVar(&asJSON, "json", false, "print one JSON object a batch")
	return c
}

// batchRow is one batch in the list; what is not known is null.
type batchRow struct {
	Batch       string   `json:"batch"`
	Vessel      string   `json:"vessel"`
	Schedule    string   `json:"schedule"`
	Started     string   `json:"started"`
	Ended       string   `json:"ended,omitempty"`
	Days        float64  `json:"days"`
	Original    float64  `json:"original_gravity_sg"`
	Final       *float64 `json:"final_gravity_sg"`
	Terminal    bool     `json:"terminal"`
	Attenuation *float64 `json:"apparent_attenuation_percent"`
	Alcohol     *float64 `json:"alcohol_percent_by_volume"`
	Off         *float64 `json:"primary_off_target_kelvin"`
}

func newBatchRow(b *history.Batch) batchRow {
	row := batchRow{
		Batch: b.ID, Vessel: b.Vessel, Schedule: b.Name, Started: b.Started.Format(time.RFC3339),
		Days: round(b.Length.Hours()/24, 2), Original: float64(b.Original),
	}
	if !b.Ended.IsZero() {
		row.Ended = b.Ended.Format(time.RFC3339)
	}
	if f := b.Figures(); f.Known {
		row.Original, row.Terminal = round(float64(f.Original), 4), f.Terminal
		row.Final, row.Attenuation, row.Alcohol = number(float64(f.Final), 4), number(100*f.Apparent, 1), number(float64(f.ByVolume), 2)
	}
	if h, ok := b.Primary(); ok {
		row.Off = number(float64(h.Error), 2)
	}
	return row
}

func batches(ctx context.Context, e env, r *record.Reader, asJSON bool) error {
	list, err := r.Batches(ctx)
	if err != nil {
		return err
	}
	out := bufio.NewWriter(e.out)
	if !asJSON {
		_, _ = fmt.Fprintln(out, "batch        vessel  begun         days  original   final  atten. alcohol    off")
	}
	for i := range list {
		b, err := history.Gather(ctx, r, list[i])
		if err != nil {
			return err
		}
		row := newBatchRow(b)
		if asJSON {
			err = json.NewEncoder(out).Encode(row)
		} else {
			err = row.writeText(out, b.Started)
		}
		if err != nil {
			return fmt.Errorf("write the list: %w", err)
		}
	}
	if err := out.Flush(); err != nil {
		return fmt.Errorf("write the list: %w", err)
	}
	return nil
}

func (r *batchRow) writeText(w io.Writer, started time.Time) error {
	cell := func(v *float64, format string) string {
		if v == nil {
			return "-"
		}
		return fmt.Sprintf(format, *v)
	}
	days := fmt.Sprintf("%.1f", r.Days)
	if r.Ended == "" {
		days += "+" // it runs
	}
	_, err := fmt.Fprintf(w, "%-12s %-7s %-10s %7s  %8.4f  %6s  %6s %7s %6s\n", clip(r.Batch, 12), clip(r.Vessel, 7), started.Format("2006-01-02"), days,
		r.Original, cell(r.Final, "%.4f"), cell(r.Attenuation, "%.1f %%"), cell(r.Alcohol, "%.1f %%"), cell(r.Off, "%.2f K"))
	return err
}

// clip shortens a name to its column.
func clip(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return s
}

func exportCommand(e env) *cobra.Command {
	var f recordFlags
	var to string
	var asCSV, asJSON, schedule bool
	c := &cobra.Command{
		Use: "export [BATCH]", Short: "Write out every step of a batch",
		Long: `Write out every step of a batch, the newest where none is named. CSV is after
RFC 4180; its columns say their units, its rows are steps:

  time, hours             RFC 3339; since the batch began
  stage                   in which the batch was
  beer_celsius, surround_celsius, ambient_celsius, hydrometer_celsius
  gravity_sg, verdict     as the hydrometer gave it, calibrated; what was made of it
  gravity_raw             the hydrometer's own number
  heat, cool              1 = the relay was on since the row before
  who, order              what people asked, in the words of restpoint tell

An empty cell is no reading. JSON holds the same rows, and the schedule, events,
orders and decisions besides. restpoint replay reads the CSV; --schedule writes the
schedule that it was led by.`,
		Example: "  restpoint export batch-12 -o batch-12.csv\n  restpoint export batch-12 --schedule -o batch-12.yaml",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if asCSV && asJSON || schedule && (asCSV || asJSON) {
				return badUse("export writes one thing at a time: --csv, --json or --schedule")
			}
			return f.gather(cmd.Context(), args, func(r *record.Reader, b *history.Batch) error {
				err := toPath(e, to, func(w io.Writer) error {
					switch {
					case schedule:
						_, err := io.WriteString(w, b.Schedule)
						return err
					case asJSON:
						return b.WriteJSON(cmd.Context(), r, w)
					}
					return b.WriteCSV(cmd.Context(), r, w)
				})
				if err == nil && b.Damaged > 0 {
					_, _ = fmt.Fprintf(e.err, "note: %d pieces of the record cannot be read; their steps are missing\n", b.Damaged)
				}
				return err
			})
		},
	}
	f.add(c)
	c.Flags().StringVarP(&to, "out", "o", "", "the file to write (default: standard output)")
	c.Flags().BoolVar(&asCSV, "csv", false, "CSV, which is the default")
	c.Flags().BoolVar(&asJSON, "json", false, "JSON")
	c.Flags().BoolVar(&schedule, "schedule", false, "only the schedule, as it was when the batch began or adopted it")
	return c
}

func reportCommand(e env) *cobra.Command {
	var f recordFlags
	var to string
	c := &cobra.Command{
		Use: "report [BATCH]", Short: "Write a batch down on one page",
		Long: `Write a batch down on one page of HTML, the newest where none is named: its curve
with stages and decisions, its figures, how well it was held, what the relays did,
forecasts against what came, alarms, orders, and the pressure for the bright tank.
The file needs no other one and no script, and can be printed.`,
		Example: "  restpoint report batch-12 -o batch-12.html",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return f.gather(cmd.Context(), args, func(r *record.Reader, b *history.Batch) error {
				if err := b.ReadGravities(cmd.Context(), r); err != nil {
					return err
				}
				return toPath(e, to, func(w io.Writer) error { return report.Write(w, b, powersOf(b), build().Version) })
			})
		},
	}
	f.add(c)
	c.Flags().StringVarP(&to, "out", "o", "", "the file to write (default: standard output)")
	return c
}

func backupCommand(e env) *cobra.Command {
	var f recordFlags
	c := &cobra.Command{
		Use: "backup FILE", Short: "Copy the whole record into a file, while it is written",
		Long: `Copy the whole record into a new file. The program may be at work: what is
copied is what was stored at one moment. FILE is there when it is whole, and a file
that is there already is not written over. To go back to it, stop the program and
put it in the record's place, without the files NAME-wal and NAME-shm beside it.`,
		Example: "  restpoint backup -c /etc/restpoint/site.yaml /mnt/stick/2026-03-01.db",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			path, err := f.path()
			if err != nil {
				return err
			}
			if err := record.Backup(cmd.Context(), path, args[0]); err != nil {
				return err
			}
			_, err = fmt.Fprintf(e.out, "%s is copied to %s\n", path, args[0])
			return err
		},
	}
	f.add(c)
	return c
}

func archiveCommand(e env) *cobra.Command {
	var f recordFlags
	to := ""
	c := &cobra.Command{
		Use: "archive BATCH -o FILE", Short: "Copy one batch into a record of its own",
		Long: `Copy a batch with all that belongs to it into a new file: a record as any other,
which replay, report and export open. Nothing is taken out of the record. Do so
within 90 days of the batch's end: later only one reading a minute is left of it.`,
		Example: "  restpoint archive b12 -o b12.db -c /etc/restpoint/site.yaml",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if to == "" {
				return badUse("archive needs a file: -o FILE")
			}
			path, err := f.path()
			if err != nil {
				return err
			}
			if err := record.Archive(cmd.Context(), path, args[0], to); err != nil {
				return err
			}
			_, err = fmt.Fprintf(e.out, "batch %s of %s is copied to %s\n", args[0], path, to)
			return err
		},
	}
	f.add(c)
	c.Flags().StringVarP(&to, "out", "o", "", "the new file")
	return c
}

// powersOf finds the powers of the relays in the site file that the batch began with.
func powersOf(b *history.Batch) report.Powers {
	s, err := site.Read("record", []byte(b.Site))
	if err != nil {
		return report.Powers{} // a batch of before, or of another version: they are not known
	}
	i := s.Find(b.Vessel)
	if i < 0 {
		return report.Powers{}
	}
	v := s.Vessel(i)
	return report.Powers{Heat: v.Heat.Power, Cool: v.Cool.Power}
}

// toPath writes to a file, whole or not at all, or to standard output. What is no file,
// such as a pipe, is written to as it is.
func toPath(e env, path string, write func(io.Writer) error) error {
	if path == "" {
		return write(e.out)
	}
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		to, err := os.OpenFile(path, os.O_WRONLY, 0) //nolint:gosec // the operator names the file
		if err != nil {
			return fmt.Errorf("write: %w", err)
		}
		return errors.Join(write(to), to.Close())
	}
	f, err := os.Create(path + ".part") //nolint:gosec // the operator names the file
	if err != nil {
		return fmt.Errorf("write: %w", err)
	}
	err = errors.Join(write(f), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	return nil
}
