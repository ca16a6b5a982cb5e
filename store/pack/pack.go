// Package pack is the format in which the readings of a day are stored.
package pack

import (
	"encoding/binary"
	"errors"

	"wearround/worker/wear"
)

// A packed day holds the readings of one wear on one UTC day, in time order.
// It is about one byte a reading where a sensor keeps its rhythm. UTC days are
// used because they all have 86,400 seconds, whatever clocks on walls do.
//
//	day     = plain, or one byte, 2, and plain deflated (RFC 1951)
//	plain   = version count reading*
//	version = one byte, 1
//	count   = uvarint, number of readings
//	reading = token [step] [kind]
//	token   = uvarint: zigzag(change) << 2 | newKind << 1 | newStep
//	step    = varint, if newStep: seconds between this reading and the one
//	          before, less the same of the reading before
//	kind    = uvarint, if newKind: mark << 8 | bound << 6 | unit << 4 | scale
//
// The change is the number ([wear.Reading.Num]) less the number before it,
// where the latter is first brought to the scale of this reading by adding or
// cutting off digits, so that 5.55, 5.6, 5.62 stay small steps. Before the
// first reading stand: the first second of the day, a step of 0, the number 0
// and the kind 0. A varint is zigzag and uvarint as in encoding/binary. Every
// field of a reading is kept to the bit, so the recorded text and unit can be
// written again.
const (
	version  = 1
	deflated = 2
)

// fits is how long a packed day may be, in bytes. A row of some 1,000 is put by
// SQLite on pages of its own, most of them empty: that of a day at one minute
// would take three times its length, and deflated it fits.
const fits = 900

// maxPlain is the longest plain form that is deflated and taken from a deflated
// one: a reading a second, each of the longest.
const maxPlain = daySeconds * 24

const (
	daySeconds = 86400
	maxNum     = 100_000_000_000_000_000 // numbers have at most wear.MaxDigits digits
	newStep    = 1 << 0
	newKind    = 1 << 1
)

var errForm = errors.New("a packed day is damaged")

// DayOf is the UTC day of an instant, in days since 1970-01-01.
func DayOf(at int64) int64 {
	if at < 0 {
		return (at+1)/daySeconds - 1
	}
	return at / daySeconds
}

// ErrReading is given for a reading that the format cannot give back exactly.
var ErrReading = errors.New("pack: a reading has a time or a value that cannot be stored")

// Day packs readings, which are all of the given day, in the plain form.
func Day(day int64, readings []wear.Reading) ([]byte, error) {
	dst := []byte{version}
	dst = binary.AppendUvarint(dst, uint64(len(readings)))
	at, step, num, kind := day*daySeconds, int64(0), int64(0), uint64(0)
	for _, r := range readings {
		if DayOf(r.At) != day || r.Num < 0 || r.Num >= maxNum || r.Scale > wear.MaxScale || r.Unit > 3 || r.Bound > 3 {
			return nil, ErrReading
		}
		k := uint64(r.Mark)<<8 | uint64(r.Bound)<<6 | uint64(r.Unit)<<4 | uint64(r.Scale)
		s := r.At - at
		change := r.Num - rescale(num, kind, k)
		token := uint64(change)<<1 ^ uint64(change>>63)
		token <<= 2
		if s != step {
			token |= newStep
		}
		if k != kind {
			token |= newKind
		}
		dst = binary.AppendUvarint(dst, token)
		if s != step {
			dst = binary.AppendVarint(dst, s-step)
		}
		if k != kind {
			dst = binary.AppendUvarint(dst, k)
		}
		at, step, num, kind = r.At, s, r.Num, k
	}
	return dst, nil
}

// Squeeze deflates a packed day that does not fit, where that makes it shorter.
func Squeeze(plain []byte) ([]byte, error) {
	if len(plain) <= fits || len(plain) > maxPlain {
		return plain, nil
	}
	b, err := Deflate([]byte{deflated}, plain)
	if err == nil && len(b) >= len(plain) {
		b = plain
	}
	return b, err
}

// Unpack appends the readings of a packed day. It never panics, and never
// allocates for more readings than the plain form has bytes.
func Unpack(dst []wear.Reading, day int64, blob []byte) ([]wear.Reading, error) {
	if len(blob) > 0 && blob[0] == deflated {
		plain, err := Inflate(blob[1:], maxPlain)
		if err != nil {
			return nil, errForm
		}
		blob = plain
	}
	if len(blob) == 0 || blob[0] != version {
		return nil, errForm
	}
	count, n := binary.Uvarint(blob[1:])
	if n <= 0 || count > uint64(len(blob)-1-n) {
		return nil, errForm
	}
	blob = blob[1+n:]
	start := day * daySeconds
	at, step, num, kind := start, int64(0), int64(0), uint64(0)
	for range count {
		token, n := binary.Uvarint(blob)
		if n <= 0 {
			return nil, errForm
		}
		blob = blob[n:]
		if token&newStep != 0 {
			change, n := binary.Varint(blob)
			if n <= 0 || change < -2*daySeconds || change > 2*daySeconds {
				return nil, errForm
			}
			blob = blob[n:]
			step += change
		}
		if token&newKind != 0 {
			k, n := binary.Uvarint(blob)
			if n <= 0 || k > 0xffff {
				return nil, errForm
			}
			blob = blob[n:]
			num, kind = rescale(num, kind, k), k
		}
		at += step
		zigzag := token >> 2
		num += int64(zigzag>>1) ^ -int64(zigzag&1)
		if at < start || at >= start+daySeconds || num < 0 || num >= maxNum {
			return nil, errForm
		}
		dst = append(dst, wear.Reading{
			At: at, Num: num,
			Scale: uint8(kind & 15), Unit: wear.Unit(kind >> 4 & 3), Bound: wear.Bound(kind >> 6 & 3), Mark: wear.Mark(kind >> 8),
		})
	}
	if len(blob) != 0 {
		return nil, errForm
	}
	return dst, nil
}

// rescale brings a number from the scale of one kind to that of another. A
// number that would have too many digits becomes 0: any value serves, so long
// as both directions use the same.
func rescale(num int64, from, to uint64) int64 {
	have, want := from&15, to&15
	for ; have < want; have++ {
		if num >= maxNum/10 {
			return 0
		}
		num *= 10
	}
	for ; have > want; have-- {
		num /= 10
	}
	return num
}
