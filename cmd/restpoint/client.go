package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"time"

	"example.org/restpoint/cmd/restpoint/internal/site"
	"example.org/restpoint/cmd/restpoint/internal/web"
)

// client talks to the running program over its socket.
type client struct {
	path string
	http *http.Client
}

// defaultSocket is where the program listens for orders unless its site says
// otherwise.
const defaultSocket = "/run/restpoint/restpoint.sock"

// newClient finds the socket: named, or in the site file, or where it usually is.
func newClient(socket, sitePath string) (*client, error) {
	if socket == "" && sitePath != "" {
		s, err := site.Load(sitePath)
		if err != nil {
			return nil, configError{err}
		}
		socket = s.Socket
	}
	if socket == "" {
		socket = defaultSocket
	}
	dial := func(ctx context.Context, _, _ string) (net.Conn, error) {
		return (&net.Dialer{}).DialContext(ctx, "unix", socket)
	}
	return &client{socket, &http.Client{Timeout: 30 * time.Second, Transport: &http.Transport{DialContext: dial, DisableKeepAlives: true}}}, nil
}

// call sends one request and reads its answer into to.
func (c *client) call(ctx context.Context, method, path string, body, to any) error {
	var in io.Reader = http.NoBody
	if body != nil {
		text, err := json.Marshal(body)
		if err != nil {
			return fmt.Errorf("write the request: %w", err)
		}
		in = bytes.NewReader(text)
	}
	req, err := http.NewRequestWithContext(ctx, method, "http://restpoint"+path, in)
	if err != nil {
		return fmt.Errorf("make the request: %w", err)
	}
	resp, err := c.http.Do(req)
	if err != nil {
		return fmt.Errorf("ask the running program at %s: %w; is it running, and may you use its socket?", c.path, err)
	}
	defer func() { _ = resp.Body.Close() }()
	text, err := io.ReadAll(io.LimitReader(resp.Body, 8<<20))
	if err != nil {
		return fmt.Errorf("read the answer: %w", err)
	}
	if resp.StatusCode != http.StatusOK {
		var said struct{ Error string }
		if json.Unmarshal(text, &said) == nil && said.Error != "" {
			return errors.New(said.Error)
		}
		return fmt.Errorf("the program answered %s", resp.Status)
	}
	if err := json.Unmarshal(text, to); err != nil {
		return fmt.Errorf("read the answer: %w", err)
	}
	return nil
}

func (c *client) state(ctx context.Context) (web.StateJSON, error) {
	var s web.StateJSON
	err := c.call(ctx, http.MethodGet, "/api/v1/state", nil, &s)
	return s, err
}
