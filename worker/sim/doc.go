// Package sim invents sensor wears whose truth is known: for the demo practice
// and for tests of the engine.
//
// Start with [NewPractice] (a register of invented people and their wears over
// a year), [NewWear] (one wear of one [Kind]), [Render] (a wear as the bytes of
// an export file in one of the [Layouts]) and [Oddities] (troublesome files).
//
// Glucose comes from a published model of meals, insulin and the liver, driven
// by an invented diary of meals, sleep and exercise; a model of the sensor then
// adds its delay, noise, bias and faults. [Truth] says for each reading what
// the blood really did and which fault, if any, spoilt the reading.
//
// # Guarantees
//
// The same seed, date and zone give the same wear and the same file to the
// byte on one kind of processor; another kind may round the last bit of a sum
// differently. No clock is read. Every person, code, meal and file arrangement
// is made up.
//
// # What it is not
//
// It is not a patient simulator for choosing treatment. Where a number has no
// published source the comment beside it says so.
package sim
