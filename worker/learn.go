package worker

import (
	"encoding/json"
	"fmt"
	"slices"

	"wearround/store"
	"wearround/worker/intake"
	"wearround/worker/wear"
)

// distrustCode is the question asked where a file would be read in a way that
// was withdrawn.
const distrustCode = "withdrawn_recipe"

// learn gives what reading the file taught about its layout; nil where it was
// read by a recipe and needed no answer beside it, or has no layout.
func learn(book *store.RecipeBook, res *intake.Result, given map[string]string) (*store.Learned, error) {
	if res.Layout == "" || len(res.Questions) > 0 {
		return nil, nil
	}
	var answers []wear.Decision
	for _, d := range res.Decisions {
		if d.By == "person" && given[d.Code] == d.Answer && intake.Remembered(d.Code) {
			answers = append(answers, d)
		}
	}
	if res.ByRecipe {
		if len(answers) == 0 {
			return nil, nil
		}
		for _, known := range book.InForce[res.Layout].Answers {
			if !slices.ContainsFunc(answers, func(d wear.Decision) bool { return d.Code == known.Code }) {
				answers = append(answers, known)
			}
		}
	}
	body, err := json.Marshal(res.Recipe)
	if err != nil {
		return nil, fmt.Errorf("recipe: %w", err)
	}
	return &store.Learned{Body: body, Answers: answers}, nil
}

// distrust asks about a file that would be read just as a withdrawn recipe of
// its layout says, unless the same has been put in force again since. The
// answer is remembered for the layout.
func (w *Worker) distrust(book *store.RecipeBook, res *intake.Result, l *store.Learned, answer string) *wear.Question {
	if l == nil || string(book.InForce[res.Layout].Body) == string(l.Body) {
		return nil
	}
	var like *store.Recipe
	for _, r := range book.Withdrawn[res.Layout] {
		if string(r.Body) == string(l.Body) {
			like = &r
		}
	}
	switch {
	case like == nil || answer == "set_aside":
		return nil
	case answer == "read_so":
		l.Answers = append(l.Answers, wear.Decision{
			Code: distrustCode, Answer: answer, Evidence: "a person answered: " + distrustYes, Margin: 1, By: "person",
		})
		return nil
	}
	q := &wear.Question{
		Code: distrustCode,
		Text: fmt.Sprintf("Files arranged like this one were read in a way that was withdrawn (“%s”), and this file would be read in the same way. Is it right?", like.Reason),
		Choices: []wear.Choice{
			{Value: "read_so", Text: distrustYes, Effect: "it is filed, and the next ones of this layout too"},
			{Value: "set_aside", Text: "No, set this file aside", Effect: "nothing of it is filed; the original is kept"},
		},
	}
	q.Choices[0].Rows = w.sample(res.Readings, 0)
	return q
}

const distrustYes = "Yes, read it so"

func setAside() wear.Refusal {
	return wear.Refusal{
		Code: "set_aside",
		Text: "Somebody said that this file is not read rightly, so nothing of it is filed.",
		ToDo: "The original is kept. Export the wear again in another form and drop that file.",
	}
}

// kindOf is the sensor kind that the practice gave to a layout, or "".
func kindOf(book *store.RecipeBook, layout string) string {
	if r, ok := book.InForce[layout]; ok {
		return r.SensorKind
	}
	kind := ""
	for _, r := range book.Withdrawn[layout] {
		kind = r.SensorKind // the newest comes last
	}
	return kind
}
