package web

// NamesPage says whose a file is by its name, and tries another rule on the
// names that came before it is saved.
type NamesPage struct {
	Layout
	Rule    string // in force
	Tried   string // the rule that is tried, or ""
	Problem string // why the tried rule is none, or ""
	Saved   bool   // the rule in force has just been saved
	Rows    []NameRow
}

// NameRows is the part of a [NamesPage] that shows what a rule would find.
type NameRows struct{ NamesPage }

// NameRow is one file's name and what the rules find in it.
type NameRow struct {
	Path      string
	Now, Then FoundCode
}

// FoundCode is what a rule finds in a file's name.
type FoundCode struct {
	Code  string // or "" for nothing
	Known bool   // it is on the register
}

func (NamesPage) view() (set, block string) { return "names", "page" }

func (NameRows) view() (set, block string) { return "names", "rows" }

// Trying reports whether another rule than the one in force is tried.
func (p NamesPage) Trying() bool { return p.Problem == "" && p.Tried != "" && p.Tried != p.Rule }

// Field is what stands in the form.
func (p NamesPage) Field() string {
	if p.Tried != "" || p.Problem != "" {
		return p.Tried
	}
	return p.Rule
}

// Sentence says what saving the tried rule would do to the names shown.
func (p NamesPage) Sentence() string {
	now, then := 0, 0
	for _, r := range p.Rows {
		if r.Now.Known {
			now++
		}
		if r.Then.Known {
			then++
		}
	}
	s := "Of the last " + count(len(p.Rows), "file name") + ", the rule in force finds a patient in " + number(now)
	if p.Trying() {
		s += "; the rule tried here would find one in " + number(then)
	}
	return s + "."
}

// Words is the code and whether it is on the register.
func (f FoundCode) Words() string {
	switch {
	case f.Code == "":
		return "nothing"
	case f.Known:
		return f.Code
	}
	return f.Code + " (not on the register)"
}
