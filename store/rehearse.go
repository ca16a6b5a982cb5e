//go:build rehearse

package store

// With the tag "rehearse" every change is first run and undone, then run for
// good. The tests pass with it only if no change leaves anything outside the
// database that a second run would not: see [Store.write].
const rehearse = true
