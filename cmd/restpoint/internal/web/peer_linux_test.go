package web_test

import (
	"bytes"
	"context"
	"errors"
	"net"
	"net/http"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/web"
	"example.org/restpoint/controller"
)

// The kernel says who is at the other end, whatever the order claims.
func TestWhoAsksIsWhoTheKernelSays(t *testing.T) {
	path := filepath.Join(t.TempDir(), "s")
	l, err := (&net.ListenConfig{}).Listen(t.Context(), "unix", path)
	if err != nil {
		t.Fatal(err)
	}
	asked := &loop{taken: true, stored: true}
	server := &http.Server{Handler: socket(asked, nil), ConnContext: web.WithPeer, ReadHeaderTimeout: time.Second}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(l) }()
	client := &http.Client{Timeout: 10 * time.Second, Transport: &http.Transport{
		DisableKeepAlives: true,
		DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
			return (&net.Dialer{}).DialContext(ctx, "unix", path)
		},
	}}
	req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, "http://restpoint/api/v1/orders", bytes.NewReader([]byte(`{"vessel":"fv1","do":"advance"}`)))
	if err != nil {
		t.Fatal(err)
	}
	resp, err := client.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	if err := resp.Body.Close(); err != nil || resp.StatusCode != http.StatusOK {
		t.Errorf("%s %v", resp.Status, err)
	}
	if err := server.Shutdown(t.Context()); err != nil {
		t.Error(err)
	}
	if err := <-ended; !errors.Is(err, http.ErrServerClosed) {
		t.Error(err)
	}
	want := "uid " + strconv.Itoa(os.Getuid())
	if u, err := user.Current(); err == nil {
		want = u.Username
	}
	if o := asked.got[0].order; o.Who != want || o.Do.Kind != controller.AdvanceNow {
		t.Errorf("the order is by %q, want %q", o.Who, want)
	}
}

// A connection over the network is nobody's.
func TestOverTheNetworkNobodyIsKnown(t *testing.T) {
	l, err := (&net.ListenConfig{}).Listen(t.Context(), "tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	c, err := (&net.Dialer{}).DialContext(t.Context(), "tcp", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if who := web.Peer(web.WithPeer(t.Context(), c)); who != "" {
		t.Errorf("a connection over TCP is %q", who)
	}
}
