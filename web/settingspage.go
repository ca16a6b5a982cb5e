package web

import (
	"time"

	"wearround/web/form"
)

// SettingsPage is what the practice says of itself, and its first day. Posts to
// /settings; [form.ParsePractice] reads it.
type SettingsPage struct {
	Layout
	form.Form
	Fixed    map[string]string // what was given at the start, which holds over what is set here
	ZoneName string
	NameRule string
	Folder   string

	Backups    string    // the folder that the practice is copied to, or ""
	LastBackup time.Time // when the newest good copy was begun; zero: there is none
	Steps      []FirstStep
	Saved      bool
}

// FirstStep is one thing to be done before the practice runs.
type FirstStep struct {
	Words string
	To    string
	Done  bool
}

func (SettingsPage) view() (set, block string) { return "settings", "page" }

// Left is how many steps are still to be done.
func (p SettingsPage) Left() int {
	n := 0
	for _, s := range p.Steps {
		if !s.Done {
			n++
		}
	}
	return n
}
