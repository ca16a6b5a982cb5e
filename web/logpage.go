package web

import (
	"strconv"
	"strings"
	"time"

	"wearround/web/form"
)

// WhenExactly writes a moment to the second: "3 Mar 2026 18:15:30".
func (l Layout) WhenExactly(t time.Time) string {
	if t.IsZero() {
		return "–"
	}
	return l.in(t).Format("2 Jan 2006 15:04:05")
}

// ChainWords says whether the log holds together.
func (l Layout) ChainWords(c Chain) string {
	switch {
	case c.Problem != "":
		return "The log does not hold together: " + form.Sentence(c.Problem)
	case c.CheckedAt.IsZero():
		return "The log has not been checked yet."
	default:
		return "The log holds together: all " + count(int(c.Rows), "line") + " checked " + l.When(c.CheckedAt) + "."
	}
}

// Sentence says how much of the log is shown, and by which filter.
func (p LogPage) Sentence() string {
	s := number(len(p.Rows)) + " of " + count(p.Total, "line") + " shown, newest first"
	var by []string
	for _, c := range p.People {
		if c.Current {
			by = append(by, "by "+c.Words)
		}
	}
	for _, c := range p.Actions {
		if c.Current {
			by = append(by, "“"+c.Words+"”")
		}
	}
	if p.Filter.From != "" {
		by = append(by, "from "+birthWords(p.Filter.From))
	}
	if p.Filter.To != "" {
		by = append(by, "to "+birthWords(p.Filter.To))
	}
	if p.Filter.Before > 0 {
		by = append(by, "before line "+strconv.FormatInt(p.Filter.Before, 10))
	}
	if len(by) > 0 {
		s += ": " + strings.Join(by, ", ")
	}
	return s + "."
}

// Paging is the way through the log. It goes by line, not by page, because
// lines are added while one reads.
func (p LogPage) Paging() Paging {
	newest, older := p.Filter, p.Filter
	newest.Before = 0
	out := Paging{Several: p.More || p.Filter.Before > 0, Words: "Newest first"}
	if p.Filter.Before > 0 {
		out.Before = newest.Address()
	}
	if p.More && len(p.Rows) > 0 {
		older.Before = p.Rows[len(p.Rows)-1].Seq
		out.After = older.Address()
	}
	return out
}

// LogPage shows the log.
type LogPage struct {
	Layout
	Filter  LogFilter
	People  []Choice // who may be chosen; Value is the user's id
	Actions []Choice
	Rows    []LogRow // newest first
	More    bool     // older lines match too
	Total   int      // lines in all
	Chain   Chain
}

// Chain is the state of the log as a whole.
type Chain struct {
	CheckedAt time.Time // zero: not yet checked
	Rows      int64
	Problem   string // plain sentence, or ""
}

// LogRow is one line of the log.
type LogRow struct {
	Seq      int64
	At       time.Time
	By       string
	Role     string
	Action   string // "view", "claim", …
	Object   string // "wear", "patient", …
	ObjectID int64
	Ended    string // "done", "refused" or "failed"
	Reason   string
	Request  string
}

func (LogPage) view() (set, block string) { return "log", "page" }
