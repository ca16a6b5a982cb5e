// Package store keeps everything the program knows in one SQLite file, and is
// the only package that knows SQL.
//
// Start with [Open]. The nouns are [Patient], [Drop] (one look at one name in
// the watched folder), [File] (one distinct content, known by its hash) and
// [Wear]. [Store.File] saves what a readable file brings; [Store.Hold],
// [Store.RefuseFile] and [Store.RecordDrop] save the other ends a file can
// come to. [Store.Round] is the ranked list, [Store.Wear] and [Store.Trace]
// one wear, [Store.Drops] the Files page. How each layout is read is a
// [Recipe]: [Store.RecipeBook] is all of them, [Store.Withdraw] takes one out of
// use and [Store.ReadAgain] has its files read anew.
//
// What people do with a wear begins with [Store.Claim] and ends with
// [Store.RecordOutcome], the only way by which one leaves the round; [Rules]
// says what each outcome asks for and which [Recall] follows it. [Store.Review]
// is all that was recorded on the way. The report is made here, by the
// transaction that changes anything it is made from ([Store.JudgeBy]), so that
// no report is ever older than what is in force.
// [Store.YearAudit] counts, without a name, what came of a year's wears, and
// [Store.KeepAudit] keeps it for good. [Store.TryProtocol] says what another
// protocol would change, before [Store.SignProtocol] has it hold.
//
// # Guarantees
//
// Each method that writes does so in one transaction, on the only connection
// that can write, and it is on the disk when the method returns: a process
// killed at any instant leaves all of a change or none. The same bytes are
// filed once, however many callers try. A method that reads sees one
// unchanging view of the data, and never waits for a writer.
//
// Readings come back exactly as they went in, down to the recorded decimal
// text and unit. They are packed by the day; the format is described in
// pack.go. A report comes back as its JSON form says it, that is with figures
// to six decimals.
//
// Instants are whole seconds and come back in UTC, but for those inside a
// report or its days, which keep the offset they were reported with, as do
// the start and end of a [RoundRow]. The times of change of files keep their
// nanoseconds.
//
// Methods that take an [Actor] are for users, and refuse one whose role does
// not allow it at that moment; the others are for the program itself, or for
// whom [As] names. Every change is in the log, written by the same
// transaction, and so is every refusal. [Store.VerifyLog] finds any byte of
// the log that was changed, and with an [Anchor] from a second place also a log
// that was put back to an older state. What people recorded is never deleted,
// but withdrawn, undone or corrected by a later row.
//
// [Store.DataVersion] rises with every change of what the round or the Files
// page shows, and is the cheap way to ask whether there is anything new.
//
// Every row that people and files brought is sealed by the transaction that
// changes it (seal.go): [Store.VerifyData] finds any that was changed, taken
// away or put in by other means, and a wear that does not fit its seal is not
// shown. Where the disk takes no writes, reading goes on: sessions stay, and looks
// at patients' data are logged once it takes them again. [Store.Intact] knows the
// file that was opened from one put in its place.
//
// # Errors
//
// Every error is an [Error], with a [Code] that says what the caller can do
// and words that may be shown to anyone. Nothing but a missing row is
// [NotFound].
//
// # Rules for those who change it
//
// The schema only goes forward: a new numbered file in migrations, never an
// edit of one that was published, whose hash is kept in every database.
// Inside a transaction every query goes to the transaction; the pool has no
// second connection to give. The database file must never be opened by other
// means in this process: closing it would drop SQLite's locks.
package store
