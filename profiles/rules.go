package profiles

import "example.org/restpoint/profiles/strict"

// The rules of meaning, beyond the rules of form of the strict package.
const (
	TargetForm      strict.Rule = "target-form"
	RiseDown        strict.Rule = "rise-not-up"
	ConditionForm   strict.Rule = "condition-form"
	BareAttenuation strict.Rule = "bare-attenuation"
	OnlyTrue        strict.Rule = "only-true"
	RemindForm      strict.Rule = "remind-form"
	RemindStage     strict.Rule = "remind-stage"
	HeatPlace       strict.Rule = "remind-heat-place"
	WortOrder       strict.Rule = "wort-order"
	ManyStages      strict.Rule = "many-stages"
	NameTwice       strict.Rule = "stage-name-twice"
	UntilMissing    strict.Rule = "until-missing"
	LastStageEnds   strict.Rule = "last-stage-ends"
	AdvanceCold     strict.Rule = "advance-into-cold"
	UnguardedCold   strict.Rule = "unguarded-cold"
	ClockAlone      strict.Rule = "clock-alone"
	PitchedPlace    strict.Rule = "pitched-place"
	NoYeastYet      strict.Rule = "no-yeast-yet"
	OutOfReach      strict.Rule = "out-of-reach"
	StuckPlace      strict.Rule = "stuck-place"
)

// Rules lists the rules of meaning that refuse a schedule.
func Rules() []strict.Rule {
	return []strict.Rule{
		TargetForm, RiseDown, ConditionForm, BareAttenuation, OnlyTrue, RemindForm, RemindStage, HeatPlace, WortOrder, ManyStages,
		NameTwice, UntilMissing, LastStageEnds, AdvanceCold, UnguardedCold, ClockAlone, PitchedPlace, NoYeastYet, OutOfReach, StuckPlace,
	}
}

// What is allowed and doubtful.
const (
	KindOrder      strict.Rule = "kind-order"
	YeastHeat      strict.Rule = "yeast-heat"
	HoldsAtOnce    strict.Rule = "holds-at-once"
	HardlyMet      strict.Rule = "hardly-met"
	ShortLongest   strict.Rule = "short-longest"
	ClockNotNeeded strict.Rule = "clock-not-needed"
	NeverPitched   strict.Rule = "never-pitched"
	CooledEarly    strict.Rule = "cooled-early"
	// DisturbedWindow is a job that disturbs the decision of its own stage.
	DisturbedWindow strict.Rule = "disturbed-window"
	Ice             strict.Rule = "ice"
)

// WarningRules lists the rules that only warn.
func WarningRules() []strict.Rule {
	return []strict.Rule{KindOrder, YeastHeat, HoldsAtOnce, HardlyMet, ShortLongest, ClockNotNeeded, NeverPitched, CooledEarly, DisturbedWindow, Ice}
}
