package wear

// overrule applies what people decided, in the order of the list: of two
// decisions about one reading the later holds. A moment with two values cannot
// be believed by decision, because nobody knows which. What lies outside the
// wear is cut off.
func (t *trace) overrule(overrides []Override) []OverrideFig {
	figures := make([]OverrideFig, 0, len(overrides))
	if len(t.r) == 0 {
		return figures
	}
	first, last := t.r[0].At, t.r[len(t.r)-1].At
	for _, o := range overrides {
		from, to := min(max(o.From, first), last), min(max(o.To, first), last)
		f := OverrideFig{From: t.cal.time(from), To: t.cal.time(to), Believe: o.Believe}
		for i := t.from(o.From); i < len(t.r) && t.r[i].At <= o.To; i++ {
			switch {
			case o.Believe && t.why[i] != 0:
				t.why[i] = 0
				f.Readings++
			case !o.Believe && t.why[i] == 0:
				t.why[i] = causePerson
				f.Readings++
			}
		}
		figures = append(figures, f)
	}
	return figures
}
