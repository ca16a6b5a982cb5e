package worker

import (
	"context"
	"flag"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/store"
	"wearround/worker/lab/messages"
)

var labMessages = flag.Int("messages", 400, "laboratory messages that TestLaboratory invents; 2000 is the whole run")

// TestLaboratory sends invented messages of a known truth through the watched
// folder: nothing may be on record that is not true, and what can be matched
// must be, at least nine times of ten.
func TestLaboratory(t *testing.T) {
	for seed := range uint64(2) {
		set := messages.Make(seed+1, *labMessages/2)
		b := newBench(t)
		b.register(set.Register)
		for _, f := range set.Files {
			write(t, b.Drop, f.Name, string(f.Data))
		}
		b.settleAndLook()
		b.settleAndLook()

		got, open := map[string]int{}, map[string]bool{}
		for _, f := range set.Open {
			open[factOf(f)] = true
		}
		wrong, missing := 0, 0
		want := map[string]int{}
		for _, f := range set.Facts {
			want[factOf(f)]++
		}
		for _, p := range set.Register {
			for _, f := range b.onRecord(p.Code) {
				got[f]++
				if want[f] == 0 && !open[f] {
					wrong++
					t.Errorf("seed %d: %s is on record and not true", seed+1, f)
				}
				if got[f] > max(want[f], 1) {
					wrong++
					t.Errorf("seed %d: %s is on record twice", seed+1, f)
				}
			}
		}
		for f, n := range want {
			if got[f] < n {
				missing += n - got[f]
				t.Logf("seed %d: %s is not on record", seed+1, f)
			}
		}
		share := 100 * float64(len(set.Facts)-missing) / float64(len(set.Facts))
		t.Logf("seed %d: %d messages in %d files, %d results to match: %.1f %% matched by themselves, %d wrong; %v",
			seed+1, set.Messages, len(set.Files), len(set.Facts), share, wrong, set.Kinds)
		if share < 90 {
			t.Errorf("seed %d: only %.1f %% matched by themselves", seed+1, share)
		}
		fates := map[store.Fate]int{}
		for offset := 0; ; offset += 200 {
			page, err := b.store.Drops(context.Background(), store.DropQuery{Offset: offset, Limit: 200})
			if err != nil {
				t.Fatal(err)
			}
			if len(page.Rows) == 0 {
				break
			}
			for _, d := range page.Rows {
				fates[d.Fate]++
				if d.Fate == store.Refused {
					t.Errorf("seed %d: %s was refused: %s", seed+1, d.Path, d.Reason)
				}
				if d.File != nil && !d.File.Account.Balanced() {
					t.Errorf("seed %d: the account of %s does not balance", seed+1, d.Path)
				}
			}
		}
		t.Logf("seed %d: files %v", seed+1, fates)
	}
}

func factOf(f messages.Fact) string {
	return fmt.Sprintf("%s %s %s %s %s", f.Code, f.Kind, f.Value, f.Unit, f.Taken.UTC().Format(time.RFC3339))
}

// register puts people on the register.
func (b *bench) register(people []messages.Person) {
	b.t.Helper()
	var list []store.Patient
	for _, p := range people {
		list = append(list, store.Patient{Code: p.Code, Name: p.Name(), BirthDate: p.Born})
	}
	if err := b.store.AddPatients(context.Background(), list); err != nil {
		b.t.Fatal(err)
	}
}

// onRecord gives the results of a patient that count.
func (b *bench) onRecord(code string) (list []string) {
	b.t.Helper()
	p, err := b.store.PatientByCode(context.Background(), code)
	if err != nil {
		b.t.Fatal(err)
	}
	results, err := b.store.Results(context.Background(), p.ID)
	if err != nil {
		b.t.Fatal(err)
	}
	for _, r := range results {
		if r.Withdrawn.IsZero() {
			list = append(list, factOf(messages.Fact{Code: code, Kind: string(r.Kind), Value: r.Value, Unit: r.Unit, Taken: r.TakenAt}))
		}
	}
	slices.Sort(list)
	return list
}

// hl7 is one invented message.
func hl7(parts map[string]string) string {
	v := map[string]string{
		"msh": `MSH|^~\&|LABSYS|LAB|||20260310090000+0000||ORU^R01|M1|P|2.4`, "pid": "PID|1||P-0417^^^PRACTICE^PI||TAVO^MIRA||19610503|F",
		"obr": "OBR|1|PL1|FI1|X^Blood tests^L|||202603090815+0000", "obx": "OBX|1|NM|59261-8^HbA1c^LN||44|mmol/mol|||||F",
	}
	maps.Copy(v, parts)
	return strings.Join([]string{v["msh"], v["pid"], v["obr"], v["obx"]}, "\r") + "\r"
}

func TestMessages(t *testing.T) {
	mira := []messages.Person{{Code: "P-0417", Given: "Mira", Family: "Tavo", Born: "1961-05-03"}, {Code: "P-0500", Given: "Nela", Family: "Sorin", Born: "1970-01-02"}}
	const first = "P-0417 hba1c 44 mmol/mol 2026-03-09T08:15:00Z"
	later := `MSH|^~\&|LABSYS|LAB|||20260311090000+0000||ORU^R01|M2|P|2.4`
	for name, tt := range map[string]struct {
		files   []string
		answers map[string]string // by the code of the question, up to a colon
		want    []string
		asks    string // code of a question that stays open
	}{
		"plain":                           {files: []string{hl7(nil)}, want: []string{first}},
		"line feeds and transport frames": {files: []string{"\x0b" + strings.ReplaceAll(hl7(nil), "\r", "\r\n") + "\x1c\r"}, want: []string{first}},
		"name by marriage":                {files: []string{hl7(map[string]string{"pid": "PID|1||P-0417||OTHER^MIRA||19610503"})}, want: []string{first}},
		"accents and case":                {files: []string{hl7(map[string]string{"pid": "PID|1||p-0417||Távo^Míra"})}, want: []string{first}},
		"another's name":                  {files: []string{hl7(map[string]string{"pid": "PID|1||P-0417||SORIN^NELA||19700102"})}, asks: "person"},
		"identifier alone":                {files: []string{hl7(map[string]string{"pid": "PID|1||P-0417"})}, asks: "person"},
		"name and birth date alone":       {files: []string{hl7(map[string]string{"pid": "PID|1||||TAVO^MIRA||19610503"})}, asks: "person"},
		"two identifiers":                 {files: []string{hl7(map[string]string{"pid": "PID|1||P-0417~P-0500||TAVO^MIRA||19610503"})}, asks: "person"},
		"whose, answered":                 {files: []string{hl7(map[string]string{"pid": "PID|1||P-0417"})}, answers: map[string]string{"person": "P-0417"}, want: []string{first}},
		"nobody's, answered":              {files: []string{hl7(map[string]string{"pid": "PID|1||P-0417"})}, answers: map[string]string{"person": store.Nobody}},
		"corrected, later":                {files: []string{hl7(nil), hl7(map[string]string{"msh": later, "obx": "OBX|1|NM|59261-8^HbA1c^LN||46|mmol/mol|||||C"})}, want: []string{strings.Replace(first, "44", "46", 1)}},
		"corrected, sooner":               {files: []string{hl7(map[string]string{"msh": later, "obx": "OBX|1|NM|59261-8^HbA1c^LN||46|mmol/mol|||||C"}), hl7(nil)}, want: []string{strings.Replace(first, "44", "46", 1)}},
		"cancelled":                       {files: []string{hl7(nil), hl7(map[string]string{"msh": later, "obx": "OBX|1|NM|59261-8^HbA1c^LN||||||||X"})}},
		"cancelled, sooner":               {files: []string{hl7(map[string]string{"msh": later, "obx": "OBX|1|NM|59261-8^HbA1c^LN||||||||D"}), hl7(nil)}},
		"changed without a word":          {files: []string{hl7(nil), hl7(map[string]string{"msh": later, "obx": "OBX|1|NM|59261-8^HbA1c^LN||46|mmol/mol|||||F"})}, want: []string{first}, asks: "changed"},
		"changed, answered":               {files: []string{hl7(nil), hl7(map[string]string{"msh": later, "obx": "OBX|1|NM|59261-8^HbA1c^LN||46|mmol/mol|||||F"})}, answers: map[string]string{"changed": "now"}, want: []string{strings.Replace(first, "44", "46", 1)}},
		"preliminary":                     {files: []string{hl7(map[string]string{"obx": "OBX|1|NM|59261-8^HbA1c^LN||44|mmol/mol|||||P"})}, asks: "preliminary"},
		"preliminary, then final":         {files: []string{hl7(map[string]string{"obx": "OBX|1|NM|59261-8^HbA1c^LN||43|mmol/mol|||||P"}), hl7(map[string]string{"msh": later})}, want: []string{first}},
		"wrong unit":                      {files: []string{hl7(map[string]string{"obx": "OBX|1|NM|59261-8^HbA1c^LN||44|%|||||F"})}, asks: "value"},
		"wrong unit, answered":            {files: []string{hl7(map[string]string{"obx": "OBX|1|NM|59261-8^HbA1c^LN||44|%|||||F"})}, answers: map[string]string{"value": "mmol/mol"}, want: []string{first}},
		"no unit":                         {files: []string{hl7(map[string]string{"obx": "OBX|1|NM|59261-8^HbA1c^LN||44||||||F"})}, asks: "unit"},
		"no number":                       {files: []string{hl7(map[string]string{"obx": "OBX|1|ST|59261-8^HbA1c^LN||haemolysed|mmol/mol|||||F"})}, asks: "value"},
		"no day":                          {files: []string{hl7(map[string]string{"obr": "OBR|1|PL1|FI1|X^Blood tests^L"})}, asks: "taken"},
		"of the future":                   {files: []string{hl7(map[string]string{"obr": "OBR|1|PL1|FI1|X^Blood tests^L|||203603090815"})}, asks: "taken"},
		"before the patient was born":     {files: []string{hl7(map[string]string{"obr": "OBR|1|PL1|FI1|X^Blood tests^L|||196103090815+0000"})}, asks: "date"},
		"of very long ago, answered":      {files: []string{hl7(map[string]string{"obr": "OBR|1|PL1|FI1|X^Blood tests^L|||198603090815+0000"})}, answers: map[string]string{"date": "right"}, want: []string{"P-0417 hba1c 44 mmol/mol 1986-03-09T08:15:00Z"}},
		"of very long ago, left out":      {files: []string{hl7(map[string]string{"obr": "OBR|1|PL1|FI1|X^Blood tests^L|||198603090815+0000"})}, answers: map[string]string{"date": "aside"}},
		"local code":                      {files: []string{hl7(map[string]string{"obx": "OBX|1|NM|GLYC^Glycated Hb^L||44|mmol/mol|||||F"})}, asks: "test"},
		"local code, answered":            {files: []string{hl7(map[string]string{"obx": "OBX|1|NM|GLYC^Glycated Hb^L||44|mmol/mol|||||F"})}, answers: map[string]string{"test": "hba1c"}, want: []string{first}},
		"glucose, fasting or not": {files: []string{hl7(map[string]string{"obr": "OBR|1|PL1|FI1|X^Fasting glucose^L|||202603090815+0000",
			"obx": "OBX|1|NM|14749-6^Glucose^LN||6.1|mmol/L|||||F"})}, asks: "test"},
		"beyond a bound": {files: []string{hl7(map[string]string{"obx": "OBX|1|SN|14749-6^Glucose^LN||>=^33.3|mmol/L|||||F"})}, want: []string{"P-0417 random_glucose >=33.3 mmol/L 2026-03-09T08:15:00Z"}},
		"the unit in another spelling": {files: []string{hl7(map[string]string{"obx": "OBX|1|NM|20448-7^Insulin^LN||8.2|u[IU]/mL|||||F"})},
			want: []string{"P-0417 insulin_untimed 8.2 mU/L 2026-03-09T08:15:00Z"}},
		"training":               {files: []string{hl7(map[string]string{"msh": strings.Replace(later, "|P|", "|T|", 1)})}},
		"FHIR":                   {files: []string{fhirResult}, want: []string{"P-0417 hba1c 5.90 % 2026-03-09T08:15:00Z"}},
		"FHIR, entered in error": {files: []string{fhirResult, strings.Replace(strings.Replace(fhirResult, `"final"`, `"entered-in-error"`, 1), "2026-03-10T", "2026-03-11T", 1)}},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t)
			b.register(mira)
			for i, f := range tt.files {
				write(t, b.Drop, fmt.Sprintf("m%d.msg", i), f)
				b.settleAndLook()
			}
			b.answerEach(tt.answers)
			b.settleAndLook()
			got := append(b.onRecord("P-0417"), b.onRecord("P-0500")...)
			if !slices.Equal(got, tt.want) {
				t.Errorf("on record: %q, want %q", got, tt.want)
			}
			asks := b.asks()
			if tt.asks == "" && len(asks) > 0 || tt.asks != "" && !slices.ContainsFunc(asks, func(c string) bool { return strings.HasPrefix(c, tt.asks) }) {
				t.Errorf("asks %q, want %q", asks, tt.asks)
			}
			for path, d := range b.drops() {
				if d.Fate == store.Refused && name != "training" {
					t.Errorf("%s was refused: %s", path, d.Reason)
				}
			}
		})
	}
}

const fhirResult = `{"resourceType":"DiagnosticReport","status":"final","code":{"text":"Bloods"},"subject":{"reference":"#p"},"issued":"2026-03-10T09:00:00Z","result":[{"reference":"#o"}],
"contained":[{"resourceType":"Patient","id":"p","identifier":[{"value":"P-0417"}],"name":[{"family":"Tavo","given":["Mira"]}]},
{"resourceType":"Observation","id":"o","status":"final","code":{"coding":[{"system":"http://loinc.org","code":"4548-4"}]},"effectiveDateTime":"2026-03-09T08:15:00Z",
"valueQuantity":{"value":5.90,"unit":"%","system":"http://unitsofmeasure.org","code":"%"}}],"identifier":[{"system":"https://lab.invalid/r","value":"R1"}]}`

// asks are the codes of the questions that are open.
func (b *bench) asks() (codes []string) {
	for _, d := range b.drops() {
		if d.File != nil && d.Fate == store.Held {
			for _, q := range d.File.Questions {
				codes = append(codes, q.Code)
			}
		}
	}
	return codes
}

// answerEach answers what is asked, by the beginning of the question's code.
func (b *bench) answerEach(by map[string]string) {
	b.t.Helper()
	for _, d := range b.drops() {
		if d.Fate != store.Held {
			continue
		}
		given := map[string]string{}
		for _, q := range d.File.Questions {
			if a, ok := by[strings.Split(q.Code, ":")[0]]; ok {
				given[q.Code] = a
			}
		}
		if len(given) > 0 {
			if err := b.store.Answer(context.Background(), d.FileID, given); err != nil {
				b.t.Fatal(err)
			}
		}
	}
}
