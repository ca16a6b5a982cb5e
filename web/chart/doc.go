// Package chart draws the program's pictures: numbers in, SVG text out.
//
// Start with [LedgerRow] (a pip a day), [Tracks] (value, evidence and context
// on one ruler of time, and their [Tracks.Overview]), [Tape] (a punched strip a day) and [Riser] (minutes
// above 7.8 so far that day). Beside them stand [MealLines], [Nights],
// [Compare] (two wears), [Years] (all of a patient's wears) and [Months] (what
// became of a practice's); each has a sentence that says how it is read, such
// as [MealKey], to be printed by it.
//
// # Guarantees
//
// The same numbers give the same text to the byte. Every text is escaped, no
// picture carries a style or a script of its own, and each has a title, a
// description and role="img". Colours come from the page's stylesheet by
// class; every meaning has a shape of its own besides. Labels never overlap:
// what finds no place is counted in words. A gap is drawn as a gap. A value
// that is not drawn is said to be missing.
//
// # Classes
//
// The page's stylesheet must style these. Pictures: ledger, tracks, tape, and
// plot for all others. Filled shapes: fill-high (above 7.8), fill-peak (above
// 10), fill-low (a low or a symptom), fill-ink (no limit), open (filled with
// paper and edged in ink), paper and torn (a strip of tape). Lines: line-value,
// line-faint, line-chosen (thick, of the chosen day), line-strong (thick, a
// mean), line-beside (dashed, another sensor), line-mark, line-high, line-stone,
// line-limit, line-day, line-hour, line-far (of a trace above 10 or below
// 3.9), frame (of an overview's window); dashed beside one of these; hatch-gap
// and hatch-doubt in patterns. Texts: label, label-low, label-chosen, limit,
// day, small. An empty group layer beneath each row of tracks is for a script's
// cursor. In print each comes to black, grey or white; no meaning is lost,
// since none rests on colour.
package chart
