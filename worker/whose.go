package worker

import (
	"context"
	"fmt"
	"path"
	"regexp"
	"strings"

	"wearround/store"
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

// whose finds the patient a file belongs to from the file-name rule, the
// sub-folder and the code inside. Only codes on the register count. No code,
// or two that disagree, is a question for a person: a patient is never
// guessed, and never taken from a name.
func (w *Worker) whose(ctx context.Context, drop string, hint, answer string) (int64, *wear.Question, error) {
	if answer != "" {
		p, err := w.store.PatientByCode(ctx, answer)
		if err == nil {
			return p.ID, nil, nil
		}
		if store.CodeOf(err) != store.NotFound {
			return 0, nil, err
		}
	}
	type clue struct{ where, code string }
	clues := []clue{{"the file's name", w.Rule.code(drop)}, {"the file itself", hint}}
	if dir := strings.Split(path.Dir(drop), "/")[0]; dir != "." {
		clues = append(clues, clue{"its folder", dir})
	}
	var (
		patients []store.Patient
		seen     []string
	)
	for _, c := range clues {
		if c.code == "" {
			continue
		}
		p, err := w.store.PatientByCode(ctx, c.code)
		switch {
		case store.CodeOf(err) == store.NotFound:
			seen = append(seen, fmt.Sprintf("%s says %q, which is not on the register", c.where, c.code))
			continue
		case err != nil:
			return 0, nil, err
		}
		seen = append(seen, fmt.Sprintf("%s says %s", c.where, p.Code))
		if len(patients) == 0 || patients[0].ID != p.ID {
			patients = append(patients, p)
		}
	}
	if len(patients) == 1 {
		return patients[0].ID, nil, nil
	}
	q := &wear.Question{Code: "patient", Text: "Whose wear is this?"}
	if len(seen) > 0 {
		q.Text += " (" + upperFirst(strings.Join(seen, "; ")) + ".)"
	}
	for _, p := range patients {
		q.Choices = append(q.Choices, wear.Choice{Value: p.Code, Text: p.Code, Effect: "the wear is filed under this patient"})
	}
	return 0, q, nil
}

func upperFirst(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
