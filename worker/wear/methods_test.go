package wear_test

import (
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"slices"
	"strconv"
	"strings"
	"testing"

	"wearround/worker/wear"
)

// constants gives the texts of the package's constants whose names begin with
// a word.
func constants(t *testing.T, file, prefix string) []string {
	t.Helper()
	f, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	ast.Inspect(f, func(n ast.Node) bool {
		spec, ok := n.(*ast.ValueSpec)
		if !ok || len(spec.Values) == 0 || !strings.HasPrefix(spec.Names[0].Name, prefix) {
			return true
		}
		if lit, ok := spec.Values[0].(*ast.BasicLit); ok && lit.Kind == token.STRING {
			s, err := strconv.Unquote(lit.Value)
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, s)
		}
		return true
	})
	if len(out) == 0 {
		t.Fatalf("no constant %s… in %s", prefix, file)
	}
	return out
}

// Every measure, every reason for doubt and every flag has its definition, and
// every definition says where it is from and how sure it is.
func TestMethodsAreComplete(t *testing.T) {
	keys := map[string]string{}
	for _, m := range wear.Methods() {
		if keys[m.Key] != "" {
			t.Errorf("%s is listed twice", m.Key)
		}
		keys[m.Key] = m.Part
		if !slices.Contains(wear.MethodParts(), m.Part) || m.Name == "" || m.Definition == "" || m.Source == "" {
			t.Errorf("incomplete: %+v", m)
		}
		switch m.Status {
		case "published", "derived", "from memory", "proposal":
		default:
			t.Errorf("%s: status %q", m.Key, m.Status)
		}
	}
	b, err := json.Marshal(wear.Metrics{})
	if err != nil {
		t.Fatal(err)
	}
	var metrics map[string]any
	if err := json.Unmarshal(b, &metrics); err != nil {
		t.Fatal(err)
	}
	for key := range metrics {
		if keys[key] != wear.PartMeasure {
			t.Errorf("measure %s has no definition", key)
		}
	}
	for _, c := range []struct{ file, prefix, part string }{{"report.go", "Suspect", wear.PartBelieve}, {"flags.go", "Flag", wear.PartFlag}} {
		for _, code := range constants(t, c.file, c.prefix) {
			if keys[code] != c.part {
				t.Errorf("%s has no definition under %s", code, c.part)
			}
		}
	}
	// A settings group named by a method exists.
	settings := wear.DefaultProtocol().Settings()
	for _, m := range wear.Methods() {
		for group := range strings.SplitSeq(m.Settings, ", ") {
			if group != "" && !slices.ContainsFunc(settings, func(s wear.Setting) bool { return strings.HasPrefix(s.Name, group) }) {
				t.Errorf("%s names settings %q, which do not exist", m.Key, group)
			}
		}
	}
}
