package site

import (
	"net"
	"net/netip"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"

	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles/strict"
)

// Defaults, and how far they may be moved.
const (
	defaultListen = "127.0.0.1:8420"
	defaultRecord = "/var/lib/restpoint/record.db"
	defaultSocket = "/run/restpoint/restpoint.sock"
	defaultSysfs  = "/sys"

	defaultStep  = 5 * time.Second // a tenth of the fastest thing that a beer does
	shortestStep = time.Second
	longestStep  = time.Minute

	defaultFlush  = 5 * time.Minute // what a power cut may cost, against the wear of a memory card
	shortestFlush = 10 * time.Second
	longestFlush  = 15 * time.Minute

	mostVessels = 32
	nameLength  = 60
	pathLength  = 255
)

// reader reads one file, and remembers what is in use already.
type reader struct {
	doc  *strict.Doc
	site *Site
	used map[string]*strict.Value

	offsets map[string]*strict.Value // of 1-Wire probes, by their ids

	serves []served // checked when all vessels are known
	pushed []*strict.Value
}

func read(doc *strict.Doc) *Site {
	r := &reader{doc: doc, site: &Site{}, used: map[string]*strict.Value{}, offsets: map[string]*strict.Value{}}
	s, m := r.site, doc.Root()
	s.Name = m.Need("site").Line(nameLength)
	r.listen(m.Opt("listen"))
	s.Open = m.Opt("open").Flag()
	if v := m.Opt("hosts"); v.Given() {
		for _, h := range v.List("a list of names such as [brewery.local]") {
			s.Hosts = append(s.Hosts, host(h))
		}
	}
	s.Record = r.path(m.Opt("record"), defaultRecord)
	s.Socket = r.path(m.Opt("socket"), defaultSocket)
	s.Sysfs = r.path(m.Opt("sysfs"), defaultSysfs)
	r.times(m.Opt("step"), m.Opt("flush"))
	if v := m.Opt("quiet"); v.Given() {
		s.Quiet = quiet(v.Map(`the hours in which nobody is woken for what can wait, such as {from: "22:00", to: "07:00"}`))
	}
	if v := m.Opt("plant"); v.Given() {
		r.plant(v)
	}
	if v := m.Opt("sources"); v.Given() {
		r.sources(v.List("a list of devices such as [{name: tank-1, token-file: /etc/restpoint/tank-1.token}]"))
	}
	r.vessels(m.Need("vessels"))
	r.calibrations(m.Opt("calibrations"))
	m.Done()
	r.checkServes()
	r.checkPushed()
	return s
}

func (r *reader) times(step, flush *strict.Value) {
	s := r.site
	s.Step, s.Flush = defaultStep, defaultFlush
	if step.Given() {
		s.Step = step.Duration(shortestStep, longestStep)
	}
	if flush.Given() {
		s.Flush = flush.Duration(shortestFlush, longestFlush)
	}
	if flush.Good() && s.Flush < s.Step {
		flush.Fail(FlushShort, "nothing can be written more often than once a step, and a step is %s", units.Duration(s.Step))
	}
}

// listen reads host:port, and marks what other machines can reach.
func (r *reader) listen(v *strict.Value) {
	r.site.Listen = defaultListen
	if !v.Given() {
		return
	}
	text := v.Line(nameLength)
	name, port, err := net.SplitHostPort(text)
	number, portErr := strconv.ParseUint(port, 10, 16)
	addr, addrErr := netip.ParseAddr(name)
	if err != nil || portErr != nil || strconv.FormatUint(number, 10) != port ||
		(addrErr != nil && name != "" && name != "localhost") {
		v.Fail(ListenForm, `%q is no address and port such as "127.0.0.1:8420", "0.0.0.0:8420" or "[::1]:8420"`, text)
		return
	}
	r.site.Listen = text
	r.site.Public = name != "localhost" && !addr.IsLoopback()
}

func host(v *strict.Value) string {
	text := v.Line(nameLength)
	if !regexp.MustCompile(`^[a-z0-9]([a-z0-9.-]*[a-z0-9])?$`).MatchString(text) {
		if _, err := netip.ParseAddr(text); err != nil {
			v.Fail(HostForm, `%q is no name of a machine such as "brewery.local": small letters, no port`, text)
		}
	}
	return text
}

// path reads the absolute path of a file that nothing else may use.
func (r *reader) path(v *strict.Value, otherwise string) string {
	if !v.Given() {
		r.claimUsual(v, otherwise)
		return otherwise
	}
	p := absolute(v)
	r.claim(v, "the file "+p)
	return p
}

func absolute(v *strict.Value) string {
	p := v.Line(pathLength)
	if v.Good() && (!filepath.IsAbs(p) || filepath.Clean(p) != p) {
		v.Fail(PathForm, `%q is no whole path: one that begins with "/" and goes no way round`, p)
	}
	return p
}

// claim holds that a thing is used once, and names both places if it is not.
func (r *reader) claim(v *strict.Value, what string) {
	if !v.Good() {
		return
	}
	before, ok := r.used[what]
	switch {
	case !ok:
		r.used[what] = v
	case before.Given():
		v.Fail(UsedTwice, "%s is used by %s already, in line %d", what, before.Path(), before.Place().Line)
	default:
		v.Fail(UsedTwice, "%s is used by %s already, where nothing else is written", what, before.Path())
	}
}

// claimUsual holds that nothing else uses the usual path of a key that is left out.
func (r *reader) claimUsual(v *strict.Value, usual string) {
	if usual == "" {
		return
	}
	what := "the file " + usual
	if before, ok := r.used[what]; ok {
		before.Fail(UsedTwice, "%s is used by %s already, where nothing else is written", what, v.Path())
		return
	}
	r.used[what] = v
}

// name reads a simple name that stands in paths, metrics and addresses.
func name(v *strict.Value) string {
	text := v.Line(32)
	if v.Good() && !regexp.MustCompile(`^[a-z0-9][a-z0-9-]*$`).MatchString(text) {
		v.Fail(NameForm, `%q is no simple name such as "fv1": small letters, digits and "-"`, text)
	}
	return text
}

const groupForm = "what the vessels share, such as {at-once: 2, serves: [fv1, fv2]}"

// plant reads what the vessels share: one group, or several of which one has a chiller.
func (r *reader) plant(v *strict.Value) {
	if !v.IsList() {
		r.site.Plant = r.group(v, "the plant")
		return
	}
	var chiller *strict.Value
	for i, item := range v.List("a list of groups such as [{at-once: 1, serves: [fv1, fv2]}, {chiller: {...}, serves: [fv2, fv3]}]") {
		g := r.group(item, "group "+strconv.Itoa(i+1)+" of the plant")
		switch {
		case g.Chiller.Kind == NoRelayFitted && len(r.site.Plant.Serves) > 0:
			r.site.Fuses = append(r.site.Fuses, g)
		case g.Chiller.Kind != NoRelayFitted && chiller != nil:
			item.Fail(TwoChillers, "one chiller a site is driven, and that in line %d is one already; leave the chiller out where it runs by itself", chiller.Place().Line)
		case g.Chiller.Kind != NoRelayFitted && len(r.site.Plant.Serves) > 0:
			r.site.Fuses = append(r.site.Fuses, r.site.Plant)
			r.site.Plant, chiller = g, item
		default:
			r.site.Plant = g
			if g.Chiller.Kind != NoRelayFitted {
				chiller = item
			}
		}
	}
}

func (r *reader) group(v *strict.Value, called string) Plant {
	var p Plant
	m := v.Map(groupForm)
	if c := m.Opt("chiller"); c.Given() {
		p.Chiller = r.relay(c, cooling())
	}
	if n := m.Opt("at-once"); n.Given() {
		p.AtOnce = n.Count(1, mostVessels)
	}
	for _, s := range m.Need("serves").List("a list of vessels such as [fv1, fv2]") {
		n := name(s)
		r.claim(s, "the place in "+called+" of "+n)
		r.serves = append(r.serves, served{s, n})
		p.Serves = append(p.Serves, n)
	}
	m.Done()
	return p
}

// served is a vessel that a plant serves, and where that is written.
type served struct {
	*strict.Value
	name string
}

// checkServes holds that the plant serves vessels that exist and can be cooled.
func (r *reader) checkServes() {
	var names []string
	for i := range r.site.Vessels {
		names = append(names, r.site.Vessels[i].Name)
	}
	if len(names) == 0 {
		return // which is said already
	}
	for _, v := range r.serves {
		n := v.name
		at := r.site.Find(n)
		switch {
		case !v.Good():
		case at < 0:
			near := strict.Nearest(n, names)
			if near != "" {
				near = "; " + near + " is probably meant"
			}
			v.Fail(Unserved, "%q is no vessel of this site%s; allowed: %s", n, near, strings.Join(names, ", "))
		case r.site.Vessels[at].Cool.Kind == NoRelayFitted:
			v.Fail(NoCooling, "the vessel %s, in line %d, has no cool relay, so the plant cannot serve it",
				n, r.doc.Where("vessels["+strconv.Itoa(at+1)+"]").Line)
		}
	}
}

func (r *reader) sources(items []*strict.Value) {
	for _, item := range items {
		m := item.Map("a device such as {name: tank-1, token-file: /etc/restpoint/tank-1.token}")
		n := m.Need("name")
		src := Source{Name: name(n)}
		r.twice(n, "source", src.Name)
		switch key, v := m.One(TokenForm, "token-file", "token"); key {
		case "token-file":
			src.TokenFile = absolute(v)
		case "token":
			src.Token = token(v)
		}
		m.Done()
		r.site.Sources = append(r.site.Sources, src)
	}
}

// token reads a secret. Sixteen characters are 80 bits even when only small
// letters and digits are used, beyond guessing over a network.
func token(v *strict.Value) Secret {
	text := v.Secret(200)
	if v.Good() && !regexp.MustCompile(`^[!-~]{16,}$`).MatchString(text) {
		v.Fail(TokenForm, "a token has at least 16 letters, digits or signs, and no space")
	}
	return Secret(text)
}

// twice holds that a name is given once.
func (r *reader) twice(v *strict.Value, what, n string) {
	if !v.Good() {
		return
	}
	key := "the name of a " + what + ": " + n
	if before, ok := r.used[key]; ok {
		v.Fail(NameTwice, "another %s is called %s already, in line %d", what, n, before.Place().Line)
		return
	}
	r.used[key] = v
}

// checkPushed warns of hydrometers that nobody may push to.
func (r *reader) checkPushed() {
	for _, v := range r.pushed {
		known := false
		for _, s := range r.site.Sources {
			known = known || s.Name == v.Line(nameLength)
		}
		if v.Good() && !known {
			v.Warn(NoSource, "no source of this name has a token, so nothing can be pushed; add it to sources")
		}
	}
}
