package web

import (
	"cmp"
	"html/template"
	"strconv"
	"strings"
	"time"

	"wearround/web/chart"
	"wearround/web/form"
	"wearround/worker/wear"
)

// RoundPage is the ranked list of wears to follow up.
type RoundPage struct {
	Layout
	Filter   RoundFilter
	Rows     []RoundRow        // one page of them, in rank order
	Matching int               // wears that the filter matches
	Total    int               // open wears in all
	PerTier  map[wear.Tier]int // open wears in all, by tier
	PerFlag  map[string]int    // open wears in all, by flag code
	PerView  map[string]int    // open wears in all, by view
	Kinds    int               // how many sensor kinds the matching wears mix
	PageSize int               // rows to a page
	Saved    []SavedFilter
	Problem  string // why the last press did nothing: "Velo Tarim has it until 10:54.", or ""

	// Keep gives the markup of a row that was made before, or makes it; nil
	// always makes it.
	Keep func(ShownRow, func() (template.HTML, error)) (template.HTML, error)
}

// RoundRows is the part of a [RoundPage] that changes while it is open: what
// the script fetches when the data's version rose.
type RoundRows struct{ RoundPage }

// RoundRow is one wear on the round.
type RoundRow struct {
	Rank       int   // place among all open wears, 1 first, whatever the filter
	Version    int64 // another wherever the wear's report is; 0: not known
	WearID     int64
	Patient    form.Patient
	SensorKind string
	Start, End time.Time
	ReceivedAt time.Time
	DueAt      time.Time
	Headline   string
	Unread     int    // texts that nobody has read
	Confidence string // "high", "some" or "low"
	Priority   wear.Priority
	Flags      []string   // flag codes
	Days       []wear.Day // Date, Usable, Met7_8, Met10 and DipWithSymptom are used
	InDoubt    bool       // some file of the wear was read by a recipe that was withdrawn
	Claim      Claim
	Attempts   int       // to reach the patient
	NextTry    time.Time // when to try again, or zero
	Handed     string    // as [Work.Handed]
	Phone      string    // of the patient; only in the list to take along
}

func (RoundPage) view() (set, block string) { return "round", "page" }

func (RoundRows) view() (set, block string) { return "round", "rows" }

// SavedFilter is a filter of the round that somebody named.
type SavedFilter struct {
	ID     int64
	Name   string
	Filter RoundFilter
	By     string // whose, where it is shared by another
	Mine   bool
	Shared bool
}

// ledgerWidth is the room of a ledger row in pixels: 14 days with a space
// between the weeks; a longer wear is drawn tighter.
const ledgerWidth = 256

// Sentence says how much of the round is shown, and by which filter, so that
// nobody takes a part for the whole practice.
func (p RoundPage) Sentence() string {
	shown := number(len(p.Rows)) + " of " + count(p.Total, "open wear") + " shown"
	filter := p.Filter.words()
	switch {
	case filter == "" && len(p.Rows) == p.Total:
		return shown + ": the whole round."
	case filter == "":
		return shown + ": places " + p.shown() + " of the whole round."
	case len(p.Rows) == p.Matching:
		return shown + ": " + filter + "."
	default:
		return shown + ": " + p.shown() + " of " + number(p.Matching) + " with " + filter + "."
	}
}

// shown is where the page's rows stand among those that match: "51 to 100".
func (p RoundPage) shown() string {
	first := (max(p.Filter.Page, 1)-1)*p.PageSize + 1
	return number(first) + " to " + number(first+len(p.Rows)-1)
}

// words is the filter as a person would say it, or "".
func (f RoundFilter) words() string {
	var parts []string
	if f.View != "" {
		parts = append(parts, "“"+wordsIn(roundViews, f.View)+"”")
	}
	if f.Tier != "" {
		parts = append(parts, "tier “"+f.Tier.Words()+"”")
	}
	if f.Flag != "" {
		parts = append(parts, "flag “"+flagWords(f.Flag)+"”")
	}
	if f.Text != "" {
		parts = append(parts, "name or code containing “"+f.Text+"”")
	}
	return strings.Join(parts, ", ")
}

// Called is the filtered round in a few words: "the round", "“Mine”".
func (f RoundFilter) Called() string { return cmp.Or(f.words(), "the round") }

// Mixed is the caution for a list of several sensor kinds, or "".
func (p RoundPage) Mixed() string {
	if p.Kinds < 2 {
		return ""
	}
	return "This list mixes " + strconv.Itoa(p.Kinds) + " sensor kinds. Two kinds on the same arm can differ by more than two patients do: compare numbers within a kind only."
}

// Choice is one link or option of a filter.
type Choice struct {
	Words   string
	Value   string
	Address string
	Count   int
	Current bool
}

// Tiers are the links of the tier filter.
func (p RoundPage) Tiers() []Choice {
	f := p.Filter
	f.Page = 1
	f.Tier = ""
	out := []Choice{{Words: "All", Address: f.Address(), Count: p.Total, Current: p.Filter.Tier == ""}}
	for _, t := range wear.Tiers() {
		f.Tier = t
		out = append(out, Choice{Words: t.Words(), Address: f.Address(), Count: p.PerTier[t], Current: p.Filter.Tier == t})
	}
	return out
}

// Views are the links of the views.
func (p RoundPage) Views() []Choice {
	f := p.Filter
	f.Page, f.View = 1, ""
	out := []Choice{{Words: "Everybody’s", Address: f.Address(), Count: p.Total, Current: p.Filter.View == ""}}
	for _, v := range roundViews {
		f.View = v.code
		out = append(out, Choice{Words: v.words, Address: f.Address(), Count: p.PerView[v.code], Current: p.Filter.View == v.code})
	}
	return out
}

// Sorts are the options of the order.
func (p RoundPage) Sorts() []Choice {
	var out []Choice
	for _, o := range roundSorts {
		out = append(out, Choice{Words: o.words, Value: o.code, Current: p.Filter.Sort == o.code})
	}
	return out
}

// FlagChoices are the options of the flag filter: those flags that some open
// wear has, and the one chosen.
func (p RoundPage) FlagChoices() []Choice {
	var out []Choice
	for _, k := range wear.Flags() {
		if n := p.PerFlag[k.Code]; n > 0 || k.Code == p.Filter.Flag {
			out = append(out, Choice{Words: k.Words, Value: k.Code, Count: n, Current: k.Code == p.Filter.Flag})
		}
	}
	return out
}

// RowGroup is the rows of one tier that follow each other; in another order than
// the round's own, all rows and no tier.
type RowGroup struct {
	Tier wear.Tier
	Rows []RoundRow
}

// Groups are the rows by tier, in their order.
func (p RoundPage) Groups() []RowGroup {
	var out []RowGroup
	if p.Filter.Sort != "" && len(p.Rows) > 0 { // the tier then stands in the row
		return []RowGroup{{Rows: p.Rows}}
	}
	for i, r := range p.Rows {
		if i == 0 || r.Priority.Tier != out[len(out)-1].Tier {
			out = append(out, RowGroup{Tier: r.Priority.Tier})
		}
		g := &out[len(out)-1]
		g.Rows = append(g.Rows, r)
	}
	return out
}

// Paging is the way through a list of several pages.
type Paging struct {
	Words         string // "Page 2 of 5"
	Before, After string // addresses, or ""
	Several       bool
}

// Paging is the way through the round's pages.
func (p RoundPage) Paging() Paging {
	return paging(p.Filter.Page, p.PageSize, p.Matching, func(n int) string {
		f := p.Filter
		f.Page = n
		return f.Address()
	})
}

func paging(page, size, matching int, address func(page int) string) Paging {
	page = max(page, 1)
	pages := 1
	if size > 0 {
		pages = max(1, (matching+size-1)/size)
	}
	out := Paging{Words: "Page " + number(page) + " of " + number(pages), Several: pages > 1 || page > 1}
	if page > 1 {
		out.Before = address(min(page-1, pages))
	}
	if page < pages {
		out.After = address(page + 1)
	}
	return out
}

// Age says how long ago the wear ended.
func (r RoundRow) Age(l Layout) string {
	if r.End.IsZero() {
		return ""
	}
	switch n := wear.DayNumber(l.in(l.Now)) - wear.DayNumber(l.in(r.End)); {
	case n <= 0:
		return "ended today"
	case n == 1:
		return "ended yesterday"
	default:
		return "ended " + count(n, "day") + " ago"
	}
}

// Ledger is the row's picture.
func (r RoundRow) Ledger() template.HTML {
	return ledger("ledger-"+strconv.FormatInt(r.WearID, 10), r.Days)
}

// ledger draws the days of a wear. The chart escapes its own texts.
func ledger(id string, days []wear.Day) template.HTML {
	return template.HTML(chart.LedgerRow(id, pips(days), ledgerWidth))
}

func pips(days []wear.Day) []chart.Pip {
	out := make([]chart.Pip, len(days))
	for i, d := range days {
		out[i] = chart.Pip{Usable: d.Usable, Above78: d.Met7_8, Above10: d.Met10, Dip: d.DipWithSymptom}
	}
	return out
}

// Quality says how far the row can be trusted: doubt is words, never a lower place.
func (r RoundRow) Quality() string { return quality(r.Days, r.Confidence, r.InDoubt) }

func quality(days []wear.Day, confidence string, inDoubt bool) string {
	usable := 0
	for _, d := range days {
		if d.Usable {
			usable++
		}
	}
	s := strconv.Itoa(usable) + "/" + strconv.Itoa(len(days)) + " days usable"
	if confidence != "" {
		s += ", " + confidence + " confidence"
	}
	if inDoubt {
		s += ", read by a withdrawn recipe"
	}
	return s
}

// ledgerKey is one wear that shows every pip, for the key beneath the round.
var ledgerKey = map[string]template.HTML{
	"high":    template.HTML(chart.LedgerKey(chart.Pip{Usable: true, Above78: true})),
	"peak":    template.HTML(chart.LedgerKey(chart.Pip{Usable: true, Above10: true})),
	"dip":     template.HTML(chart.LedgerKey(chart.Pip{Usable: true, Dip: true})),
	"neither": template.HTML(chart.LedgerKey(chart.Pip{Usable: true})),
	"none":    template.HTML(chart.LedgerKey(chart.Pip{})),
}
