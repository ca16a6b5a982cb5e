package web

import (
	"net/url"
	"strconv"
	"time"
)

// What a person entered and may take back.
const (
	TakeOverrule = "overrule"
	TakeEvent    = "event"
	TakeResult   = "result"
)

// TakeBack is the form that takes one thing back, with a reason. The thing stays
// on record and counts no more.
type TakeBack struct {
	Layout
	Form
	Address string
	What    string // [TakeOverrule], [TakeEvent] or [TakeResult]
	ID      int64
	Words   string // what is taken back, for those who do not see where the button stands
}

func takeBack(l Layout, f Form, address, what string, id int64, words string) TakeBack {
	return TakeBack{l, f.For(what + "-" + strconv.FormatInt(id, 10)), address + "/take-back", what, id, words}
}

// Opened reports whether the form was sent and not taken.
func (t TakeBack) Opened() bool { return len(t.Errors) > 0 }

// TakeOverruleBack takes a person's word on a stretch back.
func (p WearPage) TakeOverruleBack(o Overrule) TakeBack {
	return takeBack(p.Layout, p.Work.Form, wearAddress(p.WearID, Window{}), TakeOverrule, o.ID, "the word on "+p.When(o.From))
}

// TakeEventBack takes an event that a person added back.
func (p WearPage) TakeEventBack(e Added) TakeBack {
	return takeBack(p.Layout, p.Work.Form, wearAddress(p.WearID, Window{}), TakeEvent, e.ID, e.Words)
}

// TakeResultBack takes a laboratory result back.
func (l Lab) TakeResultBack(r Result) TakeBack {
	return takeBack(l.Layout, l.Form, l.Address, TakeResult, r.ID, r.TestWords()+" of "+l.Day(r.TakenAt))
}

// Taken is what a form asks to take back.
type Taken struct {
	What   string
	ID     int64
	Reason string
}

// Task names the form among those of its page.
func (t Taken) Task() string { return t.What + "-" + strconv.FormatInt(t.ID, 10) }

// ParseTakeBack reads what, item and reason.
func ParseTakeBack(v url.Values) (Taken, []FieldError) {
	f := &fields{Values: v}
	t := Taken{What: f.one("what", "Say what is to be taken back.", TakeOverrule, TakeEvent, TakeResult)}
	var err error
	if t.ID, err = strconv.ParseInt(v.Get("item"), 10, 64); err != nil {
		f.refuse("", "Look at the page again: what is to be taken back is not there.")
	}
	t.Reason = f.needed("reason", "Say why it is taken back.", mostNote)
	return t, f.errors
}

// ParseRecallDay reads by and reason.
func ParseRecallDay(v url.Values, zone *time.Location, now time.Time) (by time.Time, reason string, errors []FieldError) {
	f := &fields{Values: v, zone: zone}
	by = f.notBefore("by", "Say on what day it is to be back.", midnight(now.In(zone)))
	reason = f.needed("reason", "Say why the day is another.", mostNote)
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
		By:   f.notBefore("by", "Say on what day it is to be back.", midnight(now.In(zone))), Note: f.text("note", mostNote),
	}
	return n, f.errors
}

// Added is an event that a person added to a wear.
type Added struct {
	ID    int64
	Words string
	By    string
	At    time.Time
}
