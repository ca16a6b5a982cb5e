package web

import (
	"net/url"
	"strconv"

	"wearround/web/form"
)

// RegisterFilter is what a reader of the register asked for.
type RegisterFilter struct {
	Text   string // part of a code or name, or ""
	Veiled string // what stands for Text in an address
	Page   int    // 1 first; 0 counts as 1
}

// ParseRegisterFilter reads the query of the register's address. Text is left
// to whoever can lift the veil.
func ParseRegisterFilter(q url.Values) RegisterFilter {
	return RegisterFilter{Veiled: limitRunes(q.Get("s"), mostVeiled), Page: pageNumber(q)}
}

// Address is the register's address with this filter.
func (f RegisterFilter) Address() string {
	q := url.Values{}
	set(q, "s", f.Veiled)
	setPage(q, f.Page)
	return address("/patients", q)
}

// RecallsFilter is what a reader of the recalls asked for.
type RecallsFilter struct {
	State string // "" = open; "overdue", "untried" (overdue and nobody has tried) or "all" (closed ones too)
	Page  int    // 1 first; 0 counts as 1
}

// ParseRecallsFilter reads the query of the recalls' address.
func ParseRecallsFilter(q url.Values) RecallsFilter {
	f := RecallsFilter{Page: pageNumber(q)}
	if s := q.Get("state"); form.RecallStates[s] != "" {
		f.State = s
	}
	return f
}

// Address is the recalls' address with this filter.
func (f RecallsFilter) Address() string {
	q := url.Values{}
	set(q, "state", f.State)
	setPage(q, f.Page)
	return address("/recalls", q)
}

// AnyPerson stands for everybody but the program itself.
const AnyPerson = -1

// LogFilter is what a reader of the log asked for.
type LogFilter struct {
	Person int64  // a user's id, [AnyPerson], or 0 for everybody and the program
	Action string // or ""
	From   string // first day, 2006-01-02, or ""
	To     string // last day, or ""
	Before int64  // only lines before this one; 0 = from the newest
}

// ParseLogFilter reads the query of the log's address.
func ParseLogFilter(q url.Values) LogFilter {
	f := LogFilter{Action: limitRunes(q.Get("action"), 60)}
	for key, to := range map[string]*int64{"person": &f.Person, "before": &f.Before} {
		if n, err := strconv.ParseInt(q.Get(key), 10, 64); err == nil && n > 0 {
			*to = n
		}
	}
	if q.Get("person") == strconv.Itoa(AnyPerson) {
		f.Person = AnyPerson
	}
	for key, to := range map[string]*string{"from": &f.From, "to": &f.To} {
		if _, ok := isoDay(q.Get(key)); ok {
			*to = q.Get(key)
		}
	}
	return f
}

// Address is the log's address with this filter.
func (f LogFilter) Address() string {
	q := url.Values{}
	if f.Person != 0 {
		q.Set("person", strconv.FormatInt(f.Person, 10))
	}
	set(q, "action", f.Action)
	set(q, "from", f.From)
	set(q, "to", f.To)
	if f.Before > 0 {
		q.Set("before", strconv.FormatInt(f.Before, 10))
	}
	return address("/log", q)
}

func setPage(q url.Values, page int) {
	if page > 1 {
		q.Set("page", strconv.Itoa(page))
	}
}
