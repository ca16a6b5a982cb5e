// Package chart draws the program's pictures: numbers in, SVG text out.
//
// Start with [LedgerRow] (a pip a day), [Tracks] (value, evidence and context
// on one ruler of time) and [Tape] (a punched strip a day).
//
// # Guarantees
//
// The same numbers give the same text to the byte. Every text is escaped, no
// picture carries a style or a script of its own, and each has a title, a
// description and role="img". Colours come from the page's stylesheet by
// class; every meaning has a shape of its own besides. Labels never overlap:
// what finds no place is counted in words. A gap is drawn as a gap.
package chart
