package act

import (
	"wearround/store"
)

// RecallQuery is the list that a filter names.
func (s *Acts) RecallQuery(state string) store.RecallQuery {
	switch state {
	case "overdue":
		return store.RecallQuery{DueBefore: s.Today()}
	case "untried":
		return store.RecallQuery{DueBefore: s.Today(), Untried: true}
	case "all":
		return store.RecallQuery{Closed: true}
	}
	return store.RecallQuery{}
}
