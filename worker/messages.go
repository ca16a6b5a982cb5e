package worker

import (
	"context"
	"fmt"
	"hash/fnv"
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"wearround/store"
	"wearround/worker/lab"
	"wearround/worker/wear"
)

// preliminaryCode is the question whether preliminary results are to count.
const preliminaryCode = "preliminary"

// messages deals with a file of laboratory messages as file does with a wear's.
// What nothing is asked about counts at once; the file is held for the rest.
func (w *Worker) messages(ctx context.Context, j job) (store.Fate, error) {
	now, err := w.latest(ctx)
	if err != nil {
		return "", err
	}
	res, err := guarded(ctx, w, j, func() *lab.Result {
		return lab.Read(j.data, lab.Options{Zone: w.Zone, Now: now, Answers: j.answers})
	}, func(r *wear.Refusal) *lab.Result { return &lab.Result{Refusal: r} })
	if err != nil {
		return "", err
	}
	if res.Refusal != nil {
		return w.refuse(ctx, j, *res.Refusal)
	}
	m := store.Messages{
		Drop: j.drop, SHA256: j.hash, Layout: res.Layout, Questions: res.Questions, Rows: res.Rows, Skipped: res.Skipped, Answered: j.asOf, Account: res.Account,
	}
	defer w.people.lock(locksOf(res)...)()
	s := sorting{Worker: w, job: j, res: res, out: &m}
	if err := s.sort(ctx); err != nil {
		return "", err
	}
	m.Drop.Fate = store.Filed
	if n := len(m.Questions); n > 0 {
		m.Drop.Fate, m.Drop.Code, m.Drop.Reason = store.Held, m.Questions[0].Code, m.Questions[0].Text
		if n > 1 {
			m.Drop.Reason = fmt.Sprintf("%s (and %d more)", m.Drop.Reason, n-1)
		}
		m.Drop.ToDo = "Answer it here. The results that nothing is asked about count already."
	}
	_, err = w.store.FileMessages(ctx, m)
	return m.Drop.Fate, w.known(ctx, j, err)
}

// locksOf keeps files apart that speak of the same results, beside the ids of
// patients, which are positive.
func locksOf(res *lab.Result) (ids []int64) {
	for _, x := range res.Statements {
		h := fnv.New64a()
		h.Write([]byte(x.Key))
		ids = append(ids, -1-int64(h.Sum64()>>1))
	}
	return ids
}

// sorting finds out whose the statements of a file are and which of them hold.
type sorting struct {
	*Worker
	job
	res *lab.Result
	out *store.Messages
}

// ask gives the answer to a question, or "" and keeps it open.
func (s *sorting) ask(q wear.Question) string {
	if a := s.answers[q.Code]; a != "" && (store.Named(q.Code) || slices.ContainsFunc(q.Choices, func(c wear.Choice) bool { return c.Value == a })) {
		return a
	}
	if !slices.ContainsFunc(s.out.Questions, func(o wear.Question) bool { return o.Code == q.Code }) {
		s.out.Questions = append(s.out.Questions, q)
	}
	return ""
}

func (s *sorting) sort(ctx context.Context) error {
	var keys []string
	for _, x := range s.res.Statements {
		keys = append(keys, x.Key)
	}
	slices.Sort(keys)
	stated, err := s.store.Stated(ctx, s.drop.FileID, slices.Compact(keys))
	if err != nil {
		return err
	}
	owners := make([]owner, len(s.res.People))
	for i := range s.res.People {
		if owners[i], err = s.whose(ctx, i); err != nil {
			return err
		}
	}
	preliminary := 0
	for i := range s.res.Statements {
		x := &s.res.Statements[i]
		o := owners[x.Person]
		if o.nobody {
			continue
		}
		e := store.Statement{
			PatientID: o.patient.ID, Key: x.Key, Status: store.StatementStatus(x.Status), Issued: x.Issued, Kind: store.ResultKind(x.Kind),
			Value: x.Value, Unit: x.Unit, Taken: x.Taken, Note: strings.TrimLeft(o.remark+"; "+x.Note, "; "), Tier: urgency(x, o.remark),
		}
		other, there := stated[x.Key]
		switch {
		case x.Status == lab.Preliminary && there && !other.Issued.Before(x.Issued): // the final word is there
			continue
		case x.Status == lab.Preliminary:
			if preliminary++; s.answers[preliminaryCode] == "file" {
				e.Status = store.StatementFinal
			} else {
				e.Status = store.StatementWaits
			}
		case x.Status == lab.Cancelled:
		case !s.believable(&e), !s.timely(&e, &o.patient):
			continue
		case x.Status == lab.Final && there && differs(&e, other) && !s.settles(&e, other):
			continue
		}
		if e.PatientID == 0 {
			e.Status = store.StatementWaits
		}
		s.out.Statements = append(s.out.Statements, e)
	}
	if preliminary > 0 {
		s.ask(wear.Question{Code: preliminaryCode, Text: fmt.Sprintf("%d of the results are preliminary: the laboratory may still change them. May they count already?", preliminary), Choices: []wear.Choice{
			{Value: "file", Text: "Yes", Effect: "they count until the final ones come"},
			{Value: "wait", Text: "No: wait for the final ones", Effect: "they are not used"},
		}})
	}
	return nil
}

// differs reports whether a statement and another of the same result cannot both
// be the laboratory's word. A correction or a cancellation that came later stands.
func differs(e *store.Statement, other store.Statement) bool {
	if other.Status != store.StatementFinal && !other.Issued.Before(e.Issued) {
		return false
	}
	return other.Status != store.StatementCancelled && (other.Value != e.Value || other.Unit != e.Unit)
}

// urgency is how soon somebody must look at a statement for what the laboratory
// says beside the value. Proposals: what it marks as critical on the same day,
// what it calls abnormal or comments on within the month.
func urgency(x *lab.Statement, remark string) wear.Tier {
	switch {
	case x.Urgent:
		return wear.Today
	case x.Marked, x.Words:
		return wear.ThisMonth
	case remark != "":
		return wear.Routine
	}
	return ""
}

// believable asks about what no laboratory reports: a value and a unit that
// cannot both be right.
func (s *sorting) believable(e *store.Statement) bool {
	wrong := e.Check()
	if wrong == nil {
		return true
	}
	q := wear.Question{Code: "value:" + e.Key, Text: store.Words(wrong) + " Ask the laboratory which it is."}
	for _, u := range store.ResultUnits(e.Kind) {
		other := *e
		if other.Unit = u; u != e.Unit && other.Check() == nil {
			q.Choices = append(q.Choices, wear.Choice{Value: u, Text: fmt.Sprintf("The number is right, and the unit is %s", u), Effect: fmt.Sprintf("%s %s is kept", e.Value, u)})
		}
	}
	q.Choices = append(q.Choices, wear.Choice{Value: "aside", Text: "Not known: leave it out", Effect: "this is not kept"})
	switch a := s.ask(q); a {
	case "", "aside":
		return false
	default:
		e.Note = strings.TrimLeft(fmt.Sprintf("%s; unit as sent %s, corrected to %s on the laboratory’s word", e.Note, e.Unit, a), "; ")
		e.Unit = a
		return true
	}
}

// timely asks about a sample that would be from before the patient was born, or
// from very long ago.
func (s *sorting) timely(e *store.Statement, p *store.Patient) bool {
	wrong := store.CheckTaken(e.Taken, p, s.Now().In(s.Zone))
	if wrong == nil {
		return true
	}
	return s.ask(wear.Question{Code: "date:" + e.Key, Text: fmt.Sprintf("%s %s of %s: %s Ask the laboratory.", e.Value, e.Unit, e.Taken.In(s.Zone).Format("2 January 2006"), store.Words(wrong)), Choices: []wear.Choice{
		{Value: "right", Text: "The date is right", Effect: "it is kept with this date"},
		{Value: "aside", Text: "It is not: leave it out", Effect: "this is not kept; enter it by hand with the right date"},
	}}) == "right"
}

// settles asks which of two values holds, where a laboratory sent another for
// the same result and did not call it a correction.
func (s *sorting) settles(e *store.Statement, other store.Statement) bool {
	had, now := other.Value+" "+other.Unit, e.Value+" "+e.Unit
	switch s.ask(wear.Question{Code: "changed:" + e.Key, Text: fmt.Sprintf("The laboratory sent %s before and now %s for the same result, and does not call it a correction. Which holds?", had, now), Choices: []wear.Choice{
		{Value: "now", Text: now + ", as this message says", Effect: "the other is taken back"},
		{Value: "before", Text: had + ", as before", Effect: "this one is left out"},
	}}) {
	case "now":
		e.Status = store.StatementCorrected
		if e.Issued.Before(other.Issued) { // of two the later holds
			e.Issued = other.Issued
		}
		return true
	}
	return false
}

// owner is whose statements are.
type owner struct {
	patient store.Patient
	nobody  bool   // nobody's on the register, as somebody said
	remark  string // what does not agree though it is theirs
}

// whose finds the patient whom a message means: by an identifier, and by name or
// birth date as well. What agrees with two patients, or with one by the
// identifier alone, is a question.
func (s *sorting) whose(ctx context.Context, i int) (owner, error) {
	p := &s.res.People[i]
	q := wear.Question{Code: "person:" + p.Key}
	if a := s.answers[q.Code]; a == store.Nobody {
		return owner{nobody: true}, nil
	} else if a != "" {
		patient, err := s.store.PatientByCode(ctx, a)
		if store.CodeOf(err) != store.NotFound {
			return owner{patient: patient}, err
		}
	}
	var named []store.Patient
	for _, id := range p.IDs {
		patient, err := s.store.PatientByCode(ctx, id)
		switch {
		case store.CodeOf(err) == store.NotFound:
		case err != nil:
			return owner{}, err
		case !slices.ContainsFunc(named, func(o store.Patient) bool { return o.ID == patient.ID }):
			named = append(named, patient)
		}
	}
	var born []store.Patient
	if p.Born != "" {
		var err error
		if born, err = s.store.Born(ctx, p.Born); err != nil {
			return owner{}, err
		}
	}
	if len(named) == 1 {
		if remark, ok := agree(p, named[0], born); ok {
			return owner{patient: named[0], remark: remark}, nil
		}
	}
	s.ask(askPerson(p, q, named, born))
	return owner{}, nil
}

// agree reports whether a message with a patient's identifier is that patient's,
// and what else it says that differs. The whole name must be the same, or the
// birth date with a given name that does not speak against it; and nobody else
// may fit both better.
func agree(p *lab.Person, patient store.Patient, born []store.Patient) (remark string, ok bool) {
	name, given := sameName(p, patient.Name), sameGiven(p, patient.Name)
	date := p.Born != "" && p.Born == patient.BirthDate
	for _, other := range born {
		if other.ID != patient.ID && sameName(p, other.Name) && !(name && date) {
			return "", false
		}
	}
	switch {
	case date && name:
		return "", true
	case date && given:
		if patient.Name != "" && p.Family != "" {
			remark = "the message has the name " + p.Name()
		}
		return remark, true
	case name:
		if p.Born != "" && patient.BirthDate != "" {
			remark = "the message has the birth date " + p.Born
		}
		return remark, true
	}
	return "", false
}

// words are a name's words without accents, marks and capitals.
func words(name string) []string {
	var b strings.Builder
	for _, r := range norm.NFKD.String(name) {
		switch {
		case unicode.IsLetter(r):
			b.WriteRune(unicode.ToLower(r))
		case unicode.Is(unicode.Mn, r), r == '\'', r == '’':
		default:
			b.WriteByte(' ')
		}
	}
	return strings.Fields(b.String())
}

// sameName reports whether family and given name both stand in the name on the
// register, and nothing of either is missing there.
func sameName(p *lab.Person, name string) bool {
	all, family, given := words(name), words(p.Family), words(p.Given)
	if len(family) == 0 || len(given) == 0 || len(all) < 2 {
		return false
	}
	for _, w := range append(family, given[0]) {
		i := slices.Index(all, w)
		if i < 0 {
			return false
		}
		all = slices.Delete(all, i, i+1)
	}
	return true
}

// sameGiven reports whether the given name does not speak against a name on the
// register: either is missing, or one word of it begins like it.
func sameGiven(p *lab.Person, name string) bool {
	given, all := words(p.Given), words(name)
	if len(given) == 0 || len(all) == 0 {
		return true
	}
	return slices.ContainsFunc(all, func(w string) bool { return strings.HasPrefix(w, given[0]) || strings.HasPrefix(given[0], w) })
}

// askPerson asks whose a message is, showing what it says and who is near it.
func askPerson(p *lab.Person, q wear.Question, named, born []store.Patient) wear.Question {
	said := []string{}
	if len(p.IDs) > 0 {
		said = append(said, "identifier "+strings.Join(p.IDs, ", "))
	}
	if n := p.Name(); n != "" {
		said = append(said, "name "+n)
	}
	if p.Born != "" {
		said = append(said, "born "+p.Born)
	}
	if len(said) == 0 {
		said = []string{"nothing at all"}
	}
	q.Text = "Whose laboratory result is this? The message says: " + strings.Join(said, "; ") + "."
	for _, list := range [][]store.Patient{named, born} {
		for _, who := range list {
			if len(q.Choices) < 5 && !slices.ContainsFunc(q.Choices, func(c wear.Choice) bool { return c.Value == who.Code }) {
				q.Choices = append(q.Choices, choiceOf(who, "its results are kept as this patient’s"))
			}
		}
	}
	q.Choices = append(q.Choices, wear.Choice{Value: store.Nobody, Text: "Nobody on the register", Effect: "its results are left out; tell the laboratory"})
	return q
}
