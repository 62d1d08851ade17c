package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"example.org/restpoint/cmd/restpoint/internal/daemon"
	"example.org/restpoint/cmd/restpoint/internal/site"
	"example.org/restpoint/cmd/restpoint/internal/web"
	"example.org/restpoint/controller"
	"example.org/restpoint/controller/record"
	"example.org/restpoint/controller/relay"
	"example.org/restpoint/profiles"
	"example.org/restpoint/sensors"
)

func runCommand(e env) *cobra.Command {
	var sitePath string
	c := &cobra.Command{
		Use:   "run -c SITE",
		Short: "Look after the vessels of a site",
		Long: `Look after the vessels of a site: read the probes, drive the relays, take orders
over the socket, keep the record, serve page and metrics. Every relay is off when
it starts and when it ends. Nothing starts by itself: give a start order.`,
		Example: "  restpoint run -c /etc/restpoint/site.yaml",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := loadSite(e, sitePath)
			if err != nil {
				return err
			}
			return runSite(cmd.Context(), s, slog.New(slog.NewTextHandler(e.err, nil)))
		},
	}
	c.Flags().StringVarP(&sitePath, "site", "c", "", "the site file")
	return c
}

// cellar is a running site.
type cellar struct {
	site     *site.Site
	log      *slog.Logger
	record   *record.Record
	board    *relay.Board
	contacts *relay.Contacts
	d        *daemon.Daemon
	readings chan controller.Reading
	orders   chan daemon.Ask
}

// How many readings and orders may wait for the loop.
const (
	readingQueue = 256
	orderQueue   = 32
)

// runSite opens everything in an order in which a failure leaves nothing on,
// runs until the context ends, and closes everything.
func runSite(ctx context.Context, s *site.Site, log *slog.Logger) (err error) {
	c := &cellar{site: s, log: log, readings: make(chan controller.Reading, readingQueue), orders: make(chan daemon.Ask, orderQueue)}
	probes, err := openProbes(s)
	if err != nil {
		return err
	}
	push, err := c.push()
	if err != nil {
		return configError{err}
	}
	if c.board, err = openBoard(s); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, c.board.Close()) }()
	closed, specs := contactSpecs(s)
	if c.contacts, err = relay.OpenContacts(nil, closed, specs); err != nil {
		log.Error("a contact cannot be measured; the vessel is looked after without it", "error", err)
	}
	defer func() { err = errors.Join(err, c.contacts.Close()) }()
	rec, restored, err := record.Open(ctx, record.Options{
		Path: s.Record, Flush: s.Flush, BootID: bootID(), Monotonic: sinceBoot, Synchronised: clockSynchronised,
		Log: log, Version: build().Version,
	})
	if err != nil {
		return err
	}
	c.record = rec
	defer func() {
		end, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
		defer cancel()
		err = errors.Join(err, rec.Close(end))
	}()
	vessels, err := c.resume(restored)
	if err != nil {
		return err
	}
	return c.serve(ctx, vessels, restored.Plant, probes, push)
}

// resume puts every vessel back to where the last run left it.
func (c *cellar) resume(restored record.Restored) ([]daemon.Vessel, error) {
	if restored.MovedAside != "" {
		c.log.Error("the record was broken and moved aside; a new one is begun", "aside", restored.MovedAside)
	}
	if restored.Unread != nil {
		c.log.Error("the record could not be read: every vessel idles until a person decides, and nothing is stored", "error", restored.Unread)
	}
	if restored.PlantErr != nil {
		c.log.Error("the state of the shared plant is lost; its compressor rests first", "error", restored.PlantErr)
	}
	for name, saved := range restored.Vessels {
		if c.site.Find(name) < 0 && saved.Batch != nil {
			return nil, configError{fmt.Errorf("batch %s is running in vessel %s, which the site file no longer has", saved.Batch.ID, name)}
		}
	}
	section := ""
	if text, err := os.ReadFile(c.site.File); err == nil {
		section = site.Withhold(text, c.site.Sources)
	}
	var vessels []daemon.Vessel
	for i := range c.site.Vessels {
		v := c.site.Vessel(i)
		saved, known := restored.Vessels[v.Name]
		if !known {
			begin := daemon.Vessel{Vessel: v, State: controller.Fresh(), Section: section}
			begin.State.Lost = restored.MovedAside != "" || restored.Unread != nil // it may hold a beer that nobody knows of
			vessels = append(vessels, begin)
			continue
		}
		begin, err := daemon.Resume(v, section, saved)
		if err != nil {
			c.log.Error("the vessel idles until a person decides", "error", err)
		}
		vessels = append(vessels, begin)
	}
	return vessels, nil
}

// serve starts every goroutine and waits for all of them.
func (c *cellar) serve(ctx context.Context, vessels []daemon.Vessel, plant controller.PlantState, probes []sensors.Probe, push http.Handler) error {
	ticks := make(chan daemon.Tick)
	notify := newServiceManager(os.Getenv)
	c.d = daemon.New(daemon.Config{
		Site: c.site.Name, Build: build(), Vessels: vessels, Shared: sharedPlant(c.site), Plant: plant,
		Board: c.board, Contacts: c.contacts, Record: c.record, Ticks: ticks, Readings: c.readings, Orders: c.orders,
		Quiet: daemon.Quiet(c.site.Quiet), Now: time.Now, Log: c.log, Fed: notify.alive,
	})
	page, err := (&net.ListenConfig{}).Listen(ctx, "tcp", c.site.Listen)
	if err != nil {
		return fmt.Errorf("listen: %w", err)
	}
	socket, err := listenSocket(ctx, c.site.Socket)
	if err != nil {
		return errors.Join(err, page.Close())
	}
	c.log.Info("running", "site", c.site.Name, "page", page.Addr().String(), "socket", c.site.Socket, "vessels", len(vessels))
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	var all sync.WaitGroup
	start := func(what string, run func() error) {
		all.Go(func() {
			if err := run(); err != nil {
				cancel(fmt.Errorf("%s: %w", what, err))
			}
		})
	}
	start("control", func() error { return c.d.Run(ctx) })
	start("probes", func() error {
		err := sensors.Poll{Interval: c.site.Step, Probes: probes}.Run(ctx, c.readings)
		if ctx.Err() != nil && err != nil {
			c.log.Warn("a probe's read was left behind", "error", err)
			return nil
		}
		return err
	})
	all.Go(func() { daemon.Wall(ctx, c.site.Step, ticks) })
	servers := []*http.Server{
		{Handler: c.pages(push), ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 30 * time.Second},
		{Handler: c.socketHandler(), ReadHeaderTimeout: 5 * time.Second, ConnContext: web.WithPeer},
	}
	for i, l := range []net.Listener{page, socket} {
		start("serve "+l.Addr().String(), func() error {
			if err := servers[i].Serve(l); !errors.Is(err, http.ErrServerClosed) {
				return err
			}
			return nil
		})
	}
	<-ctx.Done()
	notify.stopping()
	for _, s := range servers {
		down, done := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
		if err := s.Shutdown(down); err != nil {
			c.log.Warn("a connection was cut", "error", err)
		}
		done()
	}
	all.Wait()
	if why := context.Cause(ctx); !errors.Is(why, context.Canceled) {
		return why
	}
	return nil
}

func sharedPlant(s *site.Site) *controller.Plant {
	if len(s.Plant.Serves) == 0 {
		return nil
	}
	return s.SharedPlant()
}

func (c *cellar) pages(push http.Handler) http.Handler {
	name, _ := os.Hostname() // without a name only addresses are answered to
	host := strings.ToLower(name)
	return web.Handler(web.Options{
		Latest: c.d.Snapshot, Metrics: metricsHandler(c.d.Snapshot), Push: push,
		Closed: c.site.Public && !c.site.Open, Hosts: append([]string{host}, c.site.Hosts...),
		Now: time.Now, Stale: staleSteps * c.site.Step,
	})
}

// staleSteps is how many steps may be missing until the program counts as stopped.
const staleSteps = 6

func (c *cellar) socketHandler() http.Handler {
	return web.Socket(web.SocketOptions{Latest: c.d.Snapshot, Give: c.give, Fit: c.fit, Used: c.used, Now: time.Now})
}

// give hands an order to the loop and waits for its answer.
func (c *cellar) give(ctx context.Context, vessel, words string, o controller.Order, f *profiles.File) (controller.Answer, bool, error) {
	reply := make(chan daemon.Reply, 1)
	select {
	case c.orders <- daemon.Ask{Vessel: vessel, Order: o, Words: words, File: f, Reply: reply}:
	default:
		return controller.Answer{}, false, web.ErrFull
	}
	select {
	case r := <-reply:
		return r.Answer, r.Stored, nil
	case <-ctx.Done():
		return controller.Answer{}, false, fmt.Errorf("no answer yet: %w; ask again with the same id", ctx.Err())
	}
}

// used tells whether a batch of that id is in the record already.
func (c *cellar) used(ctx context.Context, id string) (bool, error) {
	batches, err := c.record.Batches(ctx)
	if err != nil {
		return false, err
	}
	return slices.ContainsFunc(batches, func(b record.BatchInfo) bool { return b.ID == id }), nil
}

// fit holds a schedule against the limits of a vessel, naming both lines.
func (c *cellar) fit(vessel string, f *profiles.File) error {
	i := c.site.Find(vessel)
	if i < 0 {
		return nil // the loop says that there is no such vessel
	}
	_, err := c.site.CheckFit(i, f)
	return err
}

// listenSocket opens the socket for orders, for its owner and group only.
func listenSocket(ctx context.Context, path string) (net.Listener, error) {
	if info, err := os.Lstat(path); err == nil && info.Mode()&os.ModeSocket != 0 { // of an earlier run; anything else is not ours
		if err := os.Remove(path); err != nil {
			return nil, fmt.Errorf("take the socket: %w", err)
		}
	}
	l, err := (&net.ListenConfig{}).Listen(ctx, "unix", path)
	if err != nil {
		return nil, fmt.Errorf("open the socket %s: %w", filepath.Clean(path), err)
	}
	if err := os.Chmod(path, 0o660); err != nil { //nolint:gosec // the group may give orders
		return nil, errors.Join(fmt.Errorf("open the socket: %w", err), l.Close())
	}
	return l, nil
}
