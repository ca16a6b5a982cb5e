package lab

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

	"wearround/worker/wear"
)

// isHL7 reports whether bytes begin as a message or a batch of HL7 v2 does: the
// name of a head segment and then the character that separates fields.
func isHL7(data []byte) bool {
	data = trimBOM(data)
	if len(data) < 8 {
		return false
	}
	switch string(data[:3]) {
	case "MSH", "FHS", "BHS":
		sep := data[3]
		return sep > ' ' && sep < 0x7f && !isAlnum(sep)
	}
	return false
}

func isAlnum(c byte) bool {
	return c >= '0' && c <= '9' || c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z'
}

// marks are the characters that a message separates by.
type marks struct{ field, component, repeat, escape, sub byte }

// segment is one line of a message. fields[n] is field n as the standard
// numbers it; of a head segment the first is the separator itself.
type segment struct {
	name   string
	fields []string
	used   []bool
	line   int
	marks  *marks

	counted bool // in the account
}

// get is a field as sent, and counts it as used.
func (s *segment) get(n int) string {
	if n >= len(s.fields) {
		return ""
	}
	s.used[n] = true
	return s.fields[n]
}

// text is a whole field in plain text.
func (s *segment) text(n int) string {
	raw := s.get(n)
	var parts []string
	for _, c := range split(raw, s.marks.component) {
		if t := strings.TrimSpace(s.plain(c)); t != "" {
			parts = append(parts, t)
		}
	}
	return strings.Join(parts, " ")
}

// component is one component, from 1, of the first repetition of a field.
func (s *segment) component(n, c int) string {
	return s.part(split(s.get(n), s.marks.repeat)[0], c)
}

func (s *segment) part(repetition string, c int) string {
	parts := split(repetition, s.marks.component)
	if c > len(parts) {
		return ""
	}
	return strings.TrimSpace(s.plain(parts[c-1]))
}

// plain undoes the escapes of a text. One that the standard does not have stays
// as it is.
func (s *segment) plain(t string) string {
	e := s.marks.escape
	if e == 0 || strings.IndexByte(t, e) < 0 {
		return t
	}
	var b strings.Builder
	for {
		from := strings.IndexByte(t, e)
		if from < 0 {
			break
		}
		to := strings.IndexByte(t[from+1:], e)
		if to < 0 {
			break
		}
		code := t[from+1 : from+1+to]
		b.WriteString(t[:from])
		t = t[from+to+2:]
		switch {
		case code == "F":
			b.WriteByte(s.marks.field)
		case code == "S":
			b.WriteByte(s.marks.component)
		case code == "T":
			b.WriteByte(s.marks.sub)
		case code == "R":
			b.WriteByte(s.marks.repeat)
		case code == "E":
			b.WriteByte(e)
		case code == ".br" || code == ".sp":
			b.WriteByte('\n')
		case code == "H" || code == "N": // emphasis
		case strings.HasPrefix(code, "X"):
			raw, err := hex.DecodeString(code[1:])
			if err != nil || !utf8.Valid(raw) {
				b.WriteString(string(e) + code + string(e))
			} else {
				b.Write(raw)
			}
		default:
			b.WriteString(string(e) + code + string(e))
		}
	}
	b.WriteString(t)
	return b.String()
}

func split(s string, sep byte) []string {
	if sep == 0 {
		return []string{s}
	}
	return strings.Split(s, string(sep))
}

// rest counts the fields of a segment that nobody has used.
func (l *ledger) rest(s *segment, fate wear.Fate, why string) {
	n := 0
	s.counted = true
	for i, f := range s.fields {
		if i > 0 && f != "" && !s.used[i] {
			s.used[i] = true
			n++
		}
	}
	l.account(s.name, fate, why, n)
}

// take counts the fields of a segment that were used.
func (l *ledger) take(s *segment, fate wear.Fate, why string) {
	n := 0
	s.counted = true
	for i, f := range s.fields {
		if i > 0 && f != "" && s.used[i] {
			n++
		}
	}
	l.account(s.name, fate, why, n)
}

// message is one message of a file.
type message struct {
	head     *segment
	segments []*segment
	number   int
}

// segments cuts a file into its segments. A line that is none is a refusal: it
// may be the rest of a text that was broken, or of a file that was cut.
func (l *ledger) segments(data []byte) ([]*segment, *wear.Refusal) {
	data = bytes.TrimRight(trimBOM(data), "\x1c\r\n\x0b \t\x00")
	text := string(data)
	if !utf8.Valid(data) {
		decoded, err := charmap.Windows1252.NewDecoder().Bytes(data)
		if err != nil {
			return nil, refuse("encoding", "The characters of the message cannot be read.", "Ask the laboratory to send UTF-8 or ISO 8859-1.")
		}
		text = string(decoded)
	}
	var list []*segment
	var m *marks
	for i, line := range strings.FieldsFunc(text, func(r rune) bool { return r == '\r' || r == '\n' }) {
		line = strings.Trim(line, "\x0b\x1c")
		if strings.TrimSpace(line) == "" {
			continue
		}
		if len(list) >= maxSegments {
			return nil, refuse("too_big", "The file holds more segments than are read at once.", "Ask the laboratory for smaller batches.")
		}
		s := &segment{line: i + 1}
		if len(line) >= 8 && (line[:3] == "MSH" || line[:3] == "BHS" || line[:3] == "FHS") {
			m = marksOf(line)
			if m == nil {
				return nil, refuse("hl7_form", fmt.Sprintf("Line %d does not say by which characters the message is separated.", i+1), "Ask the laboratory for messages by HL7 v2.3 to 2.5.")
			}
			s.fields = append([]string{line[:3], string(m.field)}, strings.Split(line[4:], string(m.field))...)
		} else {
			if m == nil || len(line) < 3 || !isAlnum(line[0]) || !isAlnum(line[1]) || !isAlnum(line[2]) || len(line) > 3 && line[3] != m.field {
				return nil, refuse("hl7_form", fmt.Sprintf("Line %d is no segment of an HL7 message: the file was cut, or a text in it was broken.", i+1), "Ask the laboratory to send it again.")
			}
			s.fields = strings.Split(line, string(m.field))
		}
		s.name, s.marks, s.used = s.fields[0], m, make([]bool, len(s.fields))
		for i, f := range s.fields {
			if f == `""` { // the standard's way to say that a field is empty
				s.fields[i] = ""
			}
		}
		if s.name == "ADD" || s.name == "DSC" {
			return nil, refuse("hl7_form", "The message goes on in another message, which is not read.", "Ask the laboratory to send whole messages.")
		}
		list = append(list, s)
	}
	return list, nil
}

const maxSegments = 200_000

// marksOf reads the characters that a head segment announces, each once.
func marksOf(line string) *marks {
	m := &marks{field: line[3]}
	chars := line[4:]
	if i := strings.IndexByte(chars, m.field); i >= 0 {
		chars = chars[:i]
	}
	if len(chars) < 2 || len(chars) > 5 {
		return nil
	}
	for i, to := range []*byte{&m.component, &m.repeat, &m.escape, &m.sub} {
		if i < len(chars) {
			*to = chars[i]
		}
	}
	all := m.field
	for i, c := range []byte(chars) {
		if isAlnum(c) || c <= ' ' || c >= 0x7f || c == all || strings.IndexByte(chars[:i], c) >= 0 {
			return nil
		}
	}
	return m
}

// readHL7 reads a file of messages.
func (l *ledger) readHL7(data []byte) *wear.Refusal {
	list, ref := l.segments(data)
	if ref != nil {
		return ref
	}
	var messages []*message
	inBatch, whole, counted := false, true, 0
	for _, s := range list {
		switch s.name {
		case "FHS", "BHS":
			if inBatch = true; s.name == "BHS" {
				whole = false
			}
			l.rest(s, wear.FateFact, "about the batch")
		case "BTS":
			whole = true
			if n, err := strconv.Atoi(s.component(1, 1)); err == nil && n != len(messages)-counted {
				whole = false
			}
			counted = len(messages)
			l.take(s, wear.FateFact, "number of messages in the batch")
			l.rest(s, wear.FateFact, "about the batch")
		case "FTS":
			l.rest(s, wear.FateFact, "about the batch")
		case "MSH":
			messages = append(messages, &message{head: s, number: len(messages) + 1})
		default:
			if len(messages) == 0 {
				return refuse("hl7_form", fmt.Sprintf("Line %d stands before the first message.", s.line), "Ask the laboratory to send it again.")
			}
			m := messages[len(messages)-1]
			m.segments = append(m.segments, s)
		}
	}
	if inBatch && !whole {
		switch l.ask("cut_short", "The batch does not hold as many messages as it says, so it may have been cut. Keep what is there?",
			wear.Choice{Value: "whole", Text: "Yes: the laboratory says that it is all", Effect: fmt.Sprintf("%d messages are read", len(messages))},
			wear.Choice{Value: "stop", Text: "No, or not known", Effect: "the file stays out"}) {
		case "":
			l.res.Rows = 1
			for _, m := range messages {
				l.leave(m, "asked about: whether the batch is whole")
			}
			return nil
		case "stop":
			return refuse("cut_short", "The batch was cut short.", "Ask the laboratory to send it again.")
		}
	}
	for _, m := range messages {
		l.message(m)
	}
	return nil
}

// leave sets a whole message aside.
func (l *ledger) leave(m *message, why string) {
	l.rest(m.head, wear.FateAside, why)
	for _, s := range m.segments {
		l.rest(s, wear.FateAside, why)
	}
}

// moment reads a time of HL7: digits of year to second, perhaps a fraction and
// an offset. One without an offset is of the message's, or of the practice's
// zone. A day without a time is its beginning there; less than a day is none.
func moment(text string, zone *time.Location) (time.Time, bool) {
	text, _, _ = strings.Cut(text, "^")
	text = strings.TrimSpace(text)
	if i := strings.LastIndexAny(text, "+-"); i >= 0 {
		at, err := time.Parse("-0700", text[i:])
		if err != nil {
			return time.Time{}, false
		}
		_, seconds := at.Zone()
		zone, text = time.FixedZone("", seconds), text[:i]
	}
	text, _, _ = strings.Cut(text, ".")
	for _, layout := range []string{"20060102150405", "200601021504", "2006010215", "20060102"} {
		if len(text) == len(layout) {
			at, err := time.ParseInLocation(layout, text, zone)
			return at, err == nil && !slices.Contains([]byte(text), ' ')
		}
	}
	return time.Time{}, false
}
