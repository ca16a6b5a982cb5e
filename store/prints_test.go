package store

import (
	"encoding/binary"
	"hash/fnv"
	"testing"

	"pgregory.net/rapid"
)

// TestPrintsStay holds the hash of prints to the standard library's: the prints
// of every wear ever filed are in the database.
func TestPrintsStay(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		h, ours := fnv.New64a(), fnvOffset
		words := rapid.SliceOf(rapid.OneOf(rapid.Uint64(), rapid.Uint64Range(0, 1<<16), rapid.Just(uint64(0)),
			rapid.Map(rapid.IntRange(0, 63), func(n int) uint64 { return 1 << n }))).Draw(r, "words")
		for _, w := range words {
			var b [8]byte
			binary.LittleEndian.PutUint64(b[:], w)
			h.Write(b[:])
			ours = fnvWord(ours, w)
		}
		if want := h.Sum64(); ours != want {
			r.Fatalf("hash %x, want %x", ours, want)
		}
	})
}
