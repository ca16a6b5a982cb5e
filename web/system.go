package web

import (
	"wearround/web/form"
)

// SystemLine says in one line what the worker is doing.
func (l Layout) SystemLine() string {
	s := l.System
	switch {
	case s.Unknown:
		return "How things stand cannot be read."
	case s.FolderProblem != "":
		return "The watched folder cannot be read."
	case s.LastLook.IsZero():
		return "The folder has not been looked at yet."
	case s.Stalled:
		return "Not looking: last look " + l.When(s.LastLook) + "."
	case s.FilesProblem != "":
		return "Last look " + l.Clock(s.LastLook) + ", some files do not reach the round."
	case s.Waiting > 0:
		return "Last look " + l.Clock(s.LastLook) + ", reading " + count(s.Waiting, "file") + "."
	case s.Anew > 0:
		return "Last look " + l.Clock(s.LastLook) + ", " + count(s.Anew, "wear") + " still to be judged anew by protocol " + l.Protocol + "."
	case s.Held > 0:
		return "Last look " + l.Clock(s.LastLook) + ", " + count(s.Held, "file") + " waiting for an answer."
	default:
		return "Last look " + l.Clock(s.LastLook) + ", nothing waiting."
	}
}

// Banner is the one thing that every page says first when the round cannot be
// trusted to be complete, or "".
func (l Layout) Banner() string {
	s := l.System
	switch {
	case l.Daily.ChainProblem != "":
		return "The log of who did what does not hold together: " + form.Sentence(l.Daily.ChainProblem) + " Tell the practice’s lead before anything else is done."
	case s.Trouble != "":
		return s.Trouble
	case s.Unknown:
		return "How things stand cannot be read just now, so what waits or is overdue may be missing here. Load the page again; if this stays, ask whoever looks after the computer to restart the service."
	case s.FolderProblem != "":
		return form.Sentence(s.FolderProblem) + " New wears do not reach the round until this is put right."
	case s.Stalled && s.LastLook.IsZero():
		return "The watched folder has not been looked at since the service started. The round may be incomplete: ask whoever looks after the computer to restart the service."
	case s.Stalled:
		return "The watched folder was last looked at on " + l.When(s.LastLook) + ". The round may be incomplete: ask whoever looks after the computer to restart the service."
	case s.FilesProblem != "":
		return form.Sentence(s.FilesProblem) + " Some wears do not reach the round until this is put right."
	}
	return ""
}

// Live is the answer that open pages ask for about once a second.
type Live struct {
	Version int64  `json:"version"`
	System  string `json:"system"`
	Banner  string `json:"banner"`
	Idle    int    `json:"idle_s,omitempty"` // seconds until the session ends if nothing is done
}

// Live is what the script on an open page compares with what it shows.
func (l Layout) Live() Live {
	return Live{Version: l.Version, System: l.SystemLine(), Banner: l.Banner(), Idle: l.IdleSeconds()}
}
