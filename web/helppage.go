package web

import (
	"net/url"
	"strconv"
)

// HelpPage says what each screen is for, where to look and which keys there are.
type HelpPage struct{ Layout }

// TourPage is one step of the way through a practice.
type TourPage struct {
	Layout
	Step   int   // from 1; see [ParseStep]
	WearID int64 // of the first wear on the round, or 0 while there is none
}

func (HelpPage) view() (set, block string) { return "help", "page" }

func (TourPage) view() (set, block string) { return "tour", "page" }

// helpTopics are the parts of the help page by the set of templates that leads
// to each. The others lead to its top.
var helpTopics = map[string]string{
	"round": "round", "wear": "wear", "call": "call", "wordspage": "words", "outcome": "outcome", "recalls": "recalls", "sheet": "sheet", "settings": "settings", "outbox": "outbox", "printrun": "outbox", "twoweeks": "outbox",
	"out": "out", "handout": "out", "start": "out",
	"letters": "letters", "newletter": "letters", "letter": "letters", "sent": "letters", "template": "letters",
	"files": "files", "names": "names", "recipes": "recipes", "recipe": "recipes",
	"register": "patients", "patient": "patients", "patientform": "patients", "import": "patients", "merge": "patients",
	"people": "people", "account": "account", "factor": "account", "codes": "account", "log": "log", "audit": "audit",
	"about": "about", "look": "about", "protocol": "protocol", "protocoldraft": "protocol", "protocolversion": "protocol", "whatif": "protocol", "system": "the-system", "tour": "tour",
}

// helpAddress is where help with the pages of a set of templates stands.
func helpAddress(set string) string {
	if topic := helpTopics[set]; topic != "" {
		return "/help#" + topic
	}
	return "/help"
}

// TourStep is one stop of the tour.
type TourStep struct {
	Title string
	Text  []string // paragraphs
	Go    string   // words of the link to the page itself, or "" where there is none to go to yet
	To    string   // its address
}

// tour is the way through the program, from a file's arrival to the year's end.
func (p TourPage) tour() []TourStep {
	wear, noWear := "/", "It opens from the round once a wear has come."
	if p.WearID != 0 {
		wear, noWear = wearAddress(p.WearID, Window{}), ""
	}
	return []TourStep{
		{"The round", []string{"Every wear that waits for a person, the most pressing first. A row has a column for each day, the finding in one sentence, when it is due and whose work it is.", "Above the list stands in words what is shown and what is not. The list changes by itself as files are read."}, "Open the round", "/"},
		{"Why here", []string{"Each row has a sum that makes its place: tier first, then days past due, then points. Open “Why here” in a row and check it by hand.", "Doubt about the data never lowers a place; it is said in words beside it."}, "Look at the sums", "/#rows"},
		{"Claim the next", []string{"The dark button takes the most pressing wear that nobody has. It is yours for half an hour, and stays yours while you work; others see it. You can give it back."}, "Try it on the round", "/"},
		{"A wear: the finding first", []string{"The sentence on top is the finding. Beneath it stand the wearer’s words, the three most pressing pieces of evidence and the whole trace; the rest is folded, a question each. Each flag leads to its definition and its source.", noWear}, "Open the first wear", wear},
		{"The tracks", []string{"Value, evidence and context on one ruler of time. Gaps stay gaps; readings that are not believed are hatched with the reason and left out of every measure. The strip above them and the keys choose the days.", "If you know better, say so under “Believe or doubt a stretch”: the report is made anew, and the measures without your word stay visible."}, "Look at the tracks", wear + "#tracks"},
		{"Ring and ask", []string{"With a claimed wear, “Ring and ask” opens a sheet that begins with the red flags and asks about the very episodes found: what was felt, when, and what helped. The answers work the place out anew at once."}, "See what there is to do", wear + "#work"},
		{"An outcome, and what must follow", []string{"A wear leaves the round only by an outcome. Each says what must follow: a letter, a recall, a clinician. It can be undone for 30 seconds and corrected later; nothing is deleted. Routine wears of which nothing stands against it are told so together, on the routine sheet.", "A recall stays until it is met. It is the practice’s promise."}, "See the recalls", "/recalls"},
		{"Letters", []string{"Written from the finding, in words that most people read without effort, with one measurement at most. Somebody reads each before it goes; it is kept as sent; the outbox prints those that go by post. Nothing leaves this computer by itself."}, "See the letters’ texts", "/letters"},
		{"Held files", []string{"A file is never filed on a guess. What its values do not settle is asked, with rows of the file as each answer would read them. The next file of that layout then files itself."}, "See the held files", FilesFilter{Fate: "held"}.Address()},
		{"By what limits, and is it all there?", []string{"The protocol lists every limit with its source and how sure it is. It ships as an unsigned proposal: a clinician of the practice must agree to it.", "The line at the top says when the folder was last looked at. If that stops, every page says so: a standing worker never looks like an empty list."}, "Read the protocol", "/protocol"},
	}
}

// Steps is how many stops the tour has.
func (p TourPage) Steps() int { return len(p.tour()) }

// Here is the stop that is shown.
func (p TourPage) Here() TourStep {
	steps := p.tour()
	return steps[min(max(p.Step, 1), len(steps))-1]
}

// Stops are links to all stops.
func (p TourPage) Stops() []Link {
	var out []Link
	for i, s := range p.tour() {
		out = append(out, Link{Words: s.Title, Address: stepAddress(i + 1), Current: i+1 == p.Step})
	}
	return out
}

// Before and After are the stops on either side, or "".
func (p TourPage) Before() string { return p.stop(p.Step - 1) }

// After is the next stop, or "".
func (p TourPage) After() string { return p.stop(p.Step + 1) }

func (p TourPage) stop(n int) string {
	if n < 1 || n > p.Steps() {
		return ""
	}
	return stepAddress(n)
}

func stepAddress(n int) string { return "/help/tour?step=" + strconv.Itoa(n) }

// ParseStep reads the query of the tour's address. What it does not know is the
// first step.
func ParseStep(q url.Values) int {
	n, err := strconv.Atoi(q.Get("step"))
	if err != nil || n < 1 || n > (TourPage{}).Steps() {
		return 1
	}
	return n
}
