// Package alarms holds every alarm in one table (cause, consequence, what to do,
// time available) and the states an alarm passes through, after ISA-18.2.
//
// An alarm is an abnormal condition that needs a person in time. What needs
// nobody is an event and does not belong here. The package decides nothing about
// relays, and it never clears what has not passed.
package alarms

import "time"

// ID names an alarm.
type ID string

// Priority is how soon a person is needed.
type Priority string

// The priorities, by the time there is.
const (
	Urgent Priority = "urgent" // within the hour
	High   Priority = "high"   // within the day
	Low    Priority = "low"    // at the next visit
)

// The alarms.
const (
	ProbeLost       ID = "probe-lost"
	BackupProbe     ID = "backup-probe"
	BeerTooWarm     ID = "beer-too-warm"
	BeerTooCold     ID = "beer-too-cold"
	HighLimit       ID = "high-limit"
	Freezing        ID = "freezing"
	LowLimit        ID = "low-limit"
	CoolIneffective ID = "cooling-ineffective"
	HeatIneffective ID = "heating-ineffective"
	RelayFault      ID = "relay-fault"
	LateLoop        ID = "late-loop"
	NotStarted      ID = "not-started"
	SlowStart       ID = "slow-start"
	Stuck           ID = "stuck"
	GravityLost     ID = "gravity-lost"
	GravityDoubtful ID = "gravity-doubtful"
	StageTooLong    ID = "stage-too-long"
	NeedsArming     ID = "needs-arming"
	OutsideLimits   ID = "target-outside-limits"
	StateLost       ID = "state-lost"
	RecordFailing   ID = "record-failing"
	CleaningTooLong ID = "cleaning-too-long"
	OverPressure    ID = "over-pressure"
	Vacuum          ID = "vacuum"
	PressureLost    ID = "pressure-lost"
	Stratified      ID = "stratified"
	ProbeMoved      ID = "probe-moved"
	ProbeStuck      ID = "probe-stuck"
	CoolWrong       ID = "cooling-warms"
	RelayStuck      ID = "relay-stuck"
	RelayWorn       ID = "relay-worn"
	ManyStarts      ID = "many-starts"
)

// Row is what a person needs to know of an alarm.
type Row struct {
	ID          ID
	Priority    Priority
	OnDelay     time.Duration // the cause must stand so long
	OffDelay    time.Duration // and be gone so long
	Cause       string
	Consequence string
	Do          string
	Time        string // available before harm is done
	Wakes       bool   // raised in quiet hours too: heat, cooling, freezing, probes, pressure
}

// Table lists every alarm in the order in which they are shown. Delays are
// engineering judgement for vessels that move a few kelvins a day; that of a slow
// start is what a hydrometer takes to show a fall that has begun.
func Table() []Row {
	t := rows()
	return t[:]
}

// rows is the table by value: a step looks into it while any alarm stands, and an
// array needs no memory of its own.
func rows() [32]Row {
	return [...]Row{
		{ProbeLost, Urgent, 0, time.Minute, "the beer probe gives no believable reading", "heat stays off, and cooling too, but for a fermenting beer at half its usual share for six hours; it warms by some kelvins a day", "check plug, cable and thermowell; the batch goes on when five readings agree", "hours", true},
		{ProbeMoved, Urgent, 0, time.Minute, "the beer probe moved further within minutes than beer can", "it may be out of its well: heat and cool stay off", "put it back, and it is believed again; or acknowledge, if the beer is really there", "hours", true},
		{OverPressure, Urgent, 0, time.Minute, "the pressure above the beer is beyond what the tank is meant for", "fittings burst; people are hurt", "keep away from the lid; open the vent slowly; check the relief valve; never warm a closed tank", "minutes", true},
		{Vacuum, Urgent, 0, time.Minute, "there is a vacuum above the beer", "the tank is sucked in, or air and trap liquid into the beer; a crash stops cooling", "give gas, or open the vent; check the breaker and the CO2 bottle", "minutes", true},
		{HighLimit, Urgent, 0, 10 * time.Minute, "the beer is above the vessel's highest temperature", "off-flavours; heat is locked out", "check heater and probe; cool by hand if cooling does not run", "an hour", true},
		{LowLimit, Urgent, 0, 10 * time.Minute, "the beer is below the vessel's lowest temperature", "ice at the wall, burst fittings; cooling is locked out", "check chiller valve and probe; warm the room", "an hour", true},
		{Freezing, Urgent, 0, 10 * time.Minute, "the beer is colder than it may be without ice", "ice at the wall, burst fittings, beer without its strength; cooling is locked out", "check chiller valve and probe; warm the vessel; enter a sample if the gravity is not known", "an hour", true},
		{RelayFault, Urgent, 0, time.Minute, "a relay could not be set", "the vessel may heat or cool on its own", "switch the mains of heater and chiller off; check the board", "minutes", true},
		{HeatIneffective, Urgent, 0, 10 * time.Minute, "heat has been on and the beer did not warm", "probe out of its well, heater dead, or channels swapped; heat is kept off", "look at probe, heater and wiring, then acknowledge", "an hour", true},
		{CoolWrong, Urgent, 0, 10 * time.Minute, "cooling has been on and the beer warmed fast", "heat and cool swapped, or the probe out of its well; cooling is kept off", "look at wiring and probe, then acknowledge", "an hour", true},
		{RelayStuck, Urgent, 0, time.Minute, "a relay is off and its contact seems to stay closed", "the vessel heats or cools on its own, and no program can stop it", "switch the mains of heater and chiller off; replace the relay", "minutes", true},
		{ProbeStuck, High, time.Hour, time.Minute, "the beer probe has not moved by one step through hours of full heat or cooling, nor after it", "heat or cooling stays off until it moves", "check probe, heater and chiller", "hours", true},
		{CoolIneffective, High, 0, 10 * time.Minute, "cooling has been on for long and the beer did not cool as it should", "the beer warms with its own heat", "look at chiller, pump, glycol level, frozen coil", "hours", true},
		{BackupProbe, High, 0, time.Minute, "a beer probe is lost and another one stands in", "the beer is kept in a wider band; on the hydrometer's thermometer heat stays off and the schedule waits", "check plug, cable and thermowell of the lost probe", "a day", true},
		{BeerTooWarm, High, 30 * time.Minute, 10 * time.Minute, "the beer is well above its target", "esters and fusels in primary; slow crash", "check cooling; set another target if this is wanted", "hours", true},
		{BeerTooCold, High, 30 * time.Minute, 10 * time.Minute, "the beer is well below its target", "yeast goes to sleep and leaves a stuck beer", "check heating and the room; set another target if this is wanted", "hours", true},
		{StateLost, High, 0, 0, "the stored state of a running batch is missing or not understood", "the vessel idles, both relays off", "start the batch again or return it to its stage", "hours", true},
		{NotStarted, High, 0, time.Hour, "no fall of gravity since pitching", "other microbes take the wort", "check the yeast, rouse, warm a little, pitch again", "a day", false},
		{SlowStart, Low, 6 * time.Hour, time.Hour, "the gravity has hardly fallen yet, later than is usual after pitching", "other microbes gain on the yeast while the wort is sweet; if it goes on, a high alarm follows", "look for foam and gas; check the temperature and the hydrometer; have yeast at hand", "half a day", false},
		{Stuck, High, 0, time.Hour, "gravity stopped falling above where this beer should end", "sweet beer that may start again in the keg", "rouse, warm, taste; then advance or wait", "a day", false},
		{GravityLost, Low, 0, 0, "the hydrometer is silent", "stages that wait for gravity do not advance", "look at the hydrometer, or enter a sample by hand", "a day", false},
		{GravityDoubtful, Low, 6 * time.Hour, 2 * time.Hour, "hydrometer and heat of the beer contradict each other", "a stage may end too early or too late", "enter a sample by hand; look at the hydrometer: foam, yeast on it, the wall", "a day", false},
		{StageTooLong, High, 0, 0, "the stage lasts longer than its schedule allows", "the beer waits for a decision", "look at the beer; advance, or let it go on", "a day", false},
		{NeedsArming, High, 0, 0, "the stage before the crash is over and nobody has said that the tank may be cooled", "the crash waits; cooling a closed tank draws a vacuum", "put gas or a vacuum breaker on, then arm", "a day", false},
		{OutsideLimits, High, 0, 0, "the target is outside the vessel's limits", "the nearest limit is held instead", "set another target or adopt a changed schedule", "hours", false},
		{LateLoop, Low, 0, 10 * time.Minute, "the program was late", "heat was off for a step", "look at the board: load, power supply, card", "a day", false},
		{RecordFailing, High, 0, time.Minute, "the record cannot be written", "control goes on from memory; history is being lost", "look at the card: full, read-only, worn out", "a day", false},
		{PressureLost, Low, time.Minute, time.Minute, "the pressure transducer gives no believable reading", "over-pressure and vacuum are not seen; control goes on", "check cable and supply of the transducer", "a day", false},
		{Stratified, Low, time.Hour, 30 * time.Minute, "the thermowells lie more than 2 K apart", "part of the beer is at another temperature than the one held", "check the probes against one another; rouse; look at the cooling zones", "hours", false},
		{ManyStarts, Low, 10 * time.Minute, time.Hour, "the compressor starts more than six times an hour", "it wears out early", "look at the probe's place and at what leaks cold", "days", false},
		{RelayWorn, Low, 0, 0, "a relay has switched 70,000 times, of some 100,000 that its contact lives", "it may weld, and heat or cool for ever", "replace it before the next batch", "weeks", false},
		{CleaningTooLong, Low, 0, 0, "cleaning is not ended", "both relays stay locked out", "set the mode when the vessel is ready", "a day", false},
	}
}

// Find gives the row of an alarm.
func Find(id ID) (Row, bool) {
	t := rows()
	for i := range t {
		if t[i].ID == id {
			return t[i], true
		}
	}
	return Row{}, false
}
