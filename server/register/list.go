package register

import (
	"encoding/csv"
	"errors"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"wearround/server/door"
	"wearround/store"
	"wearround/web/form"
)

// patientList is a delimited list of patients as it was read.
type patientList struct {
	lines   []store.RegisterLine
	numbers []int // of the lines in the text, 1 first
	ignored []string
}

// listColumns are the headings that are understood, in lower case with single
// spaces, and what they name.
var listColumns = map[string]string{
	"code": "code", "patient": "code", "patient code": "code", "number": "code", "id": "code",
	"name": "name", "full name": "name", "patient name": "name",
	"birth": "birth", "birth date": "birth", "date of birth": "birth", "born": "birth", "dob": "birth",
	"sex": "sex", "gender": "sex",
	"telephone": "telephone", "phone": "telephone", "mobile": "telephone",
	"email": "email", "e-mail": "email", "mail": "email",
	"address": "address", "language": "language", "note": "note",
}

// readList reads a list whose first line names its columns. dates says how its
// dates are written, [form.DayFirst] or [form.MonthFirst]; "" where nobody said. Its error is a
// sentence for the person who sent it.
func readList(text, dates string) (patientList, error) {
	var l patientList
	text = strings.TrimPrefix(text, "\uFEFF")
	switch {
	case strings.TrimSpace(text) == "":
		return l, door.InvalidField("list", "Choose a file, or paste the lines.")
	case !utf8.ValidString(text):
		return l, door.InvalidField("list", "The letters of this list cannot be read for certain. Save it as UTF-8 and send it again.")
	}
	r := csv.NewReader(strings.NewReader(text))
	r.Comma, r.FieldsPerRecord, r.TrimLeadingSpace, r.LazyQuotes = delimiter(text), -1, true, true
	head, err := r.Read()
	if err != nil {
		return l, door.InvalidField("list", "The first line must name the columns.")
	}
	columns := make([]string, len(head))
	named := map[string]bool{}
	for i, h := range head {
		columns[i] = listColumns[strings.Join(strings.Fields(strings.ToLower(strings.ReplaceAll(h, "_", " "))), " ")]
		if columns[i] == "" || named[columns[i]] {
			columns[i] = ""
			l.ignored = append(l.ignored, h)
			continue
		}
		named[columns[i]] = true
	}
	if !named["code"] {
		return l, door.InvalidField("list", "No column is called “code”. Name the column that holds the practice’s own code so, in the first line.")
	}
	for {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return l, door.InvalidField("list", "The list cannot be read to its end: a quotation mark may be missing.")
		}
		line, at := lineOf(columns, record), 0
		if line == (store.RegisterLine{}) {
			continue
		}
		at, _ = r.FieldPos(0)
		l.lines, l.numbers = append(l.lines, line), append(l.numbers, at)
	}
	l.orderDates(dates)
	return l, nil
}

func lineOf(columns, record []string) store.RegisterLine {
	var l store.RegisterLine
	to := map[string]*string{
		"code": &l.Code, "name": &l.Name, "birth": &l.BirthDate, "sex": &l.Sex, "telephone": &l.Contact.Telephone,
		"email": &l.Contact.Mail, "address": &l.Contact.Address, "language": &l.Contact.Language, "note": &l.Contact.Note,
	}
	for i, v := range record {
		if i < len(columns) && columns[i] != "" {
			*to[columns[i]] = strings.TrimSpace(v)
		}
	}
	return l
}

// delimiter is the sign that parts the first line most often.
func delimiter(text string) rune {
	first, _, _ := strings.Cut(text, "\n")
	best := ','
	for _, d := range []rune{';', '\t', '|'} {
		if strings.Count(first, string(d)) > strings.Count(first, string(best)) {
			best = d
		}
	}
	return best
}

// orderDates writes dates such as 24/03/1961 as 1961-03-24 where the whole
// column fits one order of day and month and not the other, or where the sender
// said which it is. Where both fit and nobody said, the dates stay as they are
// and are refused line by line: they are not guessed.
func (l *patientList) orderDates(said string) {
	orders := []string{"2/1/2006", "1/2/2006"}
	fits := func(order string) bool {
		for i := range l.lines {
			if d := l.lines[i].BirthDate; strings.Count(slashed(d), "/") == 2 {
				if _, err := time.Parse(order, slashed(d)); err != nil {
					return false
				}
			}
		}
		return true
	}
	day, month := fits(orders[0]), fits(orders[1])
	switch said {
	case form.DayFirst:
		day, month = true, false
	case form.MonthFirst:
		day, month = false, true
	}
	if day == month {
		return
	}
	order := orders[0]
	if month {
		order = orders[1]
	}
	for i := range l.lines {
		if t, err := time.Parse(order, slashed(l.lines[i].BirthDate)); err == nil {
			l.lines[i].BirthDate = t.Format(time.DateOnly)
		}
	}
}

func slashed(date string) string { return strings.ReplaceAll(date, ".", "/") }
