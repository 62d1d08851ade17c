package site

import "example.org/restpoint/profiles/strict"

// The rules of meaning of a site file, beyond the rules of form.
const (
	NameForm    strict.Rule = "name-form"
	NameTwice   strict.Rule = "name-twice"
	UsedTwice   strict.Rule = "used-twice"
	ListenForm  strict.Rule = "listen-form"
	HostForm    strict.Rule = "host-form"
	PathForm    strict.Rule = "path-form"
	ProbeForm   strict.Rule = "probe-form"
	OneWireForm strict.Rule = "one-wire-form"
	InputForm   strict.Rule = "hwmon-input-form"
	PointerForm strict.Rule = "pointer-form"
	Uncorrected strict.Rule = "uncorrected"
	RelayForm   strict.Rule = "relay-form"
	RelayUse    strict.Rule = "relay-profile"
	WrongUse    strict.Rule = "relay-profile-side"
	OnlyTrue    strict.Rule = "only-true"
	TokenForm   strict.Rule = "token-form"
	Unserved    strict.Rule = "serves-unknown"
	NoCooling   strict.Rule = "serves-no-cooling"
	LimitOrder  strict.Rule = "limit-order"
	FlushShort  strict.Rule = "flush-shorter-than-step"
	ManyVessels strict.Rule = "many-vessels"
	ManyZones   strict.Rule = "many-zones"
	ZoneUse     strict.Rule = "zone-use"
	ZoneGap     strict.Rule = "zone-gap"
	QuietForm   strict.Rule = "quiet-form"
	PinForm     strict.Rule = "pin-form"
	ContactForm strict.Rule = "contact-form"
	TwoChillers strict.Rule = "two-chillers"

	DeviceForm   strict.Rule = "iio-device-form"
	ChannelForm  strict.Rule = "iio-channel-form"
	SPIForm      strict.Rule = "spi-form"
	Reference    strict.Rule = "rtd-reference"
	ADCForm      strict.Rule = "adc-form"
	CurveForm    strict.Rule = "ntc-curve-form"
	Coefficients strict.Rule = "ntc-coefficients"
	SpanOrder    strict.Rule = "pressure-span-order"
	BeyondSpan   strict.Rule = "pressure-beyond-span"

	DateForm          strict.Rule = "date-form"
	CalibrationPlace  strict.Rule = "calibration-place"
	CalibrationPoints strict.Rule = "calibration-points"
	TwoCalibrations   strict.Rule = "calibration-twice"

	FloatForm  strict.Rule = "hydrometer-calibration-form"
	Polynomial strict.Rule = "hydrometer-polynomial"
	OwnUnit    strict.Rule = "hydrometer-own-unit"
)

// Rules lists the rules of meaning that refuse a site.
func Rules() []strict.Rule {
	return []strict.Rule{
		NameForm, NameTwice, UsedTwice, ListenForm, HostForm, PathForm, ProbeForm, OneWireForm, InputForm, PointerForm,
		Uncorrected, RelayForm, RelayUse, WrongUse, OnlyTrue, TokenForm, Unserved, NoCooling, LimitOrder, FlushShort, ManyVessels,
		ManyZones, ZoneUse, ZoneGap, QuietForm, PinForm, ContactForm, TwoChillers,
		DeviceForm, ChannelForm, SPIForm, Reference, ADCForm, CurveForm, Coefficients, SpanOrder, BeyondSpan,
		DateForm, CalibrationPlace, CalibrationPoints, TwoCalibrations, FloatForm, Polynomial, OwnUnit,
	}
}

// What is allowed and doubtful in a site.
const (
	NoSource strict.Rule = "no-source"
	NoRelay  strict.Rule = "no-relay"
	BarePin  strict.Rule = "bare-pin"

	LeadError strict.Rule = "rtd-two-wires"
	PoorBeta  strict.Rule = "ntc-beta"

	NotUsed             strict.Rule = "calibration-not-used"
	DoubtfulCalibration strict.Rule = "calibration-doubtful"
)

// How a schedule may fail to fit a vessel.
const (
	TooCold      strict.Rule = "below-lowest"  // refuses
	TooWarm      strict.Rule = "above-highest" // refuses
	NoHeater     strict.Rule = "no-heater"
	NoCooler     strict.Rule = "no-cooler"
	NeedsArming  strict.Rule = "needs-arming"
	NoHydrometer strict.Rule = "no-hydrometer"
)
