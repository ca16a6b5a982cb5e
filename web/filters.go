package web

import (
	"net/url"
	"strconv"
	"strings"
	"time"

	"wearround/worker/wear"
)

// RoundFilter is what a reader of the round asked for. It lives in the
// address, so that a filtered list can be kept and passed on; a name never does.
type RoundFilter struct {
	Tier   wear.Tier // "" = all
	Flag   string    // a flag code, or ""
	Text   string    // part of a patient's code or name, or ""
	Veiled string    // what stands for Text in an address
	View   string    // of [roundViews], or ""
	Sort   string    // of [roundSorts], or "" for the round's own order
	Page   int       // 1 first; 0 counts as 1
}

// roundViews are the parts of the round by who is to work on it, in the order
// in which they are offered.
var roundViews = []struct{ code, words string }{{"mine", "Mine"}, {"handed", "Handed to me"}, {"unclaimed", "Overdue, nobody on it"}}

// roundSorts are the other orders of the round.
var roundSorts = []struct{ code, words string }{{"due", "the soonest due first"}, {"age", "the first received first"}, {"names", "by name"}}

func wordsIn(list []struct{ code, words string }, code string) string {
	for _, x := range list {
		if x.code == code {
			return x.words
		}
	}
	return ""
}

// ParseRoundFilter reads the query of the round's address. What it does not
// know it leaves out, so a broken link shows the whole round, never none of it.
// Text is left to whoever can lift the veil.
func ParseRoundFilter(q url.Values) RoundFilter {
	f := RoundFilter{Veiled: limitRunes(q.Get("s"), mostVeiled), Page: pageNumber(q)}
	if t := wear.Tier(q.Get("tier")); t.Rank() < len(wear.Tiers()) {
		f.Tier = t
	}
	if flag := q.Get("flag"); flagWords(flag) != "" {
		f.Flag = flag
	}
	if v := q.Get("view"); wordsIn(roundViews, v) != "" {
		f.View = v
	}
	if o := q.Get("sort"); wordsIn(roundSorts, o) != "" {
		f.Sort = o
	}
	return f
}

// ListAddress is the address of all that the filter shows, as a list to take
// along.
func (f RoundFilter) ListAddress() string {
	f.Page = 0
	_, query, _ := strings.Cut(f.Address(), "?")
	if query != "" {
		query = "?" + query
	}
	return "/round.csv" + query
}

// Address is the round's address with this filter.
func (f RoundFilter) Address() string {
	q := f.values()
	set(q, "s", f.Veiled)
	setPage(q, f.Page)
	return address("/", q)
}

func (f RoundFilter) values() url.Values {
	q := url.Values{}
	set(q, "tier", string(f.Tier))
	set(q, "flag", f.Flag)
	set(q, "view", f.View)
	set(q, "sort", f.Sort)
	return q
}

// Saved is the filter as it is kept under a name; [SavedRoundFilter] reads it.
func (f RoundFilter) Saved() string {
	q := f.values()
	set(q, "q", f.Text)
	return q.Encode()
}

// SavedRoundFilter reads a filter that was kept.
func SavedRoundFilter(saved string) (RoundFilter, error) {
	q, err := url.ParseQuery(saved)
	if err != nil {
		return RoundFilter{}, err
	}
	f := ParseRoundFilter(q)
	f.Text = ParseSearch(q)
	return f, nil
}

// Lengths of what is searched for, in characters, and of what stands for it in
// an address.
const (
	mostSearch = 80
	mostVeiled = 500
)

// ParseSearch reads what was typed to search for: q.
func ParseSearch(v url.Values) string { return limitRunes(strings.TrimSpace(v.Get("q")), mostSearch) }

// FilesFilter is what a reader of the Files page asked for.
type FilesFilter struct {
	Fate string // "" = all
	Page int    // 1 first; 0 counts as 1
}

// ParseFilesFilter reads the query of the Files page's address.
func ParseFilesFilter(q url.Values) FilesFilter {
	f := FilesFilter{Page: pageNumber(q)}
	if o := q.Get("outcome"); fates[o].words != "" {
		f.Fate = o
	}
	return f
}

// Address is the Files page's address with this filter.
func (f FilesFilter) Address() string {
	q := url.Values{}
	set(q, "outcome", f.Fate)
	if f.Page > 1 {
		q.Set("page", strconv.Itoa(f.Page))
	}
	return address("/files", q)
}

// Window is the part of a wear that the tracks show. The zero Window is the
// whole wear.
type Window struct {
	From string // first day, 2006-01-02
	Days int    // 1 to 14
}

// ParseWindow reads the query of a wear's address.
func ParseWindow(q url.Values) Window {
	days, err := strconv.Atoi(q.Get("days"))
	if err != nil || days < 1 || days > 14 {
		return Window{}
	}
	if _, err := time.Parse(time.DateOnly, q.Get("from")); err != nil {
		return Window{}
	}
	return Window{From: q.Get("from"), Days: days}
}

// Whole reports whether the window is the whole wear.
func (w Window) Whole() bool { return w.Days == 0 }

// wearAddress is the address of a wear's page showing the window w.
func wearAddress(id int64, w Window) string {
	q := url.Values{}
	if !w.Whole() {
		q.Set("from", w.From)
		q.Set("days", strconv.Itoa(w.Days))
	}
	return address("/wears/"+strconv.FormatInt(id, 10), q)
}

func pageNumber(q url.Values) int {
	n, err := strconv.Atoi(q.Get("page"))
	if err != nil || n < 1 || n > 1_000_000 {
		return 1
	}
	return n
}

func set(q url.Values, key, value string) {
	if value != "" {
		q.Set(key, value)
	}
}

func address(path string, q url.Values) string {
	if len(q) == 0 {
		return path
	}
	return path + "?" + q.Encode()
}

func limitRunes(s string, n int) string {
	for i := range s {
		if n--; n < 0 {
			return s[:i]
		}
	}
	return s
}
