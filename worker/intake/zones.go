package intake

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"wearround/worker/wear"
)

// zoneNames are names of zones that clocks write, and their minutes ahead of
// UTC. Names with several meanings are not sure. The first stands for none.
var zoneNames = [...]struct {
	name    string
	minutes int
	sure    bool
}{
	{}, {"AEST", 600, true}, {"AEDT", 660, true}, {"ACST", 570, true}, {"ACDT", 630, true}, {"AWST", 480, true}, {"LHST", 630, true}, {"LHDT", 660, true},
	{"NZST", 720, true}, {"NZDT", 780, true}, {"WET", 0, true}, {"WEST", 60, true}, {"CET", 60, true}, {"CEST", 120, true}, {"EET", 120, true}, {"EEST", 180, true},
	{"MEZ", 60, true}, {"MESZ", 120, true}, {"EDT", -240, true}, {"CDT", -300, true}, {"MDT", -360, true}, {"PDT", -420, true},
	{"EST", -300, false}, {"CST", -360, false}, {"MST", -420, false}, {"PST", -480, false}, {"BST", 60, false}, {"IST", 330, false}, {"SST", 480, false},
}

// zoneNamed gives the index of a zone's name, or 0.
func zoneNamed(s string) int8 {
	for i, z := range zoneNames {
		if i > 0 && z.name == s {
			return int8(i)
		}
	}
	return 0
}

// zoneHint is what a file says about the clock of times without an offset. It
// is a hint only, because such words often stand over times by another clock.
type zoneHint struct {
	text    string // as the file has it; "" for none
	minutes int    // ahead of UTC, where known
	known   bool
	col     int            // the column that tells it row by row, if values is set
	values  map[string]int // the minutes that each of the column's cells stands for
}

// zoneWords are words that say that a zone follows, or that a column holds zones.
const zoneWords = "|zone|timezone|tz|tzoffset|utcoffset|offset|zeitzone|fuseau|huso|fuso|tijdzone|"

// hintIn finds a zone in a heading, a line above the table or a cell. said
// tells that a word before it announced a zone.
func hintIn(text string, said bool) (h zoneHint, found bool) {
	if len(text) > 200 {
		return h, false
	}
	for word := range strings.FieldsFuncSeq(text, func(r rune) bool { return strings.ContainsRune(" \t()[],;=\u00a0", r) }) {
		upper := strings.ToUpper(word)
		rest, utc := strings.CutPrefix(upper, "UTC")
		if !utc {
			rest, utc = strings.CutPrefix(upper, "GMT")
		}
		minutes, isOffset := offsetIn(rest)
		switch n := zoneNamed(word); {
		case utc && rest == "":
			return zoneHint{text: "UTC", known: true}, true
		case isOffset && (utc || said):
			return zoneHint{text: word, minutes: minutes, known: true}, true
		case n > 0:
			return zoneHint{text: word, minutes: zoneNames[n].minutes, known: zoneNames[n].sure}, true
		case isPlace(word):
			return zoneHint{text: word}, true
		}
	}
	if said && strings.ContainsFunc(text, func(r rune) bool { return r > ' ' }) {
		return zoneHint{text: short(text)}, true
	}
	return h, false
}

// offsetIn reads "+11:00", "+1100", "-5" or, in minutes, "-300".
func offsetIn(s string) (minutes int, ok bool) {
	p := scanner{s: s}
	c := p.peek()
	if c != '+' && c != '-' {
		return 0, false
	}
	p.i++
	n, length := p.digits()
	switch {
	case length == 4:
		minutes = n/100*60 + n%100
	case length == 3:
		minutes = n
	case length == 1 || length == 2:
		minutes = n * 60
		if p.peek() == ':' {
			p.i++
			m, two := p.digits()
			if two != 2 {
				return 0, false
			}
			minutes += m
		}
	}
	if length == 0 || !p.done() || minutes > 14*60 {
		return 0, false
	}
	if c == '-' {
		minutes = -minutes
	}
	return minutes, true
}

// places are what the names of zones in the zone database begin with.
const places = "|Africa|America|Antarctica|Asia|Atlantic|Australia|Europe|Indian|Pacific|Etc|"

// isPlace reports whether a word is the name of a zone such as Australia/Perth.
func isPlace(word string) bool {
	area, place, ok := strings.Cut(word, "/")
	return ok && place != "" && area != "" && strings.Contains(places, "|"+area+"|")
}

// saysZone reports whether a heading or key announces a zone.
func saysZone(s string) bool {
	for w := range strings.FieldsSeq(plain(s)) {
		if strings.Contains(zoneWords, "|"+w+"|") {
			return true
		}
	}
	return false
}

// zoneAbove finds what the heading of the time column and the lines above the
// table say about the zone.
func (g *region) zoneAbove(t *table) (h zoneHint) {
	for _, c := range [...]int{g.when.col, g.when.date} {
		if c < 0 {
			continue
		}
		heading := g.headingOf(t, c)
		if h, found := hintIn(heading, false); found {
			return h
		}
	}
	end := g.heading
	if end < 0 {
		end = g.from
	}
	for r := range end {
		said := false
		for c := range min(t.width(r), maxColumns) {
			text := t.cell(r, c)
			key, value, _ := strings.Cut(text, ":")
			switch {
			case said && text != "":
				value = text
			case saysZone(key):
				if said = true; strings.TrimSpace(value) == "" {
					continue
				}
			case t.kind(r, c) == word:
				value = text
			default:
				continue
			}
			if h, found := hintIn(value, said); found {
				return h
			}
		}
	}
	return h
}

// zoneBeside finds a column that tells the zone or offset of each row.
func (lay *layout) zoneBeside() (h zoneHint) {
	for c := range lay.cols {
		col := &lay.cols[c]
		if lay.reserved[c] || c == lay.auto || col.filled == 0 || col.many || len(col.distinct) == 0 {
			continue
		}
		said := saysZone(col.heading)
		h, found := hintIn(col.distinct[0], true)
		if !found || !said && !isOffsetOrPlace(col.distinct) {
			continue
		}
		h.col, h.values = c, make(map[string]int)
		for _, v := range col.distinct {
			one, _ := hintIn(v, true)
			h.known, h.values[v] = h.known && one.known, one.minutes
		}
		h.known = h.known && col.filled == lay.cols[lay.g.when.col].filled
		return h
	}
	return h
}

// isOffsetOrPlace reports whether all values are written like an offset from
// UTC with a colon, or name a place's zone.
func isOffsetOrPlace(values []string) bool {
	for _, v := range values {
		rest := strings.TrimPrefix(strings.TrimPrefix(v, "UTC"), "GMT")
		if _, ok := offsetIn(rest); !isPlace(v) && !(ok && (rest != v || strings.Contains(rest, ":"))) {
			return false
		}
	}
	return true
}

// zones asks about what the file says of its zone: about names of zones behind
// the times, because one name can mean several, and about words over, above or
// beside the times, because they often stand there for times by another clock.
// It turns times that are not by the clinic's clock into UTC.
func (l *ledger) zones(t *table, lay *layout, times []rowTime) *wear.Refusal {
	i := slices.IndexFunc(times, func(rt rowTime) bool { return rt.ok && !rt.absolute })
	if i < 0 {
		return nil
	}
	answer := ""
	if times[i].named > 0 {
		if answer = l.askNamed(times); answer == "named" {
			for i := range times {
				if n := times[i].named; n > 0 {
					times[i].secs -= int64(zoneNames[n].minutes) * 60
					times[i].absolute = true
				}
			}
		}
	} else {
		h := lay.zoneBeside()
		if h.text == "" {
			h = lay.g.zoneAbove(t)
		}
		switch answer = l.askHint(h, times); answer {
		case "utc", "named":
			for i := range times {
				minutes := 0
				if answer == "named" {
					if minutes = h.minutes; h.values != nil {
						minutes = h.values[t.cell(lay.g.from+i, h.col)]
					}
				}
				if !times[i].absolute {
					times[i].secs -= int64(minutes) * 60
					times[i].absolute = true
				}
			}
		}
	}
	if answer == "stop" {
		return refuse("zone", "It is not known by which clock the times are.", "Export again with the offset from UTC behind each time.")
	}
	return nil
}

// askHint asks by which clock times are that a hint is about. Where the file
// names the zone that it is read in nothing is to be asked.
func (l *ledger) askHint(h zoneHint, times []rowTime) string {
	switch h.text {
	case "":
		return ""
	case l.zone.String():
		if h.text != "UTC" {
			l.note("zone", h.text, "the file names the zone that its times are read in", "heading")
			return ""
		}
	}
	if h.text == "UTC" && h.values == nil {
		return l.askZone("zone", "The file says that the times are in UTC. Are they, or are they by the clinic's clock?", h, times)
	}
	return l.askZone("zone:"+short(h.text), fmt.Sprintf("The file names the zone %q beside the times. By which clock are they?", short(h.text)), h, times)
}

// askNamed asks about names of zones. Where a name has one meaning only, that
// can be chosen.
func (l *ledger) askNamed(times []rowTime) string {
	h := zoneHint{known: true}
	for _, t := range times {
		if !t.ok || t.named == 0 {
			continue
		}
		z := zoneNames[t.named]
		if h.known = h.known && z.sure; h.text == "" {
			h.text, h.minutes = z.name, z.minutes
		}
	}
	return l.askZone("zone", fmt.Sprintf("The times name the zone %s, which is a hint only. By which clock are they?", h.text), h, times)
}

// askZone asks in which zone times without an offset are, and shows the first
// of them under each answer.
func (l *ledger) askZone(code, text string, h zoneHint, times []rowTime) string {
	if l.told && l.answers[code] == "" && l.recipe[code] == "" {
		return "local"
	}
	var asUTC, asNamed, asLocal []string
	for _, t := range times {
		if t.ok && !t.absolute && len(asUTC) < maxSamples {
			at := time.Unix(t.secs, 0).UTC()
			asUTC = append(asUTC, at.Format("15:04")+" UTC, "+l.minute(t.secs)+" by the clinic's clock")
			asNamed = append(asNamed, l.minute(t.secs-int64(h.minutes)*60)+" by the clinic's clock")
			asLocal = append(asLocal, at.Format("2 January 2006 15:04")+" by the clinic's clock")
		}
	}
	effect := func(rows []string) string {
		if len(rows) == 0 {
			return "no time is known yet"
		}
		return "first reading would be at " + rows[0]
	}
	var choices []wear.Choice
	if h.known && h.text != "UTC" {
		choices = append(choices, wear.Choice{Value: "named", Text: "They are in the zone that is named", Effect: effect(asNamed), Rows: asNamed})
	}
	if h.text == "" || h.text == "UTC" || h.values != nil {
		choices = append(choices, wear.Choice{Value: "utc", Text: "They are in UTC", Effect: effect(asUTC), Rows: asUTC})
	}
	choices = append(choices,
		wear.Choice{Value: "local", Text: "They are by the clinic's clock", Effect: effect(asLocal), Rows: asLocal},
		wear.Choice{Value: "stop", Text: "By another clock, or not known", Effect: "the file stays out; export it again with the offset from UTC"})
	return l.ask(code, text, choices...)
}
