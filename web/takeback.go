package web

import (
	"wearround/web/form"
)

// TakeBack is the form that takes one thing back, with a reason. The thing stays
// on record and counts no more.
type TakeBack struct {
	Layout
	form.Form
	form.Taken
	Address string
	Words   string // what is taken back, for those who do not see where the button stands
}

func takeBack(l Layout, f form.Form, address string, t form.Taken, words string) TakeBack {
	return TakeBack{l, f.For(t.Task()), t, address + "/take-back", words}
}

// Opened reports whether the form was sent and not taken.
func (t TakeBack) Opened() bool { return len(t.Errors) > 0 }

// TakeOverruleBack takes a person's word on a stretch back.
func (p WearPage) TakeOverruleBack(o Overrule) TakeBack {
	return takeBack(p.Layout, p.Work.Form, wearAddress(p.WearID, Window{}), form.Taken{What: form.TakeOverrule, ID: o.ID}, "the word on "+p.When(o.From))
}

// TakeAddedBack takes an event that a person added back, or an answer of a call.
func (p WearPage) TakeAddedBack(e Added) TakeBack {
	t := form.Taken{What: form.TakeEvent, ID: e.ID, Asked: e.Asked}
	if e.Asked != 0 {
		t.What = form.TakeAnswer
	}
	return takeBack(p.Layout, p.Work.Form, wearAddress(p.WearID, Window{}), t, e.Words)
}

// TakeResultBack takes a laboratory result back.
func (l Lab) TakeResultBack(r Result) TakeBack {
	return takeBack(l.Layout, l.Form, l.Address, form.Taken{What: form.TakeResult, ID: r.ID}, r.TestWords()+" of "+l.Day(r.TakenAt))
}
