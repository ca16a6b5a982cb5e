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
// stops the others.
package worker
