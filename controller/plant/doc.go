// Package plant is a physical model of a fermenter: heat, yeast, probes and an
// in-tank hydrometer. It is what the controller is tried on.
//
// It refuses to share anything with the controller but the units, to read a
// clock, to start anything in the background, and to draw chance from anywhere
// but the seed it was given. The same vessel, wort, noise, seed and calls give
// the same bits on every processor: products that feed sums are rounded before
// they are added, and exponentials, logarithms and sines are computed here,
// because the standard library has other code for them on some processors.
//
// What it leaves out: layers of different temperature in a tall tank, boiling,
// freezing (the beer may be cooled below its freezing point without ice), the
// mass lost as carbon dioxide (about 4 %), and pressure.
package plant
