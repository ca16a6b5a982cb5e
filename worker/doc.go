// Package worker reads the exports dropped in a watched folder and files them.
//
// [Worker.Run] is the whole of it: it looks at the folder again and again,
// takes a file once it has stopped changing, hands its bytes to package
// intake, the readings to package wear, and saves everything the file brings
// in one transaction of package store. The original is kept in the archive
// under its hash.
//
// # Guarantees
//
// Looking is the truth: change events only make the next look come sooner,
// because network shares send none. A file is taken when size and time of
// change are the same over two looks, it is a regular file and not a link. The
// watched folder is never written to. Killing the process at any instant
// leaves the same end state as not killing it: the original is archived before
// the transaction, the transaction is all or nothing, and the hash is unique.
// A file that cannot be filed is held or refused with a plain reason; it never
// stops the others, even if the reader panics on it or does not come to an end.
// What keeps files from being dealt with at all (a full disk, a folder that may
// not be read, a file that changes for ever) is said on every page (trouble.go).
//
// # Nothing is guessed
//
// How a layout is read is remembered as a recipe (learn.go) once a file of it
// is filed; whose a file is, never. What is there already decides what a wear
// is joined with (join.go): the same readings at other times (shift.go) or
// under another patient (lookalike.go) are asked about. A file whose recipe
// was withdrawn is read again from its original, and its wears are put
// together anew from their other files (again.go).
package worker
