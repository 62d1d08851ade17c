package controller_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"example.org/restpoint/controller"
)

func TestParseVerb(t *testing.T) {
	for text, want := range map[string]controller.Verb{
		"pitched":                     {Kind: controller.PitchedNow},
		"  arm  ":                     {Kind: controller.Arm},
		"advance":                     {Kind: controller.AdvanceNow},
		"pause":                       {Kind: controller.Pause},
		"resume":                      {Kind: controller.Resume},
		"end-cold":                    {Kind: controller.EndCold},
		"end-off":                     {Kind: controller.EndOff},
		"start pale-ale":              {Kind: controller.Start, Say: "pale-ale"},
		"start my pale ale as b 12":   {Kind: controller.Start, Say: "my pale ale", Batch: "b 12"},
		"adopt pale-ale":              {Kind: controller.Adopt, Say: "pale-ale"},
		"sample 1.018":                {Kind: controller.Sample, Value: controller.OfGravity(1.018)},
		"sample 1.018 at 20 C":        {Kind: controller.Sample, Value: controller.OfSample(1.018, 20)},
		"sample   1.018  at   20 C":   {Kind: controller.Sample, Value: controller.OfSample(1.018, 20)},
		"sample 1.018 at 68 F":        {Kind: controller.Sample, Value: controller.OfSample(1.018, 20)},
		"confirm":                     {Kind: controller.Confirm},
		`confirm "tastes clean"`:      {Kind: controller.Confirm, Say: "tastes clean"},
		"confirm tastes clean":        {Kind: controller.Confirm, Say: "tastes clean"},
		`return "diacetyl rest"`:      {Kind: controller.Return, Stage: "diacetyl rest"},
		"return primary":              {Kind: controller.Return, Stage: "primary"},
		"target 19.5 C":               {Kind: controller.SetTarget, Celsius: 19.5},
		"mark dry-hop":                {Kind: controller.Mark, Mark: controller.DryHop},
		"acknowledge":                 {Kind: controller.Acknowledge},
		"acknowledge stuck":           {Kind: controller.Acknowledge, Alarm: "stuck"},
		"shelve gravity-lost for 2 h": {Kind: controller.Shelve, Alarm: "gravity-lost", For: 2 * time.Hour},
		"mode idle":                   {Kind: controller.SetMode, Mode: controller.Idle},
		"mode pre-chill 12 C":         {Kind: controller.SetMode, Mode: controller.PreChill, Celsius: 12},
		"mode cleaning":               {Kind: controller.SetMode, Mode: controller.Cleaning},
		"mode cleaning for 90 min":    {Kind: controller.SetMode, Mode: controller.Cleaning, For: 90 * time.Minute},
		"mark fill":                   {Kind: controller.Mark, Mark: controller.Refill},
		"mark fill 25 L at 1.051":     {Kind: controller.Mark, Mark: controller.Refill, Volume: 25, Gravity: 1.051},
		"mark addition":               {Kind: controller.Mark, Mark: controller.Addition},
		"mark addition 8 points":      {Kind: controller.Mark, Mark: controller.Addition, Points: 8},
		"done":                        {Kind: controller.Done},
		"done 3":                      {Kind: controller.Done, Job: 3},
		"done 2 with 10 points":       {Kind: controller.Done, Job: 2, Points: 10},
		"skip 12":                     {Kind: controller.Skip, Job: 12},
		"unlock":                      {Kind: controller.Unlock},
		"forget":                      {Kind: controller.Forget},
		"mode cleaning 90 min":        {Kind: controller.SetMode, Mode: controller.Cleaning, For: 90 * time.Minute},
	} {
		got, err := controller.ParseVerb(strings.Split(text, " "))
		if err != nil {
			t.Errorf("%q: %v", text, err)
		}
		if d := got.Value.Celsius.Minus(want.Value.Celsius); d < 1e-9 && d > -1e-9 {
			got.Value.Celsius = want.Value.Celsius
		}
		if got != want {
			t.Errorf("%q: got %+v, want %+v", text, got, want)
		}
		if again, err := controller.ParseVerb([]string{got.String()}); err != nil || again != got {
			t.Errorf("%q is written as %q, which reads %+v, %v", text, got, again, err)
		}
	}
}

func TestParseVerbSaysWhatIsWrong(t *testing.T) {
	for text, want := range map[string]string{
		"":                          "an order is missing; orders are start, pitched",
		"   ":                       "an order is missing",
		"brew":                      `there is no order "brew"; orders are start`,
		"Pitched":                   `there is no order "Pitched"`,
		"pitched today":             `pitched takes nothing more, not "today"`,
		"end-off now":               "takes nothing more",
		"start":                     "start needs a schedule",
		"adopt":                     "adopt needs a schedule",
		"start pale-ale as":         "start needs a schedule",
		"adopt pale-ale as b1":      "adopt needs a schedule",
		"sample":                    "sample: ",
		"sample heavy":              "not a gravity",
		"sample 1.018 at warm":      "not a temperature",
		"sample 1.018 at 20":        "the unit is missing",
		"sample 1.018 at 70 C":      "70 C is not the temperature of a sample; 0 C to 60 C are",
		"sample 1.018 at -1 C":      "not the temperature of a sample",
		"return":                    "return needs the name of a stage",
		"target":                    "target: ",
		"target 20":                 "the unit is missing",
		"target 20,5 C":             "decimal point",
		"mark":                      `there is no mark ""; marks are dump`,
		"mark wine":                 `there is no mark "wine"`,
		"mark dump 3":               `mark dump takes nothing more, not "3"`,
		"mark fill 25 L":            `"mark fill 25 L at 1.051"`,
		"mark fill 25 at 1.051":     "the unit is missing",
		"mark fill 25 L at heavy":   "not a gravity",
		"mark addition 80 points":   "at most 60 points",
		"mark addition -3 points":   "more than 0",
		"mark addition sugar":       "mark: ",
		"done it":                   `done takes the number of a reminder, not "it"`,
		"done 2 with sugar":         "done: ",
		"skip 2 with 3 points":      "what is skipped adds nothing",
		"skip 0":                    `not "0"`,
		"unlock it":                 "takes nothing more",
		"shelve stuck":              `"shelve gravity-lost for 2 h"`,
		"shelve for 2 h":            `"shelve gravity-lost for 2 h"`,
		"shelve stuck for 13 h":     "at most 12 h",
		"shelve stuck for 0 s":      "at most 12 h",
		"shelve stuck for ever":     "not a duration",
		"mode":                      `mode is "idle"`,
		"mode batch":                `mode is "idle"`,
		"mode party":                `not "party"`,
		"mode idle 20 C":            `mode is "idle"`,
		"mode pre-chill":            "not a temperature",
		"mode pre-chill 12":         "the unit is missing",
		"mode cleaning for a while": "not a duration",
	} {
		_, err := controller.ParseVerb(strings.Split(text, " "))
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
			continue
		}
		if _, ok := errors.AsType[*controller.OrderError](err); !ok {
			t.Errorf("%q: the error is a %T", text, err)
		}
	}
}

// Every order that there is can be said.
func TestEveryOrderCanBeSaid(t *testing.T) {
	rest := map[controller.VerbKind]string{
		controller.Start: "x", controller.Adopt: "x", controller.Sample: "1.02", controller.Return: "x", controller.SetTarget: "20 C",
		controller.Mark: "dump", controller.Shelve: "x for 1 h", controller.SetMode: "idle",
	}
	for _, k := range controller.VerbKinds() {
		v, err := controller.ParseVerb([]string{string(k), rest[k]})
		if err != nil || v.Kind != k {
			t.Errorf("%s: %+v, %v", k, v, err)
		}
	}
}

func FuzzParseVerb(f *testing.F) {
	for _, s := range []string{"sample 1.018 at 20 C", "mode cleaning for 2 h", "start a as b", "shelve x for 2 h", "return \"", "mark", "\x00", "target nan C"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		v, err := controller.ParseVerb(strings.Fields(text))
		if err != nil {
			return
		}
		if again, err := controller.ParseVerb([]string{v.String()}); err != nil || again != v {
			t.Fatalf("%q is written as %q, which reads %+v, %v", text, v, again, err)
		}
		mustJSON(t, v) // every order that is understood is finite and can be stored
	})
}
