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
	HeatWeak        ID = "heating-weak"
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
	Strayed         ID = "strayed"
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

// IDs lists every alarm in the order in which they are shown.
func IDs() []ID {
	return []ID{
		ProbeLost, ProbeMoved, OverPressure, Vacuum, HighLimit, LowLimit,
		Freezing, RelayFault, HeatIneffective, CoolWrong, RelayStuck, ProbeStuck,
		CoolIneffective, HeatWeak, BackupProbe, BeerTooWarm, BeerTooCold, StateLost, Strayed, NotStarted,
		SlowStart, Stuck, GravityLost, GravityDoubtful, StageTooLong, NeedsArming,
		OutsideLimits, LateLoop, RecordFailing, PressureLost, Stratified, ManyStarts,
		RelayWorn, CleaningTooLong,
	}
}

// Table lists every alarm in that order.
func Table() []Row {
	ids := IDs()
	rows := make([]Row, len(ids))
	for i, id := range ids {
		rows[i], _ = Find(id)
	}
	return rows
}

// Find gives the row of an alarm. Delays are engineering judgement for vessels that
// move a few kelvins a day; that of a slow start is what a hydrometer takes to show a
// fall that has begun.
func Find(id ID) (Row, bool) { //nolint:funlen // a table
	switch id {
	case ProbeLost:
		return Row{id, Urgent, 0, time.Minute, "the beer probe gives no believable reading", "heat stays off, and cooling too, but for a fermenting beer at half its usual share for six hours; it warms by some kelvins a day", "check plug, cable and thermowell; the batch goes on when five readings agree", "hours", true}, true
	case ProbeMoved:
		return Row{id, Urgent, 0, time.Minute, "the beer probe moved further within minutes than beer can", "it may be out of its well: heat and cool stay off", "put it back, and it is believed again; or acknowledge, if the beer is really there", "hours", true}, true
	case OverPressure:
		return Row{id, Urgent, 0, time.Minute, "the pressure above the beer is beyond what the tank is meant for", "fittings burst; people are hurt", "keep away from the lid; open the vent slowly; check the relief valve; never warm a closed tank", "minutes", true}, true
	case Vacuum:
		return Row{id, Urgent, 0, time.Minute, "there is a vacuum above the beer", "the tank is sucked in, or air and trap liquid into the beer; a crash stops cooling", "give gas, or open the vent; check the breaker and the CO2 bottle", "minutes", true}, true
	case HighLimit:
		return Row{id, Urgent, 0, 10 * time.Minute, "the beer is above the vessel's highest temperature", "off-flavours; heat is locked out", "check heater and probe; cool by hand if cooling does not run", "an hour", true}, true
	case LowLimit:
		return Row{id, Urgent, 0, 10 * time.Minute, "the beer is below the vessel's lowest temperature", "ice at the wall, burst fittings; cooling is locked out", "check chiller valve and probe; warm the room", "an hour", true}, true
	case Freezing:
		return Row{id, Urgent, 0, 10 * time.Minute, "the beer is colder than it may be without ice", "ice at the wall, burst fittings, beer without its strength; cooling is locked out", "check chiller valve and probe; warm the vessel; enter a sample if the gravity is not known", "an hour", true}, true
	case RelayFault:
		return Row{id, Urgent, 0, time.Minute, "a relay could not be set", "the vessel may heat or cool on its own", "switch the mains of heater and chiller off; check the board", "minutes", true}, true
	case HeatIneffective:
		return Row{id, Urgent, 0, 10 * time.Minute, "heat has been on and the beer did not warm", "probe out of its well, heater dead, or channels swapped; heat is kept off", "look at probe, heater and wiring, then acknowledge", "an hour", true}, true
	case CoolWrong:
		return Row{id, Urgent, 0, 10 * time.Minute, "cooling has been on and the beer warmed fast", "heat and cool swapped, or the probe out of its well; cooling is kept off", "look at wiring and probe, then acknowledge", "an hour", true}, true
	case RelayStuck:
		return Row{id, Urgent, 0, time.Minute, "a relay is off and its contact seems to stay closed", "the vessel heats or cools on its own, and no program can stop it", "switch the mains of heater and chiller off; replace the relay", "minutes", true}, true
	case ProbeStuck:
		return Row{id, High, time.Hour, time.Minute, "the beer probe has not moved by one step through hours of full heat or cooling, nor after it", "heat or cooling stays off until it moves", "check probe, heater and chiller", "hours", true}, true
	case CoolIneffective:
		return Row{id, High, 0, 10 * time.Minute, "cooling has been on for long and the beer did not cool as it should", "the beer warms with its own heat", "look at chiller, pump, glycol level, frozen coil", "hours", true}, true
	case HeatWeak:
		return Row{id, High, 0, 10 * time.Minute, "heat warms the beer by less than 0.3 of what was learnt of the heater", "the beer may cool with the room, yeast goes to sleep", "look at the heater, its fuse and plug, and where it sits; with another heater, have what was learnt forgotten", "hours", true}, true
	case BackupProbe:
		return Row{id, High, 0, time.Minute, "a beer probe is lost, or two others contradict it, and another one stands in", "the beer is kept in a wider band; on the hydrometer's thermometer heat stays off and the schedule waits", "check plug, cable and thermowell of the lost probe", "a day", true}, true
	case BeerTooWarm:
		return Row{id, High, 30 * time.Minute, 10 * time.Minute, "the beer is well above its target", "esters and fusels in primary; slow crash", "check cooling; set another target if this is wanted", "hours", true}, true
	case BeerTooCold:
		return Row{id, High, 30 * time.Minute, 10 * time.Minute, "the beer is well below its target", "yeast goes to sleep and leaves a stuck beer", "check heating and the room; set another target if this is wanted", "hours", true}, true
	case StateLost:
		return Row{id, High, 0, 0, "the stored state of a running batch is missing or not understood", "the vessel idles, both relays off", "start the batch again or return it to its stage", "hours", true}, true
	case Strayed:
		return Row{id, High, 0, 0, "the beer was more than 1.5 K out of its stage's band when the program came back", "nobody saw what it did meanwhile; its stage may no longer be the right one", "look at the beer; acknowledge, or return it to another stage; its target is kept meanwhile", "hours", true}, true
	case NotStarted:
		return Row{id, High, 0, time.Hour, "no fall of gravity since pitching", "other microbes take the wort", "check the yeast, rouse, warm a little, pitch again", "a day", false}, true
	case SlowStart:
		return Row{id, Low, 6 * time.Hour, time.Hour, "the gravity has hardly fallen yet, later than is usual after pitching", "other microbes gain on the yeast while the wort is sweet; if it goes on, a high alarm follows", "look for foam and gas; check the temperature and the hydrometer; have yeast at hand", "half a day", false}, true
	case Stuck:
		return Row{id, High, 0, time.Hour, "gravity stopped falling above where this beer should end", "sweet beer that may start again in the keg", "rouse, warm, taste; then advance or wait", "a day", false}, true
	case GravityLost:
		return Row{id, Low, 0, 0, "the hydrometer is silent", "stages that wait for gravity do not advance", "look at the hydrometer, or enter a sample by hand", "a day", false}, true
	case GravityDoubtful:
		return Row{id, Low, 6 * time.Hour, 2 * time.Hour, "hydrometer and heat of the beer contradict each other", "a stage may end too early or too late", "enter a sample by hand; look at the hydrometer: foam, yeast on it, the wall", "a day", false}, true
	case StageTooLong:
		return Row{id, High, 0, 0, "the stage lasts longer than its schedule allows", "the beer waits for a decision", "look at the beer; advance, or let it go on", "a day", false}, true
	case NeedsArming:
		return Row{id, High, 0, 0, "the stage before the crash is over and nobody has said that the tank may be cooled", "the crash waits; cooling a closed tank draws a vacuum", "put gas or a vacuum breaker on, then arm", "a day", false}, true
	case OutsideLimits:
		return Row{id, High, 0, 0, "the target is outside the vessel's limits", "the nearest limit is held instead", "set another target or adopt a changed schedule", "hours", false}, true
	case LateLoop:
		return Row{id, Low, 0, 10 * time.Minute, "the program was late", "heat was off for a step", "look at the board: load, power supply, card", "a day", false}, true
	case RecordFailing:
		return Row{id, High, 0, time.Minute, "the record cannot be written", "control goes on from memory; history is being lost", "look at the card: full, read-only, worn out", "a day", false}, true
	case PressureLost:
		return Row{id, Low, time.Minute, time.Minute, "the pressure transducer gives no believable reading", "over-pressure and vacuum are not seen; control goes on", "check cable and supply of the transducer", "a day", false}, true
	case Stratified:
		return Row{id, Low, 30 * time.Minute, 30 * time.Minute, "the thermowells lie more than 1.5 K apart", "part of the beer is at another temperature than the one held", "check the probes against one another; rouse; look at the cooling zones", "hours", false}, true
	case ManyStarts:
		return Row{id, Low, 10 * time.Minute, time.Hour, "the compressor starts more than six times an hour", "it wears out early", "look at the probe's place and at what leaks cold", "days", false}, true
	case RelayWorn:
		return Row{id, Low, 0, 0, "a relay has switched 70,000 times, of some 100,000 that its contact lives", "it may weld, and heat or cool for ever", "replace it before the next batch", "weeks", false}, true
	case CleaningTooLong:
		return Row{id, Low, 0, 0, "cleaning is not ended", "both relays stay locked out", "set the mode when the vessel is ready", "a day", false}, true
	}
	return Row{}, false
}
