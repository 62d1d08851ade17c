package main

import (
	"os"
	"strings"
	"time"

	"golang.org/x/sys/unix"
)

// bootID names this boot of the board; empty where the kernel hides it.
func bootID() string {
	text, err := os.ReadFile("/proc/sys/kernel/random/boot_id")
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(text))
}

// sinceBoot is the time since the boot, the same for all processes.
func sinceBoot() time.Duration {
	var t unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_BOOTTIME, &t); err != nil {
		return 0
	}
	return time.Duration(t.Nano())
}

// clockSynchronised tells whether the kernel believes its wall clock.
func clockSynchronised() bool {
	const timeError = 5 // TIME_ERROR of adjtimex(2)
	var t unix.Timex
	state, err := unix.Adjtimex(&t)
	return err == nil && state != timeError && t.Status&unix.STA_UNSYNC == 0
}
