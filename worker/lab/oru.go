package lab

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"wearround/worker/wear"
)

// group is one order of a message with what was observed for it.
type group struct {
	order, request *segment // ORC, OBR
	specimen       *segment
	person         *segment
	words          []string // about the whole order
	seen           []*observed
}

// observed is one OBX with its comments.
type observed struct {
	*segment
	words []string
}

// message reads one message.
func (l *ledger) message(m *message) {
	kind, event := m.head.component(9, 1), m.head.component(9, 2)
	version := m.head.component(12, 1)
	switch training := m.head.component(11, 1); {
	case kind != "ORU" || event != "" && event != "R01":
		l.res.Rows++
		l.leave(m, fmt.Sprintf("a message of the kind %s, which brings no result", clip(kind+" "+event)))
		return
	case training == "T" || training == "D":
		l.res.Rows++
		l.leave(m, "a test message, as it says itself")
		return
	case !knownVersion(version):
		answer := l.ask("version", fmt.Sprintf("The messages are of HL7 version “%s”; 2.3 to 2.5 are read. Read them like 2.5?", clip(version)),
			wear.Choice{Value: "read", Text: "Yes", Effect: "they are read"}, wear.Choice{Value: aside, Text: "No, or not known", Effect: "they are left out"})
		if answer != "read" {
			l.res.Rows++
			l.leave(m, "of a version that is not read")
			return
		}
	}
	zone := l.Zone
	issued, ok := moment(m.head.get(7), l.Zone)
	if !ok {
		issued = time.Time{}
	} else if strings.ContainsAny(m.head.get(7), "+-") {
		zone = issued.Location() // the standard: the other times of the message are of this offset
	}
	groups, ok := l.groups(m)
	if !ok {
		l.res.Rows++
		if l.seenAside("the message", "order:"+mark(m.head.text(10), fmt.Sprint(m.number)), "The segments of a message stand in an order in which results cannot be told to belong to a patient and an order. Ask the laboratory to send it again.") {
			l.leave(m, "its segments cannot be put together, as somebody has seen")
		} else {
			l.leave(m, "asked about: its segments cannot be put together")
		}
		return
	}
	sender := m.head.component(4, 1)
	for _, g := range groups {
		l.group(g, sender, issued, zone)
	}
	l.take(m.head, wear.FateFact, "kind, version, sender and time of the message")
	l.rest(m.head, wear.FateFact, "about the message")
	for _, s := range m.segments {
		switch {
		case s.counted:
			continue
		case s.name == "OBR" || s.name == "ORC" || s.name == "SPM":
			l.take(s, wear.FateFact, "the order and its sample")
			l.rest(s, wear.FateAside, "about the order, not used")
			continue
		}
		switch s.name {
		case "PD1", "PV1", "PV2", "NK1":
			l.rest(s, wear.FateAside, "about the visit or relatives, not used")
		default:
			l.rest(s, wear.FateAside, "a segment that is not read")
		}
	}
}

func knownVersion(v string) bool {
	return slices.Contains([]string{"2.3", "2.3.1", "2.4", "2.5", "2.5.1"}, v)
}

// groups puts the segments of a message together, whatever their order, where
// only one way to do so is there: one patient for all, or each before its
// orders; one order for all, or each before its observations.
func (l *ledger) groups(m *message) (list []*group, ok bool) {
	patients, orders, observations := 0, 0, 0
	for _, s := range m.segments {
		switch s.name {
		case "OBX":
			observations++
		case "PID":
			patients++
		case "OBR":
			orders++
		}
	}
	if patients == 0 || orders == 0 {
		return nil, false
	}
	var pid, orc *segment
	if patients == 1 {
		pid = m.segments[slices.IndexFunc(m.segments, func(s *segment) bool { return s.name == "PID" })]
	}
	current := &group{}
	only := current
	var last *observed
	var early []string // comments before the first order
	for _, s := range m.segments {
		switch s.name {
		case "PID":
			pid, last = s, nil
			if patients > 1 {
				current = &group{}
			}
		case "ORC":
			if orc = s; orders == 1 {
				only.order = s
			}
		case "OBR":
			if pid == nil {
				return nil, false
			}
			if orders > 1 || current.request != nil {
				current = &group{}
			}
			current.request, current.person, last = s, pid, nil
			if current.order == nil {
				current.order, orc = orc, nil
			}
			list = append(list, current)
		case "OBX":
			if current.request == nil && orders > 1 {
				return nil, false
			}
			last = &observed{segment: s}
			current.seen = append(current.seen, last)
		case "SPM":
			current.specimen = s
		case "NTE":
			words := s.comment()
			switch {
			case last != nil:
				last.words = append(last.words, words...)
			case current.request == nil:
				early = append(early, words...)
			default:
				current.words = append(current.words, words...)
			}
			l.take(s, wear.FateFact, "words, kept with the result")
			l.rest(s, wear.FateFact, "about a comment")
		}
	}
	for _, g := range list {
		g.words = append(g.words, early...)
		observations -= len(g.seen)
	}
	return list, observations == 0
}

// comment are the words of an NTE.
func (s *segment) comment() []string {
	var words []string
	for _, r := range split(s.get(3), s.marks.repeat) {
		if t := strings.TrimSpace(s.plain(r)); t != "" {
			words = append(words, t)
		}
	}
	return words
}

// who reads a PID. Identifiers that belong to a person beyond the practice, such
// as a nation's, are left alone.
func (l *ledger) who(s *segment) int {
	var p Person
	for _, n := range []int{3, 2, 4} {
		for _, r := range split(s.get(n), s.marks.repeat) {
			id, kind := s.part(r, 1), strings.ToUpper(s.part(r, 5))
			if id != "" && !slices.Contains(nationalKinds, kind) && !slices.Contains(p.IDs, id) {
				p.IDs = append(p.IDs, id)
			}
		}
	}
	name := split(s.get(5), s.marks.repeat)[0]
	family, _, _ := strings.Cut(split(name, s.marks.component)[0], string(s.marks.sub))
	p.Family, p.Given = strings.TrimSpace(s.plain(family)), s.part(name, 2)
	if at, ok := moment(s.component(7, 1), time.UTC); ok {
		p.Born = at.Format(time.DateOnly)
	}
	return l.person(p)
}

// nationalKinds are identifier types (HL7 table 0203) that are not a practice's.
var nationalKinds = []string{"NI", "NH", "MC", "MA", "SS", "DL", "PPN", "PEN", "DVA", "TAX", "NIIP"}

// group reads the observations of one order.
func (l *ledger) group(g *group, sender string, issued time.Time, zone *time.Location) {
	person := l.who(g.person)
	l.once(g.person)
	r := g.request
	taken, _ := moment(r.component(7, 1), zone)
	if g.specimen != nil {
		if at, ok := moment(g.specimen.component(17, 1), zone); ok && taken.IsZero() {
			taken = at
		}
	}
	if at, ok := moment(r.component(22, 1), zone); ok && issued.IsZero() {
		issued = at
	}
	filler, placer := r.get(3), r.get(2)
	if g.order != nil {
		filler, placer = cmp.Or(filler, g.order.get(3)), cmp.Or(placer, g.order.get(2))
	}
	status := r.component(25, 1)
	if len(g.seen) == 0 && status == "X" {
		l.res.Rows++
		l.seenAside("this", "order:"+mark(sender, filler, placer), "The laboratory cancels an order without naming its results. Take back by hand, on the patient’s page, what it had sent of it. Has somebody seen to it?")
	}
	context := r.text(4) + " " + r.text(13)
	words := slices.Clone(g.words)
	list := make([]*found, len(g.seen))
	for i, o := range g.seen {
		f := o.found(zone)
		f.person, f.issued, f.context = person, issued, context+" "+strings.Join(g.words, " ")
		if f.taken.IsZero() {
			f.taken = taken
		}
		switch {
		case filler != "":
			f.key = []string{"filler", sender, filler, o.get(4)}
		case placer != "":
			f.key = []string{"placer", sender, placer, o.get(4)}
		}
		f.status = statusOf(o.component(11, 1), status)
		if list[i] = f; !f.number && f.unit == "" && loinc[f.loinc] == "" && f.value != "" {
			words = append(words, strings.TrimSpace(f.text+": "+f.value))
		}
	}
	for i, f := range list {
		o := g.seen[i]
		var fate wear.Fate
		var why string
		switch {
		case f.status == "":
			l.res.Rows++
			fate, why = wear.FateAside, "no result yet, or not done, as the message says"
		default:
			f.words = append(slices.Clone(o.words), words...)
			fate, why = l.settle(f)
		}
		l.take(o.segment, fate, why)
		l.rest(o.segment, wear.FateAside, "about the observation, not used")
	}
}

// once counts the fields of a PID, which several orders may share.
func (l *ledger) once(s *segment) {
	if s.counted {
		return
	}
	l.take(s, wear.FateFact, "whose the result is")
	l.rest(s, wear.FateAside, "about the person, not used")
}

// statusOf reads the status of an observation (HL7 table 0085), or where it has
// none that of its order (table 0123). "" is one without a result.
func statusOf(obx, obr string) Status {
	if obr == "X" { // the order was cancelled
		return Cancelled
	}
	switch strings.ToUpper(cmp.Or(obx, obr)) {
	case "F", "U":
		return Final
	case "C":
		return Corrected
	case "X", "D", "W": // cannot be obtained, deleted, posted as wrong
		return Cancelled
	case "I", "N", "O":
		return ""
	}
	return Preliminary // P, R, S, A, and what nobody knows: not to be relied on
}

// found reads the parts of an OBX.
func (o *observed) found(zone *time.Location) *found {
	f := &found{flag: o.component(8, 1), ranged: o.text(7), unit: cmp.Or(o.component(6, 1), o.component(6, 2))}
	for _, at := range []int{1, 4} { // a code, its text and its system; and another of each
		code, text, system := o.component(3, at), o.component(3, at+1), o.component(3, at+2)
		switch {
		case code == "":
		case system == "LN" || strings.EqualFold(system, "LOINC"):
			f.loinc = code
		default:
			f.local = cmp.Or(f.local, code)
		}
		f.text = cmp.Or(f.text, text)
	}
	if at, ok := moment(o.component(14, 1), zone); ok {
		f.taken = at
	}
	kind, raw := o.component(2, 1), o.get(5)
	switch {
	case strings.Contains(raw, string(o.marks.repeat)) && o.marks.repeat != 0:
		f.value = o.text(5)
	case kind == "SN": // comparator ^ number ^ separator ^ number
		f.value = strings.TrimSpace(o.component(5, 1) + o.component(5, 2))
		if more := o.component(5, 3) + o.component(5, 4); more != "" {
			f.value += " " + more
		} else {
			f.value, f.number = number(f.value)
		}
	case kind == "ED" || kind == "RP":
		f.value = "an attachment"
	default:
		f.value, f.number = number(o.text(5))
	}
	return f
}
