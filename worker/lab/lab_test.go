package lab

import (
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/worker/lab/messages"
)

var options = Options{Zone: time.UTC, Now: time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)}

// sound are what holds of whatever was read.
func sound(t *testing.T, data []byte, res *Result) {
	t.Helper()
	if res.Refusal != nil {
		if res.Refusal.Code == "account" {
			t.Error("the fields do not add up")
		}
		return
	}
	if !res.Account.Balanced() {
		t.Error("the account does not balance")
	}
	for _, s := range res.Statements {
		if s.Person < 0 || s.Person >= len(res.People) || s.Key == "" {
			t.Errorf("a statement of nobody or without a key: %+v", s)
		}
		if s.Status == Cancelled {
			continue
		}
		if !slices.Contains(unitsOf[s.Kind], s.Unit) || s.Taken.IsZero() {
			t.Errorf("not whole: %+v", s)
		}
		if _, ok := number(s.Value); !ok {
			t.Errorf("no number: %q", s.Value)
		}
	}
	for _, q := range res.Questions {
		if len(q.Choices) == 0 || q.Text == "" {
			t.Errorf("a question without an answer: %+v", q)
		}
	}
	again := Read(data, options)
	if len(again.Statements) != len(res.Statements) || len(again.Questions) != len(res.Questions) {
		t.Error("read again, it says something else")
	}
}

// seeds are invented messages of one of the two standards.
func seeds(f *testing.F, json bool) {
	for _, m := range messages.Make(3, 60).Files {
		if strings.HasSuffix(m.Name, ".json") == json {
			f.Add(m.Data)
		}
	}
}

func FuzzHL7(f *testing.F) {
	seeds(f, false)
	f.Add([]byte("MSH|^~\\&|A|B|||2026||ORU^R01|1|P|2.5\rPID|||P1\rOBR|1\rOBX|1|SN|4548-4^^LN||<^5^:^6|%\rNTE|1||\\X41\\\\.br\\\\Q\\"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if isHL7(data) {
			sound(t, data, Read(data, options))
		}
	})
}

func FuzzFHIR(f *testing.F) {
	seeds(f, true)
	f.Add([]byte(`{"resourceType":"Observation","status":"final","category":"laboratory","code":{"coding":[{"system":"http://loinc.org","code":"4548-4"}]},"component":[{}],"contained":[{"id":"a"}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		if isFHIR(data) {
			sound(t, data, Read(data, options))
		}
	})
}

// TestEverythingIsTold counts the fields of a message by hand: each is in the
// account, and every word about a result stands in its note.
func TestEverythingIsTold(t *testing.T) {
	whole := `MSH|^~\&|LABSYS|LAB|||20260310090000||ORU^R01|M1|P|2.4` + "\r" +
		"PID|1||P-0417^^^PRACTICE^PI||TAVO^MIRA||19610503|F|||Street 1\rPV1|1|O\rOBR|1|PL1|FI1|X^Blood tests^L|||20260309\r" +
		"NTE|1|L|about the order\rOBX|1|NM|59261-8^HbA1c^LN||44|mmol/mol|20-42|H|||F|||20260309\rNTE|1|L|haemolysed\rOBX|2|TX|X^Remark^L||see letter||||||F\rZZZ|own"
	fields := 0
	for _, line := range strings.Split(whole, "\r") {
		for i, f := range strings.Split(line, "|") {
			if i > 0 && f != "" {
				fields++
			}
		}
	}
	res := Read([]byte(whole), options)
	if fields++; res.Refusal != nil || res.Account.Cells != fields { // the separator itself is a field of MSH
		t.Fatalf("%d fields are in the account of %d: %+v", res.Account.Cells, fields, res.Refusal)
	}
	if len(res.Statements) != 1 {
		t.Fatalf("statements: %+v, asks %+v", res.Statements, res.Questions)
	}
	for _, words := range []string{"about the order", "haemolysed", "see letter", "20-42", "H"} {
		if !strings.Contains(res.Statements[0].Note, words) {
			t.Errorf("the note %q does not have %q", res.Statements[0].Note, words)
		}
	}
	if s := res.Statements[0]; !s.Words || !s.Marked || s.Urgent {
		t.Errorf("words %v, marked %v, urgent %v", s.Words, s.Marked, s.Urgent)
	}
}

func TestSegmentsInAnyOrder(t *testing.T) {
	const head = `MSH|^~\&|LABSYS|LAB|||20260310||ORU^R01|M1|P|2.4` + "\r"
	pid, obr, obx := "PID|1||P-0417||TAVO^MIRA||19610503\r", "OBR|1||FI1|X|||20260309\r", "OBX|1|NM|59261-8^HbA1c^LN||44|mmol/mol|||||F\r"
	other := "OBR|2||FI2|X|||20260308\rOBX|1|NM|4548-4^HbA1c^LN||6.1|%|||||F\r"
	for _, tt := range []struct {
		name, text string
		want       []string
	}{
		{"as the standard has it", pid + obr + obx, []string{"44"}},
		{"patient last", obr + obx + pid, []string{"44"}},
		{"observation before its only order", pid + obx + obr, []string{"44"}},
		{"two orders", pid + obr + obx + other, []string{"44", "6.1"}},
		{"an observation before the first of two orders", pid + obx + obr + other, nil},
		{"two patients", pid + obr + obx + "PID|2||P-0500||SORIN^NELA\r" + other, []string{"44", "6.1"}},
		{"no patient", obr + obx, nil},
	} {
		t.Run(tt.name, func(t *testing.T) {
			res := Read([]byte(head+tt.text), options)
			sound(t, []byte(head+tt.text), res)
			var got []string
			for _, s := range res.Statements {
				got = append(got, s.Value)
			}
			if !slices.Equal(got, tt.want) || (len(tt.want) == 0) != (len(res.Questions) > 0) {
				t.Errorf("%q, asks %v; want %q", got, res.Questions, tt.want)
			}
		})
	}
}

// TestCheckDigits holds each code against its own check digit, as LOINC has it.
func TestCheckDigits(t *testing.T) {
	for code := range loinc {
		digits, check, _ := strings.Cut(code, "-")
		sum := 0
		for i := range len(digits) {
			n := int(digits[len(digits)-1-i] - '0')
			if i%2 == 0 {
				n = 2*n/10 + 2*n%10
			}
			sum += n
		}
		if want := string(rune('0' + (10-sum%10)%10)); check != want {
			t.Errorf("%s: the check digit would be %s", code, want)
		}
	}
	for _, code := range append(byMass, bySubstance...) {
		if loinc[code] == "" {
			t.Errorf("%s is told by its unit but not kept", code)
		}
	}
	for _, k := range kinds {
		if len(unitsOf[k.kind]) == 0 {
			t.Errorf("%s has no unit", k.kind)
		}
	}
}
