package form

import (
	"net/url"
	"time"
)

// ParseRecallDay reads by and reason.
func ParseRecallDay(v url.Values, zone *time.Location, now time.Time) (by time.Time, reason string, errors []FieldError) {
	f := &fields{Values: v, zone: zone}
	by = f.notBefore("by", "Say on what day it is to be back.", midnight(now.In(zone)))
	reason = f.reason("Say why the day is another.")
	return by, reason, f.errors
}

// NewRecall is a recall set by hand.
type NewRecall struct {
	Kind string // as [Recall.Kind]
	By   time.Time
	Note string
}

// recallOrder are the kinds of recall that can be set by hand.
var recallOrder = []string{"review", "appointment", "result", "new_wear"}

// ParseNewRecall reads kind, by and note.
func ParseNewRecall(v url.Values, zone *time.Location, now time.Time) (NewRecall, []FieldError) {
	f := &fields{Values: v, zone: zone}
	n := NewRecall{
		Kind: f.one("kind", "Say what is to come back.", recallOrder...),
		By:   f.notBefore("by", "Say on what day it is to be back.", midnight(now.In(zone))), Note: f.text("note", MostNote),
	}
	return n, f.errors
}
