package wear

// Question is one open choice about a file that a person must settle. While a
// file has one, it is held: nothing is filed on a guess.
type Question struct {
	Code    string   `json:"code"` // stable: "unit", "day_order", "glucose_column", "patient", ...
	Text    string   `json:"text"` // a plain question, one sentence
	Choices []Choice `json:"choices"`
}

// Choice is one possible answer to a [Question].
type Choice struct {
	Value  string `json:"value"`  // stable: what is stored as the answer
	Text   string `json:"text"`   // the answer in words
	Effect string `json:"effect"` // what would follow: "first reading would be 3 April 2026"
	// Rows are up to three rows of the file as this answer would read them, for
	// the person to compare; empty where rows say nothing about the choice.
	Rows []string `json:"rows,omitempty"`
}

// Decision is a choice that was made, kept as evidence of how a file was read.
type Decision struct {
	Code     string  `json:"code"`
	Answer   string  `json:"answer"`
	Evidence string  `json:"evidence"` // in words
	RunnerUp string  `json:"runner_up,omitempty"`
	Margin   float64 `json:"margin"` // 0 to 1: how far ahead of the runner-up
	By       string  `json:"by"`     // "values", "heading", "person" or "default"
}

// Refusal says why a file cannot be read at all and what to do about it.
type Refusal struct {
	Code string `json:"code"` // stable: "empty", "binary", "cut_short", ...
	Text string `json:"text"` // what is wrong, one plain sentence
	ToDo string `json:"to_do"`
}
