package wear

// triad says which of the three facts of a true low are known. A sensor value
// never stands for the second.
func (j *judge) triad() string {
	blood, relief, all := 0, 0, 0
	for _, m := range j.r.Matches {
		from, to := j.in.Protocol.Symptom.window(j.spans[m.Episode-1])
		measured, relieved := len(sticksBetween(j.in.Events, from, to, Limit3_9.Below)) > 0, m.Relief == "written down"
		if measured {
			blood++
		}
		if relieved {
			relief++
		}
		if measured && relieved {
			all++
		}
	}
	switch {
	case all > 0:
		return "Symptom, a low fingerstick and relief are all written down " + Times(all) + "."
	case blood > 0 && relief > 0:
		return "A low fingerstick and relief are written down, but not together."
	case blood > 0:
		return "A low fingerstick is written down; ask whether sugar brought relief."
	case relief > 0:
		return "Relief is written down; blood glucose at the time is not."
	}
	return "Blood glucose at the time and relief by sugar are still to be asked."
}

// unlabelled asks about the other dips. Where one dip had a symptom, a diary
// without one for the rest is no proof that they passed unnoticed.
func (j *judge) unlabelled() string {
	quiet := j.quietDips()
	if len(quiet) == 0 {
		return ""
	}
	return " " + countWords(len(quiet), "more dip") + j.down(quiet) + ", without words beside " + itOrThem(len(quiet)) + ": ask about " + itOrThem(len(quiet)) + " too."
}
