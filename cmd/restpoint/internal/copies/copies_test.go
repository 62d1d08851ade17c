package copies_test

import (
	"bytes"
	"errors"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/cobra"

	"example.org/restpoint/cmd/restpoint/internal/copies"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
)

// brewed is a record with one batch, still open.
func brewed(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "record.db")
	r, _, err := record.Open(t.Context(), record.Options{Path: path})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = r.Close(t.Context()) })
	s := controller.Fresh()
	s.Mode, s.Batch.ID = controller.InBatch, "b12"
	err = r.Commit(t.Context(), []record.Entry{{
		Vessel: "fv1", State: s, Batch: &record.BatchInfo{ID: "b12", Vessel: "fv1", Name: "ale"},
		Events: []controller.Event{{Kind: controller.BatchStarted}},
	}}, controller.PlantState{})
	if err != nil {
		t.Fatal(err)
	}
	return path
}

func TestCopiesAreMadeOfARecordAtWork(t *testing.T) {
	path := brewed(t)
	folder := t.TempDir()
	find := func(site string) (string, error) {
		if site != "site.yaml" {
			return "", errors.New("there is no such site")
		}
		return path, nil
	}
	for _, c := range []struct {
		name string
		verb func(*bytes.Buffer) *cobra.Command
		args []string
		says string
		file string // that is then a record of the batch
	}{
		{"the whole, by its site", backup(find), []string{"-c", "site.yaml", folder + "/a.db"}, path + " is copied to", "a.db"},
		{"the whole, by its path", backup(find), []string{"--record", path, folder + "/b.db"}, path + " is copied to", "b.db"},
		{"a batch", archive(find), []string{"b12", "-o", folder + "/c.db", "--record", path}, "batch b12 of " + path, "c.db"},
		{"not over a file", backup(find), []string{"--record", path, folder + "/a.db"}, "there already", ""},
		{"not of a site that is not there", backup(find), []string{"-c", "other.yaml", folder + "/d.db"}, "no such site", ""},
		{"not of a batch that is not there", archive(find), []string{"b7", "-o", folder + "/d.db", "--record", path}, `no batch "b7"`, ""},
		{"not to nowhere", archive(find), []string{"b12", "--record", path}, "needs a file", ""},
		{"not of a record that is not there", archive(find), []string{"b12", "-o", folder + "/d.db"}, "/var/lib/restpoint/record.db", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			var out bytes.Buffer
			cmd := c.verb(&out)
			cmd.SetArgs(c.args)
			cmd.SilenceUsage, cmd.SilenceErrors = true, true
			var said string
			if err := cmd.ExecuteContext(t.Context()); err != nil {
				said = err.Error()
			} else {
				said = out.String()
			}
			if !strings.Contains(said, c.says) {
				t.Errorf("said %q, want %q", said, c.says)
			}
			if c.file == "" {
				return
			}
			r, err := record.Read(t.Context(), filepath.Join(folder, c.file))
			if err != nil {
				t.Fatal(err)
			}
			batches, err := r.Batches(t.Context())
			if err = errors.Join(err, r.Close()); err != nil || len(batches) != 1 || batches[0].ID != "b12" {
				t.Errorf("batches %+v (%v)", batches, err)
			}
		})
	}
}

func backup(find copies.Find) func(*bytes.Buffer) *cobra.Command {
	return func(b *bytes.Buffer) *cobra.Command { return copies.Backup(b, find) }
}

func archive(find copies.Find) func(*bytes.Buffer) *cobra.Command {
	return func(b *bytes.Buffer) *cobra.Command { return copies.Archive(b, find) }
}
