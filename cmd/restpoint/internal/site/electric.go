package site

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"example.org/restpoint/controller/units"
	"example.org/restpoint/profiles/strict"
	"example.org/restpoint/sensors"
	"example.org/restpoint/sensors/electric"
	"example.org/restpoint/sensors/ntc"
	"example.org/restpoint/sensors/rtd"
)

// What may hang on a probe's wires. Beyond these something else was meant.
const (
	leastOhms electric.Ohms  = 100
	mostOhms  electric.Ohms  = 1_000_000
	leastFeed electric.Volts = 1.8 // supplies of boards
	mostFeed  electric.Volts = 5.5
	leastBeta units.Kelvins  = 1000 // thermistors that are sold have 3000 to 5000 K
	mostBeta  units.Kelvins  = 8000
	mostBus                  = 99
)

func ohms(v *strict.Value) electric.Ohms {
	return strict.Measure(v, electric.ParseOhms, electric.Ohms.String, leastOhms, mostOhms)
}

func volts(v *strict.Value, lo, hi electric.Volts) electric.Volts {
	return strict.Measure(v, electric.ParseVolts, electric.Volts.String, lo, hi)
}

// platinum reads an element on an SPI port and how it is wired.
func (r *reader) platinum(at *strict.Value) sensors.Platinum {
	var p sensors.Platinum
	m := at.Map("an element such as {spi: 0.0, sensor: Pt100, wires: 3, reference: 430 ohm, mains: 50 Hz}")
	spi := m.Need("spi")
	text := spi.Line(nameLength)
	if regexp.MustCompile(`^(0|[1-9][0-9]?)\.(0|[1-9][0-9]?)$`).MatchString(text) {
		number, chipSelect, _ := strings.Cut(text, ".")
		p.Bus, _ = strconv.Atoi(number)
		p.Select, _ = strconv.Atoi(chipSelect)
		r.claim(spi, "the port spi "+text)
	} else {
		spi.Fail(SPIForm, `%q is no SPI port such as 0.0: the number of its bus and that of its chip select`, text)
	}
	w := &p.Wiring
	sensor, wires, reference, mains := m.Need("sensor"), m.Need("wires"), m.Need("reference"), m.Need("mains")
	w.Element = rtd.Pt100
	if sensor.Word(rtd.Pt100.String(), rtd.Pt1000.String()) == rtd.Pt1000.String() {
		w.Element = rtd.Pt1000
	}
	w.Wires = wires.Count(2, 4)
	w.Reference = ohms(reference)
	w.Mains, _ = strconv.Atoi(strings.TrimSuffix(mains.Word("50 Hz", "60 Hz"), " Hz"))
	m.Done()
	if !sensor.Good() || !wires.Good() || !reference.Good() || !mains.Good() {
		return p
	}
	if err := w.Check(); err != nil {
		reference.Fail(Reference, "%v", err)
	}
	if w.Element == rtd.Pt100 && w.Wires == 2 {
		wires.Warn(LeadError, "0.1 ohm in two wires reads as 0.26 K on a Pt100; a third wire takes that away, or set it right by offset")
	}
	return p
}

// thermistor reads a thermistor, its divider and what measures it.
func (r *reader) thermistor(at *strict.Value) sensors.Thermistor {
	var t sensors.Thermistor
	m := at.Map("a thermistor such as {adc: {ads1115: {i2c: 1, address: 0x48, channel: 0}}, supply: 3.3 V, resistor: 10 kohm, side: ground, steinhart-hart: [1.029194767e-3, 2.391275184e-4, 1.566277150e-7]}")
	t.Input = r.adc(m.Need("adc"))
	t.Supply = fed(m.Need("supply"), &t.Input)
	t.Divider.Resistor = ohms(m.Need("resistor"))
	t.Divider.Side = ntc.Side(m.Need("side").Word(string(ntc.Ground), string(ntc.Supply)))
	switch key, v := m.One(CurveForm, "steinhart-hart", "beta"); key {
	case "steinhart-hart":
		t.Divider.Curve = coefficients(v)
	case "beta":
		t.Divider.Curve = beta(v)
	}
	m.Done()
	return t
}

// coefficients reads those of Steinhart and Hart. They are the only numbers
// without a unit: theirs have no name.
func coefficients(v *strict.Value) ntc.Curve {
	items := v.List("three coefficients such as [1.029194767e-3, 2.391275184e-4, 1.566277150e-7]")
	if len(items) != 3 {
		v.Fail(Coefficients, "three coefficients are needed, as for ohms and the natural logarithm, and %d are given", len(items))
		return ntc.Curve{}
	}
	var of [3]float64
	good := true
	for i, item := range items {
		of[i] = coefficient(item, Coefficients, "2.391275184e-4")
		good = good && item.Good()
	}
	c := ntc.Curve{A: of[0], B: of[1], C: of[2]}
	if !good {
		return c
	}
	if err := c.Check(); err != nil {
		v.Fail(Coefficients, "%v", err)
	}
	return c
}

// coefficient reads a number without a unit.
func coefficient(v *strict.Value, rule strict.Rule, like string) float64 {
	text := v.Line(nameLength)
	n, err := strconv.ParseFloat(text, 64)
	if err != nil || !regexp.MustCompile(`^-?[0-9]+(\.[0-9]+)?([eE][-+]?[0-9]{1,2})?$`).MatchString(text) {
		v.Fail(rule, `%q is no number such as %s`, text, like)
	}
	return n
}

func beta(v *strict.Value) ntc.Curve {
	m := v.Map("a thermistor such as {r25: 10 kohm, b: 3950 K}")
	r25, b := m.Need("r25"), m.Need("b")
	c := ntc.OfBeta(ohms(r25), b.Kelvins(leastBeta, mostBeta))
	m.Done()
	if !r25.Good() || !b.Good() {
		return ntc.Curve{}
	}
	if err := c.Check(); err != nil {
		b.Fail(Coefficients, "%v", err)
	}
	v.Warn(PoorBeta, "a B value is poor near freezing, where it may be off by 0.7 K; steinhart-hart is better, and the data sheet has its three coefficients or the table to get them from")
	return c
}

// fed reads what feeds a divider: a known voltage, or one that is measured.
func fed(v *strict.Value, input *sensors.ADC) sensors.Supply {
	if v.IsText() {
		return sensors.Supply{Nominal: volts(v, leastFeed, mostFeed)}
	}
	return measured(v, input, "a supply such as 3.3 V, or {nominal: 3.3 V, channel: 3} where the converter measures it")
}

// measured reads a supply that another channel of the same converter measures.
func measured(v *strict.Value, input *sensors.ADC, example string) sensors.Supply {
	m := v.Map(example)
	s := sensors.Supply{Nominal: volts(m.Need("nominal"), leastFeed, mostFeed), Measured: *input}
	c := m.Need("channel")
	switch input.Kind {
	case sensors.ADS1115:
		s.Measured.Channel = c.Count(0, 3)
	case sensors.OfKernel:
		s.Measured.IIO.Channel = voltageChannel(c)
	case sensors.NoADC: // which is said already
	}
	m.Done()
	if input.Kind != sensors.NoADC && s.Measured == *input {
		c.Fail(UsedTwice, "this is the channel of the probe itself; its supply hangs on another one")
	}
	return s
}

// address gives the number of an address on I2C.
func address(v *strict.Value) uint16 {
	var list []string
	for a := 0x48; a <= 0x4b; a++ { // the four that the pin of the chip can choose (data sheet, from memory)
		list = append(list, fmt.Sprintf("0x%02x", a))
	}
	n, err := strconv.ParseUint(v.Word(list...), 0, 16)
	if err != nil {
		return 0 // which is said already
	}
	return uint16(n)
}
