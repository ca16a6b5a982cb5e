// Package messages invents laboratory messages with known truth: HL7 v2.3 to
// 2.5.1 ORU^R01, alone and in batches, and FHIR R4 bundles. It is written from
// the published standards (HL7 v2 chapters 2 and 7; FHIR 4.0.1) and knows
// nothing of the reader that is measured against it. For tests only.
package messages

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Person is somebody on the practice's register, or not.
type Person struct {
	Code, Given, Family string
	Born                string // 2006-01-02
}

// Name is the name as the register has it.
func (p Person) Name() string { return p.Given + " " + p.Family }

// Fact is a result that must be on record in the end.
type Fact struct {
	Code, Kind, Value, Unit string
	Taken                   time.Time
}

// File is one file of messages.
type File struct {
	Name string
	Data []byte
}

// Set is what a laboratory sent and what is true.
type Set struct {
	Register []Person
	Files    []File // in the order in which they come
	Facts    []Fact // what must be on record in the end without an answer of anybody
	Open     []Fact // what may be, each in place of another until somebody has answered
	Messages int
	Kinds    map[string]int // messages by what is odd about them
}

// test is one test as laboratories report it.
type test struct {
	kind, loinc, text, unit, ucum string
	low, high                     float64
	digits                        int
}

// The codes are of STANDARDS and loinc.org's published names.
var tests = []test{
	{"hba1c", "59261-8", "HbA1c (IFCC)", "mmol/mol", "mmol/mol", 28, 60, 0},
	{"hba1c", "4548-4", "Hemoglobin A1c", "%", "%", 4.8, 7.4, 1},
	{"fasting_glucose", "14771-0", "Glucose fasting", "mmol/L", "mmol/L", 4, 7.5, 1},
	{"fasting_glucose", "1558-6", "Glucose fasting", "mg/dL", "mg/dL", 72, 130, 0},
	{"random_glucose", "14749-6", "Glucose", "mmol/L", "mmol/L", 4, 12, 1},
	{"random_glucose", "2345-7", "Glucose", "mg/dL", "mg/dL", 75, 180, 0},
	{"ogtt_2h", "14995-5", "Glucose 2 h post 75 g", "mmol/L", "mmol/L", 4, 12, 1},
	{"c_peptide", "1986-9", "C-peptide", "ng/mL", "ng/mL", 0.8, 4, 1},
}

var lipids = []test{
	{"cholesterol", "14647-2", "Cholesterol", "mmol/L", "mmol/L", 3, 8, 1},
	{"hdl", "14646-4", "HDL cholesterol", "mmol/L", "mmol/L", 0.7, 2.2, 2},
	{"ldl", "39469-2", "LDL cholesterol (calc)", "mmol/L", "mmol/L", 1, 5, 1},
	{"triglycerides", "14927-8", "Triglycerides", "mmol/L", "mmol/L", 0.4, 4, 1},
}

// others are what stands beside them and is not kept.
var others = []test{
	{"", "2951-2", "Sodium", "mmol/L", "mmol/L", 133, 146, 0},
	{"", "718-7", "Hemoglobin", "g/L", "g/L", 110, 170, 0},
	{"", "6690-2", "Leukocytes", "10*9/L", "10*9/L", 3, 11, 1},
}

// odd are the ways in which a message can be odd, with their share in percent.
var odd = []struct {
	name  string
	share int
}{
	{"plain", 48}, {"repeated", 8}, {"corrected", 8}, {"cancelled", 4}, {"preliminary first", 5}, {"preliminary only", 2},
	{"wrong unit", 4}, {"unit missing", 2}, {"unknown patient", 5}, {"another's identifier", 4}, {"wrong birth date", 4}, {"no birth date", 3},
	{"twin", 1}, {"test message", 1}, {"changed, not corrected", 1},
}

// Make invents at least n messages.
func Make(seed uint64, n int) *Set {
	g := &maker{r: rand.New(rand.NewPCG(seed, 7)), set: &Set{Kinds: map[string]int{}}, now: time.Date(2026, 3, 1, 8, 0, 0, 0, time.UTC)}
	g.register(n / 4)
	var share []int
	for i, o := range odd {
		for range o.share {
			share = append(share, i)
		}
	}
	for g.set.Messages < n {
		g.order(odd[share[g.r.IntN(len(share))]].name)
	}
	g.flush()
	g.r.Shuffle(len(g.set.Files), func(i, j int) { g.set.Files[i], g.set.Files[j] = g.set.Files[j], g.set.Files[i] })
	return g.set
}

type maker struct {
	r      *rand.Rand
	set    *Set
	now    time.Time
	serial int
	batch  []string
}

var syllables = strings.Fields("ba be bo da de do ka ke ko la le lo ma me mo na ne no ra re ro sa se so ta te to va ve vo za zu")

func (g *maker) word() string {
	n, s := 2+g.r.IntN(2), ""
	for range n {
		s += syllables[g.r.IntN(len(syllables))]
	}
	return strings.ToUpper(s[:1]) + s[1:] + []string{"n", "l", "r", ""}[g.r.IntN(4)]
}

func (g *maker) person(code string) Person {
	born := time.Date(1940+g.r.IntN(60), time.Month(1+g.r.IntN(12)), 1+g.r.IntN(28), 0, 0, 0, 0, time.UTC)
	return Person{code, g.word(), g.word(), born.Format(time.DateOnly)}
}

// register invents who is known, with twins: the same birth date and family
// name under two codes.
func (g *maker) register(n int) {
	for i := range max(n, 20) {
		p := g.person(fmt.Sprintf("P-%05d", 10_000+7*i))
		if i%10 == 9 {
			before := g.set.Register[i-1]
			p.Family, p.Born = before.Family, before.Born
			p.Given = "X" + strings.ToLower(p.Given)
		}
		g.set.Register = append(g.set.Register, p)
	}
}

// order is one order at the laboratory and all messages about it.
func (g *maker) order(what string) {
	who := g.set.Register[g.r.IntN(len(g.set.Register))]
	m := g.message(who)
	g.set.Kinds[what]++
	switch what {
	case "plain":
		g.send(m)
	case "repeated":
		raw := g.send(m)
		if g.r.IntN(2) == 0 {
			g.file(raw) // the same bytes under another name
		} else {
			m.sent = m.sent.Add(time.Hour)
			g.send(m)
		}
	case "corrected":
		g.send(m)
		m.sent, m.status = m.sent.Add(26*time.Hour), "C"
		for i := range m.results {
			m.results[i].value = g.value(m.results[i].test)
		}
		g.send(m)
	case "cancelled":
		g.send(m)
		m.sent, m.status = m.sent.Add(26*time.Hour), []string{"X", "D"}[g.r.IntN(2)]
		g.send(m)
		return
	case "preliminary first":
		m.status = "P"
		final := m
		final.results = slices.Clone(m.results)
		g.send(m)
		final.sent, final.status = m.sent.Add(5*time.Hour), "F"
		for i := range final.results {
			final.results[i].value = g.value(final.results[i].test)
		}
		m = final
		g.send(m)
	case "preliminary only":
		m.status = "P"
		g.send(m)
		return
	case "wrong unit", "unit missing":
		m.results = m.results[:1]
		t := &m.results[0]
		t.test = tests[g.r.IntN(4)] // those whose two units cannot be mistaken for each other
		t.value = g.value(t.test)
		t.unit = map[string]string{"mmol/mol": "%", "%": "mmol/mol", "mmol/L": "mg/dL", "mg/dL": "mmol/L"}[t.unit]
		if what == "unit missing" {
			t.unit = ""
		}
		t.ucum = t.unit
		g.send(m)
		return
	case "unknown patient":
		m.who = g.person(fmt.Sprintf("P-%05d", 70_000+g.r.IntN(9_000)))
		g.send(m)
		return
	case "another's identifier":
		other := g.person(who.Code)
		m.who = other
		g.send(m)
		return
	case "wrong birth date":
		born, _ := time.Parse(time.DateOnly, who.Born)
		m.who.Born = born.AddDate(0, 1, 3).Format(time.DateOnly)
		g.send(m)
	case "no birth date":
		m.who.Born = ""
		g.send(m)
	case "twin": // the code of one and the name of the other
		i := g.r.IntN(len(g.set.Register)/10)*10 + 9
		one, two := g.set.Register[i-1], g.set.Register[i]
		m.who = two
		m.who.Code = one.Code
		g.send(m)
		return
	case "test message":
		m.training, m.fhir = true, false
		g.send(m)
		return
	case "changed, not corrected":
		m.results = m.results[:1] // which of the two holds is for a person to say
		for i, before := 0, ""; i < 2; i++ {
			for m.results[0].value == before {
				m.results[0].value = g.value(m.results[0].test)
			}
			before = m.results[0].value
			g.file(g.write(m))
			g.set.Messages++
			g.set.Open = append(g.set.Open, Fact{who.Code, m.results[0].kind, before, m.results[0].unit, m.taken})
			m.sent = m.sent.Add(3 * time.Hour)
		}
		return
	}
	for _, r := range m.results {
		if r.kind != "" {
			g.set.Facts = append(g.set.Facts, Fact{who.Code, r.kind, r.value, r.unit, m.taken})
		}
	}
}

type result struct {
	test
	value string
}

type message struct {
	who         Person
	version     string
	order       string
	taken, sent time.Time
	status      string
	results     []result
	comment     string
	fhir        bool
	training    bool
}

func (g *maker) value(t test) string {
	v := strconv.FormatFloat(t.low+(t.high-t.low)*g.r.Float64(), 'f', t.digits, 64)
	return v
}

func (g *maker) message(who Person) message {
	g.serial++
	g.now = g.now.Add(time.Duration(1+g.r.IntN(9)) * time.Minute)
	m := message{
		who: who, order: fmt.Sprintf("LB%07d", g.serial), status: "F", taken: g.now.Add(-time.Duration(20+g.r.IntN(2000)) * time.Minute).Truncate(time.Minute),
		sent: g.now, version: []string{"2.3", "2.3.1", "2.4", "2.5", "2.5.1"}[g.r.IntN(5)], fhir: g.r.IntN(4) == 0,
	}
	switch g.r.IntN(5) {
	case 0:
		for _, t := range lipids {
			m.results = append(m.results, result{t, g.value(t)})
		}
	case 1:
		for _, i := range g.r.Perm(3)[:2] {
			t := tests[2*i]
			m.results = append(m.results, result{t, g.value(t)})
		}
	default:
		t := tests[g.r.IntN(len(tests))]
		m.results = append(m.results, result{t, g.value(t)})
	}
	if t := &m.results[0]; strings.Contains(t.kind, "glucose") && g.r.IntN(12) == 0 {
		t.value = ">" + strconv.FormatFloat(t.high*1.5, 'f', t.digits, 64)
	}
	if g.r.IntN(3) == 0 {
		t := others[g.r.IntN(len(others))]
		m.results = append(m.results, result{t, g.value(t)})
	}
	if g.r.IntN(5) == 0 {
		m.comment = "Sample received late; result to be read with care & caution."
	}
	return m
}

// send writes a message, alone or into a batch, and gives it as written.
func (g *maker) send(m message) string {
	raw := g.write(m)
	g.set.Messages++
	if !m.fhir && g.r.IntN(4) == 0 {
		if g.batch = append(g.batch, raw); len(g.batch) >= 4+g.r.IntN(12) {
			g.flush()
		}
		return raw
	}
	g.file(raw)
	return raw
}

func (g *maker) file(raw string) {
	g.serial++
	ext := ".hl7"
	if strings.HasPrefix(raw, "{") {
		ext = ".json"
	}
	g.set.Files = append(g.set.Files, File{fmt.Sprintf("lab %06d%s", g.serial, ext), []byte(raw)})
}

// flush writes a batch: FHS, BHS, the messages, BTS with their number, FTS.
func (g *maker) flush() {
	if len(g.batch) == 0 {
		return
	}
	at := g.now.Format("20060102150405")
	s := "FHS|^~\\&|LABSYS|LAB|||" + at + "\rBHS|^~\\&|LABSYS|LAB|||" + at + "\r" + strings.Join(g.batch, "") +
		"BTS|" + strconv.Itoa(len(g.batch)) + "\rFTS|1\r"
	g.batch = nil
	g.file(s)
}

func (g *maker) write(m message) string {
	if m.fhir {
		return g.writeFHIR(m)
	}
	return g.writeHL7(m)
}

// hl7 escapes the characters that separate.
var hl7 = strings.NewReplacer(`\`, `\E\`, "|", `\F\`, "^", `\S\`, "&", `\T\`, "~", `\R\`)

func (g *maker) writeHL7(m message) string {
	const stamp = "200601021504-0700"
	processing := "P"
	if m.training {
		processing = "T"
	}
	g.serial++
	born := strings.ReplaceAll(m.who.Born, "-", "")
	msh := fmt.Sprintf(`MSH|^~\&|LABSYS|LAB|||%s||ORU^R01|M%07d|%s|%s`, m.sent.Format("20060102150405-0700"), g.serial, processing, m.version)
	ids := m.who.Code + "^^^PRACTICE^PI"
	if g.r.IntN(3) == 0 {
		ids = "990" + strconv.Itoa(100000+g.r.IntN(900000)) + "^^^LAB^MR~" + ids
	}
	pid := fmt.Sprintf("PID|1||%s||%s^%s||%s|U", ids, strings.ToUpper(hl7.Replace(m.who.Family)), hl7.Replace(m.who.Given), born)
	head := []string{pid}
	for _, s := range []string{"PV1|1|O", "PD1||||", "NK1|1|SAMPLE^RELATIVE"} {
		if g.r.IntN(4) == 0 {
			head = append(head, s)
		}
	}
	if g.r.IntN(6) == 0 {
		g.r.Shuffle(len(head), func(i, j int) { head[i], head[j] = head[j], head[i] })
	}
	panel := "Blood tests"
	if len(m.results) == 1 {
		panel = m.results[0].text
	}
	orc := "ORC|RE|PL" + m.order + "|" + m.order
	obr := fmt.Sprintf("OBR|1|PL%s|%s|PANEL^%s^L|||%s|||||||||||||||%s||LAB|%s", m.order, m.order, hl7.Replace(panel),
		m.taken.Format(stamp), m.sent.Format(stamp), map[string]string{"P": "P", "C": "C", "X": "X", "D": "X"}[m.status]+map[bool]string{true: "F"}[m.status == "F"])
	order := []string{orc, obr}
	if g.r.IntN(5) == 0 {
		order = []string{obr, orc}
	}
	var obx []string
	for i, r := range m.results {
		kind, value := "NM", r.value
		if v, ok := strings.CutPrefix(value, ">"); ok {
			if kind = "SN"; g.r.IntN(2) == 0 {
				kind, value = "ST", "> "+v
			} else {
				value = ">^" + v
			}
		}
		id := r.loinc + "^" + hl7.Replace(r.text) + "^LN"
		if g.r.IntN(4) == 0 {
			id = strings.ToUpper(r.text[:3]) + "^" + hl7.Replace(r.text) + "^L^" + id
		}
		if m.status == "X" || m.status == "D" {
			value = ""
		}
		obx = append(obx, fmt.Sprintf("OBX|%d|%s|%s||%s|%s|||||%s|||%s", i+1, kind, id, value, r.ucum, m.status,
			map[bool]string{true: m.taken.Format(stamp)}[g.r.IntN(2) == 0]))
	}
	if g.r.IntN(4) == 0 {
		g.r.Shuffle(len(obx), func(i, j int) { obx[i], obx[j] = obx[j], obx[i] })
	}
	if m.comment != "" {
		at := g.r.IntN(len(obx))
		obx[at] += "\rNTE|1|L|" + hl7.Replace(m.comment)
	}
	segments := slices.Concat([]string{msh}, head, order, obx)
	if m.version >= "2.5" && g.r.IntN(2) == 0 {
		segments = append(segments, "SPM|1|||BLD|||||||||||||"+m.taken.Format(stamp))
	}
	if g.r.IntN(6) == 0 {
		segments = append(segments, "ZLB|1|"+g.word())
	}
	return strings.Join(segments, "\r") + "\r"
}

type object = map[string]any

func (g *maker) writeFHIR(m message) string {
	status := map[string]string{"F": "final", "C": "corrected", "P": "preliminary", "X": "cancelled", "D": "entered-in-error"}[m.status]
	ref := object{"reference": "urn:uuid:patient-" + m.order}
	patient := object{
		"resourceType": "Patient", "identifier": []any{object{"system": "https://practice.invalid/id", "value": m.who.Code}},
		"name": []any{object{"family": m.who.Family, "given": []string{m.who.Given}}},
	}
	if m.who.Born != "" {
		patient["birthDate"] = m.who.Born
	}
	var entries, members []any
	for i, r := range m.results {
		id := m.order + "-" + r.loinc
		o := object{
			"resourceType": "Observation", "status": status, "identifier": []any{object{"system": "https://lab.invalid/result", "value": id}},
			"category": []any{object{"coding": []any{object{"system": "http://terminology.hl7.org/CodeSystem/observation-category", "code": "laboratory"}}}},
			"code":     object{"coding": []any{object{"system": "http://loinc.org", "code": r.loinc, "display": r.text}}},
			"subject":  ref, "effectiveDateTime": m.taken.Format(time.RFC3339), "issued": m.sent.Format(time.RFC3339),
		}
		if m.status != "X" && m.status != "D" {
			q := object{"value": json.Number(strings.TrimPrefix(r.value, ">")), "unit": r.unit}
			if r.ucum != "" {
				q["system"], q["code"] = "http://unitsofmeasure.org", r.ucum
			}
			if r.value[0] == '>' {
				q["comparator"] = ">"
			}
			o["valueQuantity"] = q
		} else {
			o["dataAbsentReason"] = object{"coding": []any{object{"system": "http://terminology.hl7.org/CodeSystem/data-absent-reason", "code": "not-performed"}}}
		}
		if i == 0 && m.comment != "" {
			o["note"] = []any{object{"text": m.comment}}
		}
		url := "urn:uuid:" + id
		entries = append(entries, object{"fullUrl": url, "resource": o})
		members = append(members, object{"reference": url})
	}
	report := object{
		"resourceType": "DiagnosticReport", "status": status, "subject": ref, "issued": m.sent.Format(time.RFC3339), "result": members,
		"code": object{"text": "Blood tests"}, "identifier": []any{object{"system": "https://lab.invalid/report", "value": m.order}},
	}
	entries = append(entries, object{"fullUrl": "urn:uuid:report-" + m.order, "resource": report},
		object{"fullUrl": "urn:uuid:patient-" + m.order, "resource": patient})
	g.r.Shuffle(len(entries), func(i, j int) { entries[i], entries[j] = entries[j], entries[i] })
	b, err := json.Marshal(object{"resourceType": "Bundle", "type": "collection", "entry": entries})
	if err != nil {
		panic(err) // made of our own values
	}
	return string(b)
}
