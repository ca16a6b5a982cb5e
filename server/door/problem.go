package door

import (
	"errors"
	"net/http"

	"wearround/store"
	"wearround/web/form"
)

// Invalid is a problem of the request itself.
func Invalid(sentence string) *Problem {
	return &Problem{Status: http.StatusUnprocessableEntity, Sentence: sentence, ToDo: "Go back and try again."}
}

// InvalidField is a problem of one member or parameter.
func InvalidField(name, sentence string) *Problem {
	p := Invalid("Something in the request cannot be taken: " + name + ".")
	p.Fields = []form.FieldError{{Field: name, Text: sentence}}
	return p
}

// Problem is an error whose words are safe to show.
type Problem struct {
	Status   int
	Sentence string
	ToDo     string
	Fields   []form.FieldError // what is wrong with a form, where that is known
}

// AsProblem finds the words for an error.
func AsProblem(err error) *Problem {
	var p *Problem
	if errors.As(err, &p) {
		return p
	}
	var e *store.Error
	if !errors.As(err, &e) {
		return errPanic
	}
	back := "Go back and try again."
	if e.Code == store.Broken {
		return &Problem{Status: http.StatusServiceUnavailable, Sentence: e.Public, ToDo: "Tell whoever looks after this program. If you typed something, it was not saved: keep the page open until it can be."}
	}
	switch e.Code {
	case store.NotFound:
		return &Problem{Status: http.StatusNotFound, Sentence: e.Public, ToDo: "It may have been joined with another. Go back to the round and choose from there."}
	case store.Conflict:
		return &Problem{Status: http.StatusConflict, Sentence: e.Public, ToDo: "Someone else may have changed it a moment ago. " + back}
	case store.Forbidden:
		return &Problem{Status: http.StatusForbidden, Sentence: e.Public, ToDo: back}
	case store.Invalid:
		return &Problem{Status: http.StatusUnprocessableEntity, Sentence: e.Public, ToDo: back}
	}
	return errPanic
}

// OrNoPage is the error, or that there is no such page where there is none.
func OrNoPage(err error) error {
	if err != nil {
		return err
	}
	return ErrNoPage
}
