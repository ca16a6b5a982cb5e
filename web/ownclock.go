package web

import (
	"time"
)

// On gives the layout of a page that tells of one wear, by the wearer's clock
// where own is another zone than the practice's. What people did stays by the
// practice's: see [Layout.AtHome].
func (l Layout) On(own *time.Location) Layout {
	if own != nil {
		l.Home, l.Zone = l.Zone, own
	}
	return l
}

// AtHome is the same layout by the practice's clock.
func (l Layout) AtHome() Layout {
	if l.Home != nil {
		l.Zone, l.Home = l.Home, nil
	}
	return l
}

// OwnClock says by which clock the wear is told and what that changes; "" where
// it is the practice's.
func (p WearPage) OwnClock() string {
	if p.Home == nil || p.Report == nil {
		return ""
	}
	start := p.Report.Start
	return "Told by the wearer’s clock, " + p.Zone.String() + ": the first reading is " + p.When(start) + " there, " + p.AtHome().When(start) + " here. What people did is told by the practice’s clock."
}

// OwnZone fills the form with the zone that holds.
func (p WearPage) OwnZone() string {
	if p.Home == nil {
		return "value="
	}
	return "value=" + p.Zone.String()
}
