package worker

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"path"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"

	"wearround/store"
	"wearround/worker/intake"
	"wearround/worker/wear"
)

// NameRule is the practice's rule for the names of exported files: where the
// patient's code stands in them. "{code}" stands for the code, "*" for
// anything; the file's extension is left off before the rule is tried.
type NameRule struct {
	text string
	re   *regexp.Regexp
}

// DefaultNameRule finds P-0417 in "P-0417_anything.csv".
const DefaultNameRule = "{code}_*"

// ParseNameRule checks a rule. It must hold "{code}" exactly once.
func ParseNameRule(s string) (NameRule, error) {
	if strings.Count(s, "{code}") != 1 {
		return NameRule{}, fmt.Errorf("the file-name rule %q must hold {code} exactly once, as in %q", s, DefaultNameRule)
	}
	p := regexp.QuoteMeta(s)
	p = strings.ReplaceAll(p, regexp.QuoteMeta("*"), ".*")
	p = strings.Replace(p, regexp.QuoteMeta("{code}"), `([\pL\pN][\pL\pN.-]*)`, 1)
	re, err := regexp.Compile("^" + p + "$")
	if err != nil {
		return NameRule{}, fmt.Errorf("the file-name rule %q cannot be used: %w", s, err)
	}
	return NameRule{text: s, re: re}, nil
}

// String is the rule as it was written.
func (r NameRule) String() string { return r.text }

// code gives the patient code that the rule finds in a file's name, or "".
func (r NameRule) code(name string) string {
	base := path.Base(name)
	base = strings.TrimSuffix(base, path.Ext(base))
	if m := r.re.FindStringSubmatch(base); m != nil {
		return m[1]
	}
	// A file named by the bare code is the plainest case of any rule.
	if bare.MatchString(base) {
		return base
	}
	return ""
}

var bare = regexp.MustCompile(`^[\pL\pN][\pL\pN.-]*$`)

// TryNameRule gives the code that a rule finds in each of some names, "" where
// it finds none. Nothing is changed by it.
func TryNameRule(rule string, names []string) ([]string, error) {
	r, err := ParseNameRule(rule)
	if err != nil {
		return nil, err
	}
	codes := make([]string, len(names))
	for i, n := range names {
		codes[i] = r.code(n)
	}
	return codes, nil
}

// rule is the file-name rule in force: the one set in the browser, or else the
// one that the program was started with.
func (w *Worker) rule(ctx context.Context) (NameRule, error) {
	text, set, err := w.store.Setting(ctx, store.NameRule)
	if err != nil || !set || text == w.Rule.text {
		return w.Rule, err
	}
	return ParseNameRule(text)
}

// wearer is one person in a file and what the file says of them.
type wearer struct {
	patient store.Patient
	key     string // tells this person's questions from the others' in the file; "" for the only one
	parts   []part
	sure    bool // somebody said whose it is: what the file brought to another moves here
}

// part is one wear of a file.
type part struct {
	readings []wear.Reading // in time order, at least one
	events   []wear.Event
	moved    []standing // wears there that somebody's answer says are the same, as they are to be joined
	apart    []int64    // wears there that somebody's answer says are another sensor's
	stolen   bool       // some of them are another patient's until now
}

// partsOf cuts readings into wears, each with its events.
func (w *Worker) partsOf(readings []wear.Reading, events []wear.Event) []part {
	wears := wear.Split(readings, w.store.Judging().Protocol)
	list := make([]part, len(wears))
	for i, own := range EventsOf(wears, events) {
		list[i] = part{readings: wears[i], events: own}
	}
	return list
}

// wearers finds whose the readings are. One person's file belongs to the
// patient that whose finds. Each of several people in a file is linked by a
// person, never by what the file calls them.
func (w *Worker) wearers(ctx context.Context, j job, res *intake.Result) ([]wearer, []wear.Question, error) {
	if len(res.People) == 0 {
		p, ask, err := w.whose(ctx, j, res.PatientHint)
		if err == nil && ask == nil && j.answers["patient"] == "" {
			ask = contradicted(p, res.About)
		}
		if err != nil || ask != nil {
			return nil, asList(ask), err
		}
		return []wearer{{patient: p, sure: j.answers["patient"] == p.Code, parts: w.partsOf(res.Readings, res.Events)}}, nil, nil
	}
	var people []wearer
	var questions []wear.Question
	for i, key := range personKeys(res.People) {
		person := res.People[i]
		if len(person.Readings) == 0 {
			continue
		}
		p, ask, err := w.linked(ctx, key, person, j.answers["person:"+key])
		if err != nil {
			return nil, nil, err
		}
		at := slices.IndexFunc(people, func(other wearer) bool { return ask == nil && other.patient.ID == p.ID })
		if at >= 0 {
			if ask = samePatient(p, people[at].key, key, j.answers); ask != nil {
				at = -1
			}
		}
		questions = append(questions, asList(ask)...)
		if at < 0 {
			people = append(people, wearer{patient: p, key: key})
			at = len(people) - 1
		}
		people[at].parts = append(people[at].parts, w.partsOf(person.Readings, person.Events)...)
	}
	if len(questions) > 0 {
		return nil, questions, nil
	}
	return people, nil, nil
}

// personKeys gives each of several people in a file what its question is told by:
// what the file calls the person, and never the same for two.
func personKeys(people []intake.Person) []string {
	keys := make([]string, 0, len(people))
	for i, p := range people {
		place := fmt.Sprintf("#%d", i+1)
		key := cmp.Or(p.Hint, place)
		for slices.Contains(keys, key) {
			key += " " + place
		}
		keys = append(keys, key)
	}
	return keys
}

// samePatient asks about two people of a file to whom one patient was given: either
// they are no two people, or one answer is wrong. It gives nil where somebody said
// that they are one.
func samePatient(p store.Patient, one, other string, answers map[string]string) *wear.Question {
	code := "same:" + other + ":" + p.Code
	q := &wear.Question{Code: code, Text: fmt.Sprintf("“%s” and “%s” were both said to be %s, though the file seems to hold them as two people. Are both the same person?", one, other, called(p)),
		Choices: []wear.Choice{
			{Value: "yes", Text: "Yes, both are " + called(p), Effect: "the readings of both are filed under this patient"},
			{Value: "no", Text: "No, or not known", Effect: "whose “" + other + "” are is asked again"},
		}}
	switch answers[code] {
	case "yes":
		return nil
	case "no":
		again := askWhoIs(other)
		return &again
	}
	return q
}

func askWhoIs(key string) wear.Question {
	return wear.Question{Code: "person:" + key, Text: fmt.Sprintf("The file holds several people. Who is “%s”? Compare two facts, such as name and date of birth.", key)}
}

func asList(q *wear.Question) []wear.Question {
	if q == nil {
		return nil
	}
	return []wear.Question{*q}
}

// linked gives the patient that somebody linked to one of several people in a
// file, or asks.
func (w *Worker) linked(ctx context.Context, key string, person intake.Person, answer string) (store.Patient, *wear.Question, error) {
	if answer != "" {
		p, err := w.store.PatientByCode(ctx, answer)
		if store.CodeOf(err) != store.NotFound {
			return p, nil, err
		}
	}
	q := askWhoIs(key)
	if person.Hint != "" {
		p, err := w.store.PatientByCode(ctx, person.Hint)
		switch {
		case err == nil:
			c := choiceOf(p, "these readings are filed under this patient")
			c.Rows = w.sample(person.Readings, 0)
			q.Choices = append(q.Choices, c)
		case store.CodeOf(err) != store.NotFound:
			return p, nil, err
		}
	}
	return store.Patient{}, &q, nil
}

// choiceOf offers a patient with what tells one person from another.
func choiceOf(p store.Patient, effect string) wear.Choice {
	c := wear.Choice{Value: p.Code, Text: called(p), Effect: effect}
	if born, err := time.Parse(time.DateOnly, p.BirthDate); err == nil {
		c.Text += ", born " + born.Format("2 January 2006")
	}
	return c
}

// called names a patient for people: the code, and the name where it is known.
func called(p store.Patient) string {
	if p.Name == "" {
		return p.Code
	}
	return p.Code + ", " + p.Name
}

// whose finds the patient a file belongs to from the file-name rule, the
// sub-folder and the code inside. Only codes on the register count. No code,
// or two that disagree, is a question for a person: a patient is never
// guessed, and never taken from a name.
func (w *Worker) whose(ctx context.Context, j job, hint string) (store.Patient, *wear.Question, error) {
	drop, answer := j.drop.Path, j.answers["patient"]
	if answer != "" {
		p, err := w.store.PatientByCode(ctx, answer)
		if store.CodeOf(err) != store.NotFound {
			return p, nil, err
		}
	}
	rule, err := w.rule(ctx)
	if err != nil {
		return store.Patient{}, nil, err
	}
	clues := rule.clues(drop, hint)
	inDoubt := j.answers[store.FiledFor] != ""
	clues = append(clues, clue{"it was filed before, which", j.answers[store.FiledFor]})
	for _, code := range slices.Sorted(maps.Keys(j.answers)) {
		if strings.HasPrefix(code, store.CopyFor) {
			clues = append(clues, clue{"a copy of it", j.answers[code]})
		}
	}
	patients, seen, err := follow(clues, func(code string) (store.Patient, error) { return w.store.PatientByCode(ctx, code) })
	if err != nil {
		return store.Patient{}, nil, err
	}
	if len(patients) == 1 && !inDoubt && !stranger(hint, patients[0], seen) {
		return patients[0], nil, nil
	}
	return store.Patient{}, askWhose(patients, seen, j.answers[store.FiledFor]), nil
}

// clue is what one place says about whose a file is: a code, or "".
type clue struct{ where, code string }

// clues are what a file says by itself: its name, the code inside and the
// sub-folder that it lies in. The path is relative to the watched folder.
func (r NameRule) clues(drop, hint string) []clue {
	clues := []clue{{"the file's name", r.code(drop)}, {inFile, hint}}
	if dir := strings.Split(path.Dir(drop), "/")[0]; dir != "." {
		clues = append(clues, clue{"its folder", dir})
	}
	return clues
}

// follow looks the codes of some clues up. It gives the patients that are
// found, each once, and what each clue says in words. A code that is not on the
// register counts for nothing: find then gives [store.NotFound].
func follow(clues []clue, find func(code string) (store.Patient, error)) (patients []store.Patient, seen []string, err error) {
	for _, c := range clues {
		if c.code == "" {
			continue
		}
		p, err := find(c.code)
		switch {
		case store.CodeOf(err) == store.NotFound:
			seen = append(seen, notRegistered(c))
			continue
		case err != nil:
			return nil, nil, err
		}
		seen = append(seen, fmt.Sprintf("%s says %s", c.where, p.Code))
		if !slices.ContainsFunc(patients, func(other store.Patient) bool { return other.ID == p.ID }) {
			patients = append(patients, p)
		}
	}
	return patients, seen, nil
}

// stranger reports whether the code inside a file looks like one of the practice's
// and is on nobody's entry: it may be another person's, mistyped.
func stranger(hint string, p store.Patient, seen []string) bool {
	return codeShape(hint) == codeShape(p.Code) && slices.Contains(seen, notRegistered(clue{inFile, hint}))
}

// codeShape is a code with every digit a nine.
func codeShape(code string) string {
	return strings.ToUpper(strings.Map(func(r rune) rune {
		if unicode.IsDigit(r) {
			return '9'
		}
		return r
	}, code))
}

const inFile = "the file itself"

func notRegistered(c clue) string {
	return fmt.Sprintf("%s says %q, which is not on the register", c.where, c.code)
}

// contradicted asks whose a wear is where the file states another name, sex or birth
// date than the register has; nil where it does not.
func contradicted(p store.Patient, about intake.About) *wear.Question {
	var says []string
	if sex := p.Context.Sex; about.Sex != "" && sex != "" && about.Sex != sex {
		says = append(says, fmt.Sprintf("the file says %s, and the register has %s for %s", about.Sex, sex, p.Code))
	}
	if p.Name != "" && len(about.Names) > 0 && !slices.ContainsFunc(about.Names, func(name string) bool { return intake.SameName(name, p.Name) }) {
		says = append(says, fmt.Sprintf("the file names “%s”, and the register has %s for %s", strings.Join(about.Names, "”, “"), p.Name, p.Code))
	}
	if len(about.Born) > 0 && p.BirthDate != "" && !slices.ContainsFunc(about.Born, func(d string) bool { return strings.HasPrefix(p.BirthDate, d) }) {
		says = append(says, fmt.Sprintf("the file gives the birth date %s, and the register has %s for %s", strings.Join(about.Born, " or "), p.BirthDate, p.Code))
	}
	if says == nil {
		return nil
	}
	return askWhose([]store.Patient{p}, says, "")
}

// askWhose asks whose a wear is, of the patients that its clues name.
func askWhose(patients []store.Patient, seen []string, filed string) *wear.Question {
	q := &wear.Question{Code: "patient", Text: "Whose wear is this?"}
	if len(seen) > 0 {
		q.Text += " (" + upperFirst(strings.Join(seen, "; ")) + ".)"
	}
	for _, p := range patients {
		q.Choices = append(q.Choices, choiceOf(p, moves(p, filed)))
	}
	return q
}

// Match finds whose a file is from its path in a folder and what it says itself,
// as the worker does for one that nobody has answered about. Where the clues
// name several patients it gives the question that the worker would ask; where
// they name nobody, neither patient nor question.
func Match(rule NameRule, file string, res *intake.Result, find func(code string) (store.Patient, error)) (*store.Patient, *wear.Question, error) {
	patients, seen, err := follow(rule.clues(file, res.PatientHint), find)
	switch {
	case err != nil || len(patients) == 0:
		return nil, nil, err
	case len(patients) > 1, stranger(res.PatientHint, patients[0], seen):
		return nil, askWhose(patients, seen, ""), nil
	}
	if ask := contradicted(patients[0], res.About); ask != nil {
		return nil, ask, nil
	}
	return &patients[0], nil, nil
}

// moves says what follows from a choice of patient.
func moves(p store.Patient, filed string) string {
	switch filed {
	case "":
		return "filed under this patient"
	case p.Code:
		return "it stays with this patient"
	}
	return "what the file brought moves from " + filed + " to this patient"
}

func upperFirst(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
