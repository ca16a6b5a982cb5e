package web

import (
	"strconv"

	"wearround/web/form"
)

// TakeBack is the form that takes one thing back, with a reason. The thing stays
// on record and counts no more.
type TakeBack struct {
	Layout
	form.Form
	Address string
	What    string // [TakeOverrule], [TakeEvent] or [TakeResult]
	ID      int64
	Words   string // what is taken back, for those who do not see where the button stands
}

func takeBack(l Layout, f form.Form, address, what string, id int64, words string) TakeBack {
	return TakeBack{l, f.For(what + "-" + strconv.FormatInt(id, 10)), address + "/take-back", what, id, words}
}

// Opened reports whether the form was sent and not taken.
func (t TakeBack) Opened() bool { return len(t.Errors) > 0 }

// TakeOverruleBack takes a person's word on a stretch back.
func (p WearPage) TakeOverruleBack(o Overrule) TakeBack {
	return takeBack(p.Layout, p.Work.Form, wearAddress(p.WearID, Window{}), form.TakeOverrule, o.ID, "the word on "+p.When(o.From))
}

// TakeEventBack takes an event that a person added back.
func (p WearPage) TakeEventBack(e Added) TakeBack {
	return takeBack(p.Layout, p.Work.Form, wearAddress(p.WearID, Window{}), form.TakeEvent, e.ID, e.Words)
}

// TakeResultBack takes a laboratory result back.
func (l Lab) TakeResultBack(r Result) TakeBack {
	return takeBack(l.Layout, l.Form, l.Address, form.TakeResult, r.ID, r.TestWords()+" of "+l.Day(r.TakenAt))
}
