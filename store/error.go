package store

import (
	"database/sql"
	"errors"
	"fmt"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// Code sorts errors by what the caller can do about them.
type Code string

// The codes.
const (
	Invalid   Code = "invalid"   // the request itself is wrong; asking again will not help
	Forbidden Code = "forbidden" // this user may not do this; somebody else may
	Conflict  Code = "conflict"  // the data have moved on; look again, then ask again
	NotFound  Code = "not_found" // there is no such row, and nothing else is wrong
	Broken    Code = "broken"    // the disk or the data are at fault: a person must see to it, then it goes on
	Internal  Code = "internal"  // anything else: a fault of ours
)

// Error is the only kind of error this package gives. Public is safe to show
// to anyone; the cause is for the log and holds no patient's data.
type Error struct {
	Code   Code
	Public string // one plain sentence or two
	doing  string // what was attempted
	cause  error
}

// Error is the text for the log.
func (e *Error) Error() string {
	s := e.Public
	if e.cause != nil {
		s = e.cause.Error()
	}
	if e.doing != "" {
		s = e.doing + ": " + s
	}
	return s
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.cause }

// Conflicts that a caller reacts to by itself; test for them with [errors.Is].
var (
	// ErrKnown says that these bytes were received before.
	ErrKnown error = &Error{Code: Conflict, Public: "This file was received before. There is nothing to do."}
	// ErrStale says that what the work was based on has changed meanwhile.
	ErrStale error = &Error{Code: Conflict, Public: "The data changed meanwhile. Look again, then try once more."}
)

// ErrOtherPost says that the key of a post was another's: nothing was done.
var ErrOtherPost error = &Error{Code: Conflict, Public: "This key was of another request, so nothing was done. Give each request a key of its own."}

// ErrRepeat says that a post was done before; test for it with [errors.Is].
var ErrRepeat error = &Error{Code: Conflict, Public: "This was saved already: the same form was sent twice."}

// CodeOf is the code of any error: [Internal] for one that is not ours.
func CodeOf(err error) Code {
	if e, ok := errors.AsType[*Error](err); ok {
		return e.Code
	}
	return Internal
}

// Words is what may be shown to a person about any error.
func Words(err error) string {
	if e, ok := errors.AsType[*Error](err); ok {
		return e.Public
	}
	return internalWords
}

const internalWords = "Something went wrong with the stored data. Try again; if it goes on, tell whoever looks after this system."

// fail gives err its code. Only [sql.ErrNoRows] is "not found": a locked or
// broken database must never look like a missing row.
func fail(doing string, err error) error {
	if err == nil {
		return nil
	}
	if e, ok := errors.AsType[*Error](err); ok {
		if e == ErrKnown || e == ErrStale || e == ErrRepeat || e == ErrOtherPost || e.doing != "" {
			return err
		}
		return &Error{e.Code, e.Public, doing, e.cause}
	}
	if errors.Is(err, sql.ErrNoRows) {
		return &Error{NotFound, "There is no such entry. It may have been removed; go back and look again.", doing, err}
	}
	if e, ok := errors.AsType[*sqlite.Error](err); ok {
		switch {
		case e.Code() == sqlite3.SQLITE_CONSTRAINT_FOREIGNKEY:
			return &Error{Invalid, "This refers to an entry that is not there. Go back and look again.", doing, err}
		case e.Code()&0xff == sqlite3.SQLITE_BUSY: // the low byte is the kind, the rest says more
			return &Error{Conflict, "The data are in use by another program. Try again in a moment.", doing, err}
		}
		if words := diskWords(e.Code() & 0xff); words != "" {
			return &Error{Broken, words, doing, err}
		}
	}
	return &Error{Internal, internalWords, doing, err}
}

// conflict refuses a request that came too late, in words that may be shown.
func conflict(format string, args ...any) error {
	return &Error{Code: Conflict, Public: fmt.Sprintf(format, args...)}
}

// forbidden refuses a request to this user, in words that may be shown.
func forbidden(format string, args ...any) error {
	return &Error{Code: Forbidden, Public: fmt.Sprintf(format, args...)}
}

// invalid refuses a request in words that may be shown.
func invalid(format string, args ...any) error {
	return &Error{Code: Invalid, Public: fmt.Sprintf(format, args...)}
}
