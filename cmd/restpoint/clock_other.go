//go:build !linux

package main

import "time"

// Real vessels are looked after on Linux only; elsewhere an outage has no known length.
func bootID() string           { return "" }
func sinceBoot() time.Duration { return 0 }
func clockSynchronised() bool  { return false }
