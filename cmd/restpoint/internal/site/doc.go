// Package site reads the file that wires a board: its vessels with their
// probes and relays, what they share, and where the program listens and keeps
// its record.
//
// The package opens nothing and switches nothing; it says what is to be opened.
// It refuses a site in which one line, file or probe serves two purposes, a
// vessel has no probe in the beer, a compressor gets less rest than it needs, or
// a heater hangs on a relay of another kind. All problems are found at once.
package site
