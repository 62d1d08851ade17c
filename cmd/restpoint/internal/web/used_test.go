package web_test

import (
	"context"
	"errors"
	"net/http"
	"strings"
	"testing"

	"example.org/restpoint/cmd/restpoint/internal/web"
	"example.org/restpoint/controller"
)

// A batch's id is its name in the record: it is given once, in whatever vessel.
func TestABatchIDIsGivenOnce(t *testing.T) {
	text := schedule(t)
	for _, row := range []struct {
		name   string
		used   func(context.Context, string) (bool, error)
		status int
		says   string
	}{
		{"a new id", func(context.Context, string) (bool, error) { return false, nil }, http.StatusOK, "taken"},
		{"a used id", func(_ context.Context, id string) (bool, error) { return id == "b1", nil }, http.StatusUnprocessableEntity, "there is a batch b1"},
		{"a record that cannot be asked", func(context.Context, string) (bool, error) { return false, errors.New("no disk") }, http.StatusUnprocessableEntity, "no disk"},
	} {
		l := &loop{taken: true, stored: true}
		h := web.Socket(web.SocketOptions{Latest: func() *controller.Snapshot { return nil }, Give: l.give, Used: row.used, Now: at})
		w := post(h, asJSON(t, web.Order{Vessel: "fv2", Do: "start pale-ale-with-rest as b1", ScheduleName: "pale-ale-with-rest", ScheduleText: text}))
		if w.Code != row.status || !strings.Contains(w.Body.String(), row.says) {
			t.Errorf("%s: %d %s", row.name, w.Code, w.Body)
		}
		if reached := len(l.got) == 1; reached != (row.status == http.StatusOK) {
			t.Errorf("%s: the loop got %d orders", row.name, len(l.got))
		}
	}
}
