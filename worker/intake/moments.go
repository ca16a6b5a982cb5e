package intake

import (
	"strings"
	"time"
)

// momentIn finds the one date and clock that a text holds which lies among the
// times of the rows, or within a day of them; false where it holds none, or two. Of an order
// of day and month that gives such a date and one that does not, the first is meant.
func (h *harvest) momentIn(text string) (at int64, ok bool) {
	const most, margin = 5, 86400
	if len(text) > 1000 || !strings.ContainsAny(text, "0123456789") {
		return 0, false
	}
	if h.span[1] == 0 {
		h.span[0] = 1 << 62
		for _, t := range h.times {
			if t.ok && !t.dropped {
				h.span[0], h.span[1] = min(h.span[0], t.secs), max(h.span[1], t.secs)
			}
		}
	}
	words := strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(spaces+"\r\n,;()[]¦", r) })
	for i := 0; i < len(words); i++ {
		for n := min(most, len(words)-i); n > 0; n-- {
			st, found := stampOf(strings.TrimRight(strings.Join(words[i:i+n], " "), ".:"))
			if !found {
				continue
			}
			for _, o := range orders {
				when := st.at(o)
				if !when.ok || o.value == yearDayMonth {
					continue
				}
				if !when.absolute {
					u := time.Unix(when.secs, 0).UTC()
					when.secs = time.Date(u.Year(), u.Month(), u.Day(), u.Hour(), u.Minute(), u.Second(), 0, h.zone).Unix()
				}
				if when.secs < h.span[0]-margin || when.secs > h.span[1]+margin || when.secs == at {
					continue
				}
				if at != 0 {
					return 0, false
				}
				at = when.secs
			}
			i += n - 1
			break
		}
	}
	return at, at != 0
}

// stampOf reads a date and a clock, the month perhaps by its name.
func stampOf(s string) (st stamp, ok bool) {
	if st, ok = parseStamp(s); !ok {
		w, written := timeIn(s)
		if !written || len(w.words) > 0 || w.clock == "" || w.date == "" {
			return st, false
		}
		st, ok = parseStamp(w.date + " " + w.clock + w.tail)
	}
	return st, ok && st.form != noDate && st.secs >= 0
}
