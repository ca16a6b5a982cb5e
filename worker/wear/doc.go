// Package wear is the engine: readings and events of one sensor wear in, one
// report out. It is also the shared vocabulary of the whole program.
//
// Start with [Reading], [Event] and [Context] (what goes in), [Protocol] (the
// practice's limits), [Analyse] (the work) and [Report] (what comes out).
// [Split] cuts a file's readings into wears first; [Compare] sets two wears of
// one patient side by side; [NewNorms] makes percentiles of one sensor kind.
// [Methods] lists every definition with its formula and source.
//
// # Guarantees
//
// The package is pure: it opens nothing, reads no clock, loads no time zone,
// starts no goroutine and draws no random number. The same input gives the
// same report to the byte, whatever the order of the readings. It never
// panics on data: gaps, duplicates, disorder and empty input give a report
// that says so. A figure that cannot be given is a [Figure] that is not OK,
// never NaN.
//
// # What it is not
//
// It orders work and shows evidence. It does not diagnose: laboratory tests do.
package wear
