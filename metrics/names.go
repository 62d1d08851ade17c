// Package metrics exports the newest snapshot to Prometheus. It is a collector
// that reads at scrape time, so that a scrape can only see a finished step.
//
// The package refuses to keep anything of its own, to touch the global registry,
// to export a value that is stale (the gap in the graph is the message, and
// restpoint_last_reading_timestamp_seconds says how old it is), and to export a
// state as a number that has to be looked up: states are one series each, 1 or 0.
package metrics

// Type is how a metric may be used.
type Type string

// The types.
const (
	Gauge   Type = "gauge"
	Counter Type = "counter"
)

// Unit is what a metric counts in.
type Unit string

// The units.
const (
	Celsius Unit = "celsius"
	Seconds Unit = "seconds"
	Ratio   Unit = "ratio"  // specific gravity: density against water
	Points  Unit = "points" // of gravity: 0.001 each
	Pascals Unit = "pascals"
	Watts   Unit = "watts"
	Bytes   Unit = "bytes"
	Volumes Unit = "volumes" // of gas at 0 C and 1 atm in one of beer
	Truth   Unit = "1 or 0"
	Count   Unit = "count"
)

// Row is one metric.
type Row struct {
	Name   string
	Type   Type
	Unit   Unit
	Labels []string
	Help   string
}

// The names. A released one keeps its meaning.
const (
	beerTemperature     = "restpoint_beer_temperature_celsius"
	targetTemperature   = "restpoint_target_temperature_celsius"
	surroundTemperature = "restpoint_surround_temperature_celsius"
	ambientTemperature  = "restpoint_ambient_temperature_celsius"
	wellTemperature     = "restpoint_thermowell_temperature_celsius"
	floatTemperature    = "restpoint_hydrometer_temperature_celsius"
	topPressure         = "restpoint_top_pressure_pascals"
	residualCO2         = "restpoint_residual_co2_volumes"
	yeastHeat           = "restpoint_yeast_heat_watts"
	openReminders       = "restpoint_open_reminders"
	specificGravity     = "restpoint_specific_gravity"
	pointsLeft          = "restpoint_points_left"
	pointsLeftBound     = "restpoint_points_left_bound"
	forecastAt          = "restpoint_forecast_timestamp_seconds"
	stageActive         = "restpoint_stage_active"
	modeActive          = "restpoint_mode_active"
	relayOn             = "restpoint_relay_on"
	relaySwitches       = "restpoint_relay_switches_total"
	relayOnSeconds      = "restpoint_relay_on_seconds_total"
	alarmActive         = "restpoint_alarm_active"
	alarmsStanding      = "restpoint_standing_alarms"
	alarmsChattering    = "restpoint_chattering_alarms"
	probeFaults         = "restpoint_probe_faults_total"
	gravityReadings     = "restpoint_gravity_readings_total"
	lastReading         = "restpoint_last_reading_timestamp_seconds"
	lastStep            = "restpoint_last_step_timestamp_seconds"
	stepDuration        = "restpoint_step_duration_seconds"
	recordFailing       = "restpoint_record_failing"
	writtenBytes        = "restpoint_written_bytes_total"
	buildInfo           = "restpoint_build_info"
)

// Table lists every metric that the program exports under its own name.
func Table() []Row {
	vessel := func(more ...string) []string { return append([]string{"vessel"}, more...) }
	return []Row{
		{beerTemperature, Gauge, Celsius, vessel(), "Temperature of the beer. Absent while no believable reading is at hand."},
		{targetTemperature, Gauge, Celsius, vessel(), "Temperature that is wanted of the beer now. Absent while nothing is wanted."},
		{surroundTemperature, Gauge, Celsius, vessel(), "Temperature of the air or jacket around the vessel. Absent while no believable reading is at hand."},
		{ambientTemperature, Gauge, Celsius, vessel(), "Temperature of the room. Absent while no believable reading is at hand."},
		{wellTemperature, Gauge, Celsius, vessel("probe"), "Temperature in one of several thermowells. Absent while no believable reading is at hand."},
		{floatTemperature, Gauge, Celsius, vessel(), "Temperature that the hydrometer reports itself. Absent while no believable reading is at hand."},
		{topPressure, Gauge, Pascals, vessel(), "Pressure of the gas above the beer, above that of the air. Absent while no believable reading is at hand."},
		{residualCO2, Gauge, Volumes, vessel(), "Carbon dioxide that the beer holds for sure. Absent while it is not known."},
		{yeastHeat, Gauge, Watts, vessel(), "Heat that the yeast gives, from the vessel's heat balance. Absent while it cannot be told."},
		{openReminders, Gauge, Count, vessel(), "Reminders that nobody has answered."},
		{specificGravity, Gauge, Ratio, vessel(), "Specific gravity of the beer, as estimated. Absent while it is not known."},
		{pointsLeft, Gauge, Points, vessel(), "Points of gravity until the beer will really end, as estimated. Absent while gravity is not known."},
		{pointsLeftBound, Gauge, Points, vessel("bound"), "Bounds of the points left: low is exceeded with a chance of 90 in 100, high with 10 in 100."},
		{forecastAt, Gauge, Seconds, vessel("event", "bound"), "Unix time at which an event (rest, terminal, crashed, ready) is forecast. By early, middle and late it has come with a chance of 10, 50 and 90 in 100. Absent while it cannot be told, and once it has passed."},
		{stageActive, Gauge, Truth, vessel("stage", "kind"), "1 for the stage in which the batch is, 0 for the others of its schedule. Absent while no batch runs."},
		{modeActive, Gauge, Truth, vessel("mode"), "1 for what the vessel is doing, 0 for every other mode."},
		{relayOn, Gauge, Truth, vessel("relay"), "1 while the relay is driven on. Fitted relays only."},
		{relaySwitches, Counter, Count, vessel("relay"), "How often the relay was switched on, over all runs of the program."},
		{relayOnSeconds, Counter, Seconds, vessel("relay"), "Time for which the relay was on, over all runs of the program."},
		{alarmActive, Gauge, Truth, vessel("alarm", "priority"), "1 while the alarm stands, acknowledged, shelved or not; 0 for every alarm that does not stand."},
		{alarmsStanding, Gauge, Count, vessel(), "Alarms whose cause stands for more than a day: nobody heeds them any more, or nothing can be done."},
		{alarmsChattering, Gauge, Count, vessel(), "Alarms that were raised three times or more within the hour."},
		{probeFaults, Counter, Count, vessel("probe", "fault"), "Failed readings of a probe since the program started, by what was wrong."},
		{gravityReadings, Counter, Count, vessel("verdict"), "Readings of the hydrometer in a batch since the program started, by what became of them. Vessels with a hydrometer only."},
		{lastReading, Gauge, Seconds, vessel("probe"), "Unix time of the newest good reading. Absent before the first one."},
		{lastStep, Gauge, Seconds, nil, "Unix time of the newest finished step of the control loop."},
		{stepDuration, Gauge, Seconds, nil, "How long the newest step of the control loop took, all vessels together."},
		{recordFailing, Gauge, Truth, nil, "1 while the record cannot be written and control goes on from memory."},
		{writtenBytes, Counter, Bytes, nil, "What this process has made the kernel write to its disks since it began; a memory card wears by it. Absent where the kernel does not count it."},
		{buildInfo, Gauge, Truth, []string{"version", "revision", "goversion"}, "Always 1; the labels say which program this is."},
	}
}
