package site

import (
	"regexp"
	"slices"
	"strings"
	"time"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/guard"
	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles/strict"
)

const (
	smallest units.Litres = 1
	largest  units.Litres = 200000

	// Without limits of its own a vessel may not freeze its beer nor be led
	// warmer than a clean yeast stands.
	defaultLowest  units.Celsius = -1
	defaultHighest units.Celsius = 30
	lowest         units.Celsius = -5
	highest        units.Celsius = 45

	farthestOffset units.Kelvins = 5 // a probe that is further off is broken

	// Less rest starts a compressor against the pressure of its last run.
	leastCompressorRest = 3 * time.Minute
	leastCompressorRun  = time.Minute
	leastSwitching      = time.Second
	mostSwitching       = time.Hour

	// From 20 L in the best foam (U 0.3 W/m2/K) to 200 m3 of bare steel (U 10).
	leastLoss units.WattsPerKelvin = 0.1
	mostLoss  units.WattsPerKelvin = 5000

	weakest   units.Watts = 1
	strongest units.Watts = 20000
)

func (r *reader) vessels(v *strict.Value) {
	items := v.List("a list of vessels, each beginning with \"- name: ...\"")
	if len(items) > mostVessels {
		v.Fail(ManyVessels, "there are %d vessels, and %d are allowed", len(items), mostVessels)
		return
	}
	for _, item := range items {
		r.site.Vessels = append(r.site.Vessels, r.vessel(item))
	}
}

func (r *reader) vessel(item *strict.Value) Vessel {
	m := item.Map("a vessel such as {name: fv1, volume: 60 L, thermowell: {one-wire: 28-000001318252}}")
	n := m.Need("name")
	v := Vessel{Name: name(n), Limits: controller.Limits{Lowest: defaultLowest, Highest: defaultHighest}, SuckBack: controller.NoProtection}
	r.twice(n, "vessel", v.Name)
	v.Volume = m.Need("volume").Litres(smallest, largest)
	r.thermowells(m.Need("thermowell"), &v)
	if s := m.Opt("surround"); s.Given() {
		inner := s.Map("what is measured beside the vessel, such as {jacket: {one-wire: 28-0000013182aa}}")
		key, p := inner.One(ProbeForm, string(Jacket), string(Air))
		v.Around = Around(key)
		v.Surround = r.probe(p, v.Name+"/surround")
		inner.Done()
	}
	if a := m.Opt("ambient"); a.Given() {
		v.Ambient = r.probe(a, v.Name+"/ambient")
	}
	if h := m.Opt("hydrometer"); h.Given() {
		v.Hydrometer = r.hydrometer(h, v.Name+"/hydrometer")
	}
	if p := m.Opt("pressure"); p.Given() {
		v.Pressure = r.pressure(p, v.Name+"/pressure")
	}
	if c := m.Opt("cool"); c.Given() {
		r.cooling(c, &v)
	}
	if h := m.Opt("heat"); h.Given() {
		v.Heat = r.measured(h, heating())
	}
	if l := m.Opt("loss"); l.Given() {
		v.Loss = l.WattsPerKelvin(leastLoss, mostLoss)
	}
	if l := m.Opt("limits"); l.Given() {
		v.Limits = limits(l.Map("limits such as {lowest: -1 C, highest: 30 C}"))
	}
	if s := m.Opt("suck-back"); s.Given() {
		v.SuckBack = controller.SuckBack(s.Word(string(controller.CO2Supply), string(controller.VacuumBreaker), string(controller.NoProtection)))
	}
	m.Done()
	if n.Good() && v.Cool.Kind == NoRelayFitted && v.Heat.Kind == NoRelayFitted && m.Given() {
		n.Warn(NoRelay, "the vessel has neither cool nor heat, so it is only watched")
	}
	return v
}

func limits(m *strict.Map) controller.Limits {
	l := controller.Limits{Lowest: defaultLowest, Highest: defaultHighest}
	low, high := m.Opt("lowest"), m.Opt("highest")
	if low.Given() {
		l.Lowest = low.Celsius(lowest, highest)
	}
	if high.Given() {
		l.Highest = high.Celsius(lowest, highest)
	}
	m.Done()
	sound := (low.Good() || !low.Given()) && (high.Good() || !high.Given())
	if sound && l.Lowest >= l.Highest {
		m.Fail(LimitOrder, "the lowest, %s, is not below the highest, %s", l.Lowest.Fixed(1), l.Highest.Fixed(1))
	}
	return l
}

func (r *reader) probe(v *strict.Value, id string) Probe {
	p := Probe{ID: controller.ProbeID(id)}
	m := v.Map("a probe such as {one-wire: 28-000001318252}")
	key, at := m.One(ProbeForm, string(OneWire), string(HWMon), string(InFile), string(IIO), string(RTD), string(NTC))
	p.Kind = ProbeKind(key)
	switch p.Kind {
	case OneWire:
		p.Device = at.Line(nameLength)
		if at.Good() && !isOneWire(p.Device) {
			at.Fail(OneWireForm, `%q is no id such as "28-000001318252": two and twelve digits of 0 to 9 and a to f`, p.Device)
		}
		r.claim(at, "the probe "+p.Device)
	case HWMon:
		h := at.Map("a sensor such as {name: tmp105, input: temp1}")
		p.Device = h.Need("name").Line(nameLength)
		input := h.Need("input")
		p.Input = input.Line(nameLength)
		if input.Good() && !regexp.MustCompile(`^temp[1-9][0-9]*$`).MatchString(p.Input) {
			input.Fail(InputForm, `%q is no input such as "temp1"`, p.Input)
		}
		h.Done()
		r.claim(at, "the input "+p.Input+" of "+p.Device)
	case InFile:
		p.Path = r.path(at, "")
	case IIO:
		p.Channel = r.device(at, "a channel such as {name: tmp117, channel: temp}", temperatureChannel)
	case RTD:
		p.Platinum = r.platinum(at)
	case NTC:
		p.Thermistor = r.thermistor(at)
	case NoProbe:
	}
	r.corrected(m, &p)
	m.Done()
	return p
}

func isOneWire(id string) bool {
	return regexp.MustCompile(`^[0-9a-f]{2}-[0-9a-f]{12}$`).MatchString(id)
}

func (r *reader) hydrometer(v *strict.Value, id string) Hydrometer {
	m := v.Map("a hydrometer such as {pushed: tank-1, gravity: /sg, corrected: true}")
	pushed := m.Need("pushed")
	h := Hydrometer{ID: controller.ProbeID(id), Pushed: name(pushed)}
	r.claim(pushed, "the source "+h.Pushed)
	r.pushed = append(r.pushed, pushed)
	h.Gravity = pointer(m.Need("gravity"))
	t := m.Opt("temperature")
	if t.Given() {
		h.Temperature = pointer(t)
	}
	if at := m.Opt("time"); at.Given() {
		h.Time = pointer(at)
	}
	unit := m.Opt("gravity-unit")
	if unit.Given() {
		h.Plato = unit.Word("SG", "P") == "P"
	}
	if u := m.Opt("temperature-unit"); u.Given() {
		h.Fahrenheit = u.Word("C", "F") == "F"
	}
	corrected := m.Need("corrected")
	h.Corrected = corrected.Flag()
	if c := m.Opt("calibration"); c.Given() {
		h.Calibration = float(c)
	}
	m.Done()
	if h.Calibration.Own && unit.Given() {
		unit.FailKey(OwnUnit, "a polynomial makes a gravity of the number as it is pushed, which has no unit; leave gravity-unit out")
	}
	if corrected.Good() && !h.Corrected && !t.Given() {
		corrected.Fail(Uncorrected, "a gravity that is not corrected needs the temperature of the sample; add temperature")
	}
	return h
}

// pointer reads a JSON Pointer (RFC 6901): parts that begin with "/", in which
// "~" is written "~0" and "/" is written "~1".
func pointer(v *strict.Value) string {
	text := v.Line(pathLength)
	escaped := strings.NewReplacer("~0", "", "~1", "").Replace(text)
	if v.Good() && (!strings.HasPrefix(text, "/") || strings.Contains(escaped, "~")) {
		v.Fail(PointerForm, `%q is no path into the pushed data such as "/sg" or "/beer/gravity"`, text)
	}
	return text
}

func cooling() []guard.Profile {
	return []guard.Profile{guard.Compressor, guard.Valve, guard.Pump}
}

func heating() []guard.Profile { return []guard.Profile{guard.Heater, guard.SSR} }

func profileNames(of []guard.Profile) []string {
	var out []string
	for _, p := range of {
		out = append(out, string(p))
	}
	return out
}

// relay reads where a relay is, what hangs on it, and how it may be used.
func (r *reader) relay(v *strict.Value, allowed []guard.Profile) Relay {
	m := v.Map("a relay such as {line: {chip: gpiochip0, name: GPIO17}, valve: {}}")
	out := r.relayOf(m, allowed)
	m.Done()
	return out
}

// measured reads a relay of a vessel, whose contact may be measured.
func (r *reader) measured(v *strict.Value, allowed []guard.Profile) Relay {
	m := v.Map("a relay such as {line: {chip: gpiochip0, name: GPIO17}, valve: {}}")
	out := r.relayOf(m, allowed)
	if c := m.Opt("contact"); c.Given() {
		out.Contact = r.contact(c)
	}
	m.Done()
	return out
}

// contact reads where it is measured whether a relay is closed.
func (r *reader) contact(v *strict.Value) Contact {
	m := v.Map("where it is measured, such as {line: {chip: gpiochip0, name: GPIO5, active: low}} or {file: /run/contact}")
	key, at := m.One(ContactForm, string(OnLine), string(OnFile))
	out := Relay{Kind: RelayKind(key)}
	switch out.Kind {
	case OnLine:
		r.line(at, &out)
	case OnFile:
		out.Path = r.path(at, "")
	case NoRelayFitted, OnPin, Modelled, InZones:
	}
	m.Done()
	return Contact{Kind: out.Kind, Chip: out.Chip, Line: out.Line, ActiveLow: out.ActiveLow, Path: out.Path}
}

func (r *reader) relayOf(m *strict.Map, allowed []guard.Profile) Relay {
	var out Relay
	key, at := m.One(RelayForm, string(OnLine), string(OnPin), string(OnFile), string(Modelled))
	out.Kind = RelayKind(key)
	switch out.Kind {
	case OnLine:
		r.line(at, &out)
	case OnPin:
		r.pin(at, &out)
	case OnFile:
		out.Path = r.path(at, "")
	case Modelled:
		if !at.Flag() {
			at.Fail(OnlyTrue, "only {modelled: true} makes a relay that switches nothing")
		}
	case NoRelayFitted, InZones:
	}
	out.Guard = relayProfile(m, allowed)
	if p := m.Opt("power"); p.Given() {
		out.Guard.Power = p.Watts(weakest, strongest)
	}
	return out
}

func (r *reader) line(at *strict.Value, out *Relay) {
	m := at.Map("a line such as {chip: gpiochip0, name: GPIO17, active: low}")
	out.Chip = m.Need("chip").Line(nameLength)
	out.Line = m.Need("name").Line(nameLength)
	if a := m.Opt("active"); a.Given() {
		out.ActiveLow = a.Word("low", "high") == "low"
	}
	m.Done()
	if out.Chip != "" && out.Line != "" {
		r.claim(at, "the line "+out.Line+" of "+out.Chip)
	}
}

// pin reads a pin of the processor, for boards without a GPIO character device.
func (r *reader) pin(at *strict.Value, out *Relay) {
	m := at.Map("a pin such as {name: GPIO17, active: low}")
	n := m.Need("name")
	out.Line = n.Line(nameLength)
	if n.Good() && !regexp.MustCompile(`^GPIO([0-9]|1[0-9]|2[0-7])$`).MatchString(out.Line) { // those above serve the board itself
		n.Fail(PinForm, `%q is no pin such as "GPIO17"; there are GPIO0 to GPIO27`, out.Line)
	}
	if a := m.Opt("active"); a.Given() {
		out.ActiveLow = a.Word("low", "high") == "low"
	}
	m.Done()
	if n.Good() {
		r.claim(at, "the pin "+out.Line)
	}
	at.Warn(BarePin, "nothing happens to this pin when the program dies: it stays as it was driven last, on or off, until \"relays off\" has run, and no other program is kept from driving it; use line on a board that has /dev/gpiochip0")
}

// relayProfile reads what hangs on a relay. A profile of the other side is a
// mistake in wiring or in thought, and is said in its own words.
func relayProfile(m *strict.Map, allowed []guard.Profile) guard.Relay {
	names := profileNames(allowed)
	wrong := false
	for _, other := range profileNames(guard.Profiles()) {
		if !slices.Contains(names, other) {
			wrong = m.Refuse(other, WrongUse, "%q does not belong here; allowed: %s", other, strings.Join(names, ", ")) || wrong
		}
	}
	if given := m.Which(names...); wrong && len(given) == 0 {
		return guard.Relay{}
	}
	key, v := m.One(RelayUse, names...)
	if key == "" {
		return guard.Relay{}
	}
	p := guard.Profile(key)
	g := guard.Of(p)
	least, leastRun := leastSwitching, leastSwitching
	if p == guard.Compressor {
		least, leastRun = leastCompressorRest, leastCompressorRun
	}
	t := v.Map("its shortest times, such as {rest: 5 min, run: 3 min}, or {} for the usual ones")
	if rest := t.Opt("rest"); rest.Given() {
		g.MinOff = rest.Duration(least, mostSwitching)
	}
	if run := t.Opt("run"); run.Given() {
		g.MinOn = run.Duration(leastRun, mostSwitching)
	}
	t.Done()
	return g
}
