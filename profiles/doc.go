// Package profiles holds the language in which a brewer writes what a batch
// goes through: it reads a schedule, checks it, explains it in words, and keeps
// the schedules that come with the program.
//
// The package refuses a schedule that could harm a beer by itself: one in which
// anything but terminal gravity or a named person lets the beer into the cold,
// in which a clock alone ends a stage unseen, or in which a temperature has no
// unit. It finds all problems at once and never gives half a schedule.
package profiles
