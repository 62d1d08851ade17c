package daemon_test

import (
	"bytes"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"

	"example.org/restpoint/cmd/restpoint/internal/daemon"
	"example.org/restpoint/controller/alarms"
	"example.org/restpoint/controller/relay"
)

// A contact that is measured closed though its relay is off is told of within two
// steps; one that cannot be read counts as not measured, is said once, and stops
// nothing.
func TestMeasuredContactsReachTheCore(t *testing.T) {
	path := filepath.Join(t.TempDir(), "contact")
	put := func(text string) {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	put("0")
	contacts, err := relay.OpenContacts(nil, []string{"fv1"}, []relay.ContactSpec{{Vessel: "fv1", Role: relay.Heat, Kind: relay.File, Path: path}})
	if err != nil {
		t.Fatal(err)
	}
	var log bytes.Buffer
	synctest.Test(t, func(t *testing.T) {
		c := open(t, func(cfg *daemon.Config) {
			cfg.Contacts, cfg.Log = contacts, slog.New(slog.NewTextHandler(&log, nil))
		})
		defer c.close()
		c.begin(19)
		if s := c.steps(5, 19); raised(s, string(alarms.RelayStuck)) {
			t.Fatal("an open contact is an alarm")
		}
		put("1")
		c.steps(1, 19)
		if s := c.steps(1, 19); !raised(s, string(alarms.RelayStuck)) {
			t.Error("a closed contact of a relay that is off is no alarm")
		}
		put("0")
		if s := c.steps(15, 19); raised(s, string(alarms.RelayStuck)) {
			t.Error("the alarm stays though the contact opened")
		}
		put("neither")
		if s := c.steps(5, 19); raised(s, string(alarms.RelayStuck)) || s.Vessels[0].Decision.Beer.Failed {
			t.Error("a contact that cannot be read is an alarm")
		}
		if n := strings.Count(log.String(), "contacts of relays could not be read"); n != 1 {
			t.Errorf("said %d times: %s", n, log.String())
		}
	})
}
