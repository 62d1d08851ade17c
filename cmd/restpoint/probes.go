package main

import (
	"context"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"example.org/restpoint/cmd/restpoint/internal/commission"
	"example.org/restpoint/cmd/restpoint/internal/site"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/sensors"
)

type probeFlags struct {
	site, sysfs, long string
	second            bool
}

func probesCommand(e env) *cobra.Command {
	c := &cobra.Command{
		Use: "probes", Short: "Probes, by hand: list, find one by touch, calibrate",
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	var f probeFlags
	list := &cobra.Command{
		Use: "list [-c SITE]", Short: "Find what is on the board, and read each probe once",
		Long: `Find the probes that the kernel shows, read each once, and say what came: a
reading, or what is wrong and what shows it. With a site file, say also which vessel
uses it and read the probes that only the site file knows. Nothing is asked on a bus
but what the site file names. Ends with 1 if a probe of the site has no reading.`,
		Example: "  restpoint probes list -c site.yaml",
		Args:    arguments(0),
		RunE:    func(cmd *cobra.Command, _ []string) error { return listProbes(cmd.Context(), e, f) },
	}
	touch := &cobra.Command{
		Use: "touch [-c SITE]", Short: "Say which probe is in your hand",
		Long: `Read all thermometers in turn and say which one is being warmed in a hand: the first
that rises by 1 K above its own start, and more than any other. Then say how the site
file names it. The program must not be running: it would take the hand for the beer.`,
		Example: "  restpoint probes touch --for \"5 min\"",
		Args:    arguments(0),
		RunE:    func(cmd *cobra.Command, _ []string) error { return touchProbes(cmd.Context(), e, f) },
	}
	touch.Flags().StringVar(&f.long, "for", "2 min", "how long to look, 10 s to 30 min")
	calibrate := &cobra.Command{
		Use: "calibrate ID|PLACE -c SITE", Short: "Calibrate a thermometer by melting ice and a second bath",
		Long: `Calibrate a thermometer: by melting ice and, with --second, by a bath of 18 to 25 C
beside a thermometer that you trust. It says how to make them, reads until the probe
is steady, and prints the lines for the site file; nothing is written. A 1-Wire probe
is named by its id or its place, any other by its place. The program must not be
running: it would take the ice for the beer.`,
		Example: "  restpoint probes calibrate 28-000001318252 -c site.yaml --second\n  restpoint probes calibrate fv1/thermowell -c site.yaml",
		Args:    arguments(1),
		RunE:    func(cmd *cobra.Command, args []string) error { return calibrateProbe(cmd.Context(), e, f, args[0]) },
	}
	calibrate.Flags().BoolVar(&f.second, "second", false, "a second bath near use, after the ice")
	for _, sub := range []*cobra.Command{list, touch, calibrate} {
		sub.Flags().StringVarP(&f.site, "site", "c", "", "the site file")
		sub.Flags().StringVar(&f.sysfs, "sysfs", "", "where the kernel shows its devices (default that of the site, else /sys)")
		c.AddCommand(sub)
	}
	return c
}

// arguments holds that a verb below another gets as many as it takes.
func arguments(n int) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) != n || slices.Contains(args, "") {
			return badUse("probes %s takes %s; see: restpoint probes %s --help", cmd.Name(), []string{"no argument", "one argument"}[n], cmd.Name())
		}
		return nil
	}
}

// probed is the board, and the site where there is one.
type probed struct {
	site    *site.Site // nil = none
	places  []sensors.Spec
	sysfs   string
	running bool
}

func (f probeFlags) open(ctx context.Context, e env) (*probed, error) {
	p := &probed{sysfs: "/sys"}
	if f.sysfs != "" {
		p.sysfs = f.sysfs
		if info, err := os.Stat(f.sysfs); err != nil || !info.IsDir() {
			return nil, badUse("--sysfs %q: there is no such folder", f.sysfs)
		}
	}
	socket := defaultSocket
	if f.site != "" {
		s, err := loadSite(e, f.site)
		if err != nil {
			return nil, err
		}
		if f.sysfs != "" {
			s.Sysfs = f.sysfs
		}
		p.site, p.sysfs, socket = s, s.Sysfs, s.Socket
		for i := range s.Vessels {
			p.places = append(p.places, probeSpecs(s, &s.Vessels[i])...)
		}
	}
	if c, err := newClient(socket, ""); err == nil {
		_, err := c.state(ctx)
		p.running = err == nil
	}
	return p, nil
}

// alone holds that no program takes for the beer what a person does with a probe.
func (p *probed) alone() error {
	if p.running {
		return fmt.Errorf("the program is running and would take what you do for the beer; end it first")
	}
	return nil
}

func listProbes(ctx context.Context, e env, f probeFlags) error {
	p, err := f.open(ctx, e)
	if err != nil {
		return err
	}
	board, err := sensors.Look(p.sysfs, nil)
	if err != nil {
		return err
	}
	v := commission.Inventory{Board: board, Sited: p.site != nil, Places: p.places, Running: p.running}
	missing, err := v.List(ctx, e.out)
	if err != nil {
		return err
	}
	if len(missing) > 0 {
		names := make([]string, len(missing))
		for i, id := range missing {
			names[i] = string(id)
		}
		return fmt.Errorf("no reading of %s", strings.Join(names, ", "))
	}
	return nil
}

func touchProbes(ctx context.Context, e env, f probeFlags) error {
	d, err := units.ParseDuration(f.long)
	if err != nil || d < commission.ShortestTouch || d > commission.LongestTouch {
		return badUse("--for %q: a time from %s to %s is needed", f.long, units.Duration(commission.ShortestTouch), units.Duration(commission.LongestTouch))
	}
	p, err := f.open(ctx, e)
	if err != nil {
		return err
	}
	if err := p.alone(); err != nil {
		return err
	}
	all, err := p.touchable()
	if err != nil {
		return err
	}
	found, err := commission.NewTalk(e.out, e.in).Touch(ctx, all, d)
	if err != nil {
		return err
	}
	if !found && ctx.Err() == nil {
		return fmt.Errorf("no probe was found by touch")
	}
	return nil
}

// touchable opens every thermometer: those of the board, and those that only the
// site file knows.
func (p *probed) touchable() ([]commission.Touchable, error) {
	board, err := sensors.Look(p.sysfs, nil)
	if err != nil {
		return nil, err
	}
	var all []commission.Touchable
	for i := range board.Found {
		f := &board.Found[i]
		if f.Spec.Kind == "" || slices.Contains(f.Doubts, sensors.Inner) {
			continue // a processor is warmed by its own work
		}
		sensor, err := sensors.Open(f.Spec)
		if err != nil {
			return nil, fmt.Errorf("open %s: %w", f.Name, err)
		}
		all = append(all, commission.Touchable{Name: f.Name, Says: p.says(f), Sensor: sensor})
	}
	for _, place := range p.places {
		if commission.Form(place) != "" || place.Kind == sensors.Pressure {
			continue
		}
		sensor, err := sensors.Open(place)
		if err != nil {
			return nil, fmt.Errorf("open: %w", err)
		}
		all = append(all, commission.Touchable{Name: string(place.Probe), Says: "The site file has it at that place already.", Sensor: sensor})
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("there is no thermometer below %s", p.sysfs)
	}
	return all, nil
}

// says how the site file names a thermometer, and where it has it already.
func (p *probed) says(f *sensors.Found) string {
	said := []string{"In the site file:  " + commission.Form(f.Spec)}
	for _, place := range p.places {
		if f.Is(place) {
			said = append(said, fmt.Sprintf("There it is %s already.", place.Probe))
		}
	}
	return strings.Join(said, "\n")
}

func calibrateProbe(ctx context.Context, e env, f probeFlags, name string) error {
	if f.site == "" {
		return badUse("calibrate needs the site file: -c SITE")
	}
	p, err := f.open(ctx, e)
	if err != nil {
		return err
	}
	spec, err := p.spec(name)
	if err != nil {
		return err
	}
	if err := p.alone(); err != nil {
		return err
	}
	spec.Calibration = sensors.Calibration{} // what it says itself
	sensor, err := sensors.Open(spec)
	if err != nil {
		return usageError{err}
	}
	s := commission.Subject{Name: name, Key: spec.ID, Sensor: sensor, On: time.Now()}
	return commission.NewTalk(e.out, e.in).Calibrate(ctx, s, f.second)
}

// spec finds a thermometer by its place in the site, or by its 1-Wire id.
func (p *probed) spec(name string) (sensors.Spec, error) {
	var places []string
	for _, s := range p.places {
		if s.Kind == sensors.Pressure {
			continue
		}
		if string(s.Probe) == name || s.ID == name {
			return s, nil
		}
		places = append(places, string(s.Probe))
	}
	board, err := sensors.Look(p.sysfs, nil)
	if err != nil {
		return sensors.Spec{}, err
	}
	i := slices.IndexFunc(board.Found, func(f sensors.Found) bool { return f.Spec.ID == name })
	if i < 0 {
		return sensors.Spec{}, badUse("there is no thermometer %q; those of the site are %s, and others are named by their 1-Wire id", name, strings.Join(places, ", "))
	}
	return board.Found[i].Spec, nil
}
