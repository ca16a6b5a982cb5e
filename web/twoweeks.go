package web

import (
	"strconv"

	"wearround/web/chart"
	"wearround/web/letter"
	"wearround/worker/wear"
)

// TwoWeeks is the wearer's own page about one wear.
type TwoWeeks struct {
	WearPage // of which the pictures take readings, report and clock
	Practice string
	Words    letter.TwoWeeks
}

// TwoWeeksPage shows the wearer's page before it is printed.
type TwoWeeksPage struct {
	Layout
	TwoWeeks TwoWeeks
	Kind     letter.Kind // of the letter that it goes with
}

func (TwoWeeksPage) view() (set, block string) { return "twoweeks", "page" }

// Grade is the school grade at which the page reads.
func (p TwoWeeksPage) Grade() string { return wear.FormatHalfUp(p.TwoWeeks.Words.Grade(), 1) }

// WearAddress is the page of the wear.
func (p TwoWeeksPage) WearAddress() string { return wearAddress(p.TwoWeeks.WearID, Window{}) }

// ID parts the page from others on one print run.
func (p TwoWeeks) ID() string { return "two-weeks-" + strconv.FormatInt(p.WearID, 10) }

// Heading says whose two weeks they are.
func (p TwoWeeks) Heading() string {
	return p.Patient.Called() + " · " + p.Span(p.Report.Start, p.Report.End) + " · this goes with our letter"
}

// Foot names the page's patient and who made it, on its one sheet.
func (p TwoWeeks) Foot() string {
	s := p.Patient.Called()
	if p.Patient.Name != "" && p.Patient.Code != "" {
		s += " · " + p.Patient.Code
	}
	if p.Patient.BirthDate != "" {
		s += " · born " + birthWords(p.Patient.BirthDate)
	}
	if p.Practice != "" {
		s += " · " + p.Practice
	}
	return s
}

// DaysDrawn are a line a day.
func (p TwoWeeks) DaysDrawn() []Picture {
	strips := p.strips()
	return draw(p.ID()+"-tape", half, func(id string, width int) string { return chart.Tape(id, "", strips, width) })
}

// MealsDrawn are the meals of one name each, the greatest rise first.
func (p TwoWeeks) MealsDrawn() []Picture {
	if len(p.Words.Like) == 0 {
		return nil
	}
	m := chart.MealArrows{}
	for _, l := range p.Words.Like {
		m.Rows = append(m.Rows, chart.LikeMeals{Name: l.Name, Times: l.Times, Before: l.Before, Rise: l.Rise})
	}
	return draw(p.ID()+"-meals", half, func(id string, width int) string {
		m.ID, m.Width = id, width
		return m.Draw().SVG
	})
}

// TwoWeeksAddress is where the wearer's page is looked at.
func (p WearPage) TwoWeeksAddress() string { return taskAddress(p.WearID, "two-weeks") }

// HasTwoWeeks reports whether a letter fits the wear that the page goes with.
func (p WearPage) HasTwoWeeks() bool {
	if p.Report == nil || p.Report.Unread > 0 {
		return false
	}
	_, err := letter.PageKind(p.Report)
	return err == nil
}
