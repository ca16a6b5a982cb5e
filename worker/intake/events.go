package intake

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"wearround/worker/wear"
)

// eventKinds gives the kind of event that a column or record type stands for.
var eventKinds = map[role]wear.EventKind{
	roleCarbs: wear.Meal, roleMeal: wear.Meal, roleSymptom: wear.Symptom, roleExercise: wear.Exercise,
	roleSleep: wear.Sleep, roleMedicine: wear.Medicine, roleNote: wear.Note, roleEvent: wear.Note,
}

// findEvents lists the columns that hold events, by what their heading says. A
// column filled on most rows holds them only if one cell stands on nearly all
// of those: that one says that nothing happened.
func (l *ledger) findEvents(t *table, lay *layout) {
	for c := range lay.cols {
		col := &lay.cols[c]
		if lay.hasRole(c) || col.filled == 0 || lay.part[c].fate != "" || l.heldBy(c) != "" {
			continue
		}
		if (col.said == roleUnknown || col.said == roleType) && col.namesKinds() {
			col.said = roleEvent
		}
		if col.said == roleOther && lay.measures(t, c) && col.filled <= mostQuantities && !technicalWords.understands(col.heading) {
			lay.notes = append(lay.notes, c) // its values are words
			continue
		}
		if col.said != roleMinutes && eventKinds[col.said] == "" {
			continue
		}
		if lay.findBackground(t, c); col.busy > lay.timedRows() {
			continue // what it means must be asked
		}
		lay.notes = append(lay.notes, c)
		if col.said != roleMinutes {
			l.note("events", fmt.Sprintf("column %d", c+1), "its heading names "+string(eventKinds[col.said]), "heading")
		}
	}
}

// measures reports a column of another quantity: numbers, or several in a cell as
// in "126/73" where the column is not filled on every row.
func (lay *layout) measures(t *table, c int) bool {
	col := &lay.cols[c]
	return col.allNumbers() || col.filled*2 <= lay.timedRows() && lay.holds(t, c, unicode.IsDigit)
}

// mostQuantities is how many values of another quantity are words each; more are
// summed up.
const mostQuantities = 100

// eventWords are the words of headings that name a kind of event and no more.
var eventWords = func() *vocabulary {
	lists := []string{linkWords, "g gram grams time min mins minutes minuten name what taken logged own free words description"}
	for _, h := range headingWords {
		if eventKinds[h.role] != "" || h.role == roleMinutes || h.role == roleType {
			lists = append(lists, h.words)
		}
	}
	v := newVocabulary(lists...)
	for _, w := range []string{"insulin", "insuline", "insulina"} { // which medicine it was must be told
		delete(v.whole, w)
		delete(v.stems, w)
	}
	return v
}()

// negatives are cells that only say no.
var negatives = newVocabulary("no none nil false nein kein keine keins non aucun aucune rien ninguno ninguna nada nessuno nessuna nulla nao nenhum nenhuma geen nee niets nej ingen inget nei ei nie brak ne zadny nic нет нема не")

// saysNothing reports a cell of an event column that says that nothing happened:
// a nought, or a bare no under a heading that is wholly understood.
func (h *harvest) saysNothing(c int, s string) bool {
	return zeroCell(s) || len(s) < 10 && negatives.whole[plain(s)] && h.lay.plainHeading(c)
}

// plainHeading reports whether a column's heading names its kind of event and no
// more, so that its cells need not repeat it.
func (lay *layout) plainHeading(c int) bool {
	was, known := lay.plainly[c]
	if !known {
		if lay.plainly == nil {
			lay.plainly = make(map[int]bool)
		}
		was = eventWords.understands(lay.cols[c].heading)
		lay.plainly[c] = was
	}
	return was
}

// labelled gives a cell as words: with the heading, where that says more than the
// kind of event, or where the cell is a bare number.
func (h *harvest) labelled(c int, s string, isNumber bool) string {
	if heading := h.lay.cols[c].heading; heading != "" && s != heading && (isNumber || !h.lay.plainHeading(c)) {
		return heading + ": " + h.lay.withUnit(c, s)
	}
	return s
}

// withUnit writes the unit behind a number that stood there in the file.
func (lay *layout) withUnit(c int, s string) string {
	if u := lay.cols[c].unit; u != wear.UnitUnknown && unitIn(lay.cols[c].heading) == wear.UnitUnknown {
		return s + " " + u.String()
	}
	return s
}

// namesKinds reports a column whose every cell names a kind of event.
func (c *column) namesKinds() bool {
	return !c.many && len(c.distinct) > 0 && c.n[word] == c.filled &&
		!slices.ContainsFunc(c.distinct, func(s string) bool { return bareKind(s) == roleUnknown })
}

// flags are cells that only say that something was there.
const flags = "|1|x|×|✓|✔|☑|•|yes|y|true|ja|oui|si|sim|haan|"

// rowEvents is what the event columns of one row hold.
type rowEvents struct {
	kind    role // what the row's record type or event column says it is
	carbs   float64
	minutes int
	number  int    // the column of a number that no heading explains, or -1
	label   string // words of a meal, and free words
	note    string
	events  []string // cells of event columns that are no bare kind
}

// events adds the events of one row. kind is what the record type says.
func (h *harvest) events(r int, at int64, kind role) {
	if len(h.lay.notes) == 0 && eventKinds[kind] == "" {
		return
	}
	e := rowEvents{kind: kind, number: -1}
	h.gather(r, at, &e)
	text := join(e.label, e.note)
	for _, s := range e.events {
		text = join(text, s)
	}
	switch {
	case e.kind == roleFinger && kind != roleFinger:
		h.loggedFingerstick(r, at, e.number)
	case eventKinds[e.kind] != "":
		h.single(r, at, &e, text)
	default:
		for _, s := range e.events {
			h.worded(at, s)
		}
		if e.label != "" || e.carbs > 0 {
			h.res.Events = append(h.res.Events, wear.Event{At: at, Kind: wear.Meal, Label: e.label, Carbs: e.carbs})
		}
		if e.note != "" {
			h.noteOrSymptom(at, e.note)
		}
	}
}

// gather reads the event columns of a row. Columns with a kind of their own,
// such as symptoms, give their events at once.
func (h *harvest) gather(r int, at int64, e *rowEvents) {
	own := len(h.res.Events)
	for _, c := range h.lay.notes {
		k := h.t.kind(r, c)
		if k == blank {
			continue
		}
		s := h.t.cell(r, c)
		if h.saysNothing(c, s) {
			h.mark(h.t, r, c, wear.FateAside, "says that nothing happened")
			continue
		}
		if background, dense := h.lay.background[c]; dense && s == background {
			h.mark(h.t, r, c, wear.FateAside, backgroundWhy)
			continue
		}
		h.mark(h.t, r, c, wear.FateEvent, "")
		v, isNumber := h.amount(r, c)
		if _, dense := h.lay.background[c]; (dense || !isNumber) && strings.Contains(flags, "|"+strings.ToLower(s)+"|") && h.lay.cols[c].heading != "" {
			s, isNumber = h.lay.cols[c].heading, false // a mark stands for what the heading says
		}
		switch said := h.lay.cols[c].said; {
		case said == roleOther:
			h.res.Events = append(h.res.Events, wear.Event{At: at, Kind: wear.Note, Label: h.labelled(c, s, true)})
		case said == roleMinutes:
			e.minutes = int(min(v, maxMinutes))
		case said == roleCarbs && isNumber:
			e.carbs += v
		case said == roleMeal, said == roleCarbs:
			e.label = join(e.label, h.labelled(c, s, isNumber))
		case said == roleNote && h.bareKind(s) == roleFinger && eventKinds[e.kind] == "":
			e.kind = roleFinger
		case said == roleNote:
			e.note = join(e.note, h.labelled(c, s, isNumber))
			if isNumber {
				e.number = c
			}
		case eventKinds[said] != "" && said != roleEvent:
			h.res.Events = append(h.res.Events, h.ownColumn(at, c, s, v, isNumber))
		case eventKinds[e.kind] == "" && h.bareKind(s) != roleUnknown:
			e.kind = h.bareKind(s)
		default:
			if isNumber {
				e.number = c
			}
			e.events = append(e.events, h.labelled(c, s, isNumber))
		}
	}
	if e.minutes > 0 { // belongs to the exercise or sleep of the same row
		for i := own; i < len(h.res.Events); i++ {
			h.res.Events[i].Minutes = e.minutes
		}
	}
}

// backgroundWhy is why the commonest cell of an event column gives no event.
const backgroundWhy = "the commonest of its column, told once"

// maxBare bounds the event cells that are remembered.
const maxBare = 100

// bareKind is [bareKind] with a memory, because events come again.
func (h *harvest) bareKind(s string) role {
	kind, known := h.bare[s]
	if !known {
		kind = bareKind(s)
		if h.bare == nil {
			h.bare = make(map[string]role)
		}
		if len(h.bare) < maxBare {
			h.bare[s] = kind
		}
	}
	return kind
}

// bareKind tells a cell that only names a kind of event, such as "meal".
func bareKind(s string) role {
	if len(s) > 40 || strings.Count(s, " ") > 1 || strings.ContainsAny(s, ":;") {
		return roleUnknown
	}
	if k := recordRole(s); eventKinds[k] != "" || k == roleFinger {
		return k
	}
	return roleUnknown
}

// ownColumn is the event of a column whose heading names its kind.
func (h *harvest) ownColumn(at int64, c int, s string, v float64, isNumber bool) wear.Event {
	said := h.lay.cols[c].said
	if h.lay.cols[c].heading != "" && strings.Contains(flags, "|"+strings.ToLower(s)+"|") {
		s = h.lay.cols[c].heading
	}
	e := wear.Event{At: at, Kind: eventKinds[said], Label: h.labelled(c, s, isNumber)}
	if (said == roleExercise || said == roleSleep) && isNumber && v >= 5 && v <= maxMinutes {
		if e.Minutes = int(v); h.lay.plainHeading(c) {
			e.Label = "" // all that it says is how long
		}
	}
	return e
}

// single adds the one event of a row that says what it is; its number stands in
// a column for it or in the value column, and all else is words.
func (h *harvest) single(r int, at int64, e *rowEvents, text string) {
	out := wear.Event{At: at, Kind: eventKinds[e.kind], Label: text, Carbs: e.carbs, Minutes: e.minutes}
	if h.lay.kind >= 0 && h.t.kind(r, h.lay.auto) != blank && h.lay.kinds[h.t.cell(r, h.lay.kind)] == e.kind {
		v, ok := h.amount(r, h.lay.auto)
		h.mark(h.t, r, h.lay.auto, wear.FateEvent, "")
		switch {
		case ok && out.Kind == wear.Meal && e.carbs == 0:
			out.Carbs = v
		case ok && (out.Kind == wear.Exercise || out.Kind == wear.Sleep) && e.minutes == 0:
			out.Minutes = int(min(v, maxMinutes))
		default:
			out.Label = join(out.Label, h.t.cell(r, h.lay.auto))
		}
	}
	h.res.Events = append(h.res.Events, out)
}

// loggedFingerstick adds a fingerstick that an event column names. Its value
// stands beside it; if only the glucose column has one, a person is asked whose
// it is.
func (h *harvest) loggedFingerstick(r int, at int64, number int) {
	if number >= 0 {
		h.fingerstick(r, number, at)
		return
	}
	if !h.t.kind(r, h.lay.auto).number() {
		return
	}
	if h.ask("fingerstick_value", "Rows marked as a fingerstick have one value. Is it the fingerstick's or the sensor's?",
		wear.Choice{Value: "fingerstick", Text: "the fingerstick's", Effect: "these values would not count as sensor readings", Rows: []string{h.t.show(r)}},
		wear.Choice{Value: "sensor", Text: "the sensor's", Effect: "these values stay sensor readings", Rows: []string{h.t.show(r)}}) == "fingerstick" {
		h.res.Readings = h.res.Readings[:len(h.res.Readings)-1]
		h.account.turn(1)
		h.fingerstick(r, h.lay.auto, at)
	}
}

// maxMinutes is the longest exercise or sleep, one day.
const maxMinutes = 24 * 60

func join(a, b string) string {
	switch {
	case a == "":
		return b
	case b == "":
		return a
	}
	return a + "; " + b
}

// amount is the number in a cell, as for grams of carbohydrate.
func (h *harvest) amount(r, c int) (float64, bool) {
	if !h.t.kind(r, c).number() {
		return 0, false
	}
	num, scale, ok := parseNumber(h.t.cell(r, c))
	return wear.Reading{Num: num, Scale: scale}.Native(), ok
}

// worded adds the event of a free cell: "meal", "meal: porridge", or words of
// any sort, which stay a note.
func (h *harvest) worded(at int64, s string) {
	head, rest := s, ""
	if i := strings.IndexAny(s, ":;|"); i > 0 {
		head, rest = strings.TrimSpace(s[:i]), strings.TrimSpace(s[i+1:])
	} else if a, b, ok := strings.Cut(s, " - "); ok {
		head, rest = strings.TrimSpace(a), strings.TrimSpace(b)
	}
	if k := eventKinds[recordRole(head)]; k != "" && len(strings.Fields(head)) <= 2 {
		e := wear.Event{At: at, Kind: k, Label: rest}
		if rest == "" && len(strings.Fields(head)) == 2 {
			e.Label = head
		}
		if k == wear.Meal {
			e.Carbs = gramsIn(rest)
		}
		h.res.Events = append(h.res.Events, e)
		return
	}
	h.noteOrSymptom(at, s)
}

// gramsIn finds "45 g" in the words of a meal; 0 where there is none.
func gramsIn(s string) float64 {
	words := strings.Fields(s)
	for i, w := range words {
		text, hasUnit := strings.CutSuffix(w, "g")
		if !hasUnit && (i+1 >= len(words) || words[i+1] != "g") {
			continue
		}
		if num, scale, ok := parseNumber(text); ok {
			return wear.Reading{Num: num, Scale: scale}.Native()
		}
	}
	return 0
}

func (h *harvest) noteOrSymptom(at int64, s string) {
	kind := wear.Note
	if tellsSymptom(s) {
		kind = wear.Symptom
		h.once("symptom_words", "symptom", "a note uses a plain word for a symptom")
	}
	h.res.Events = append(h.res.Events, wear.Event{At: at, Kind: kind, Label: s})
}
