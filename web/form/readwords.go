package form

import (
	"maps"
	"net/url"
	"slices"
	"strings"

	"wearround/worker/wear"
)

// mostWords is how many texts one form can be about: far more than a wear has.
const mostWords = 2000

// readField begins the name of each field of [ReadField].
const readField = "as."

// ReadField names the field for what words are. What they stood as on the page is
// in it, so that neither a stale page nor a draft of one speaks of words that
// somebody read meanwhile as if it had seen that.
func ReadField(key string, seen wear.ReadAs) string { return readField + string(seen) + "." + key }

// ParseRead reads what a person said that words are, by key: a [ReadField] for
// each text, and for labels read at one go label (several keys) with as-labels.
// What has no answer, or stands as it was on the page, is left out.
func ParseRead(v url.Values) (map[string]wear.ReadChange, []FieldError) {
	f := &fields{Values: v}
	said := map[string]wear.ReadChange{}
	take := func(key string, seen wear.ReadAs, field string) {
		as := wear.ReadAs(v.Get(field))
		switch {
		case key == "" || as == seen || as == wear.Unread:
		case !as.Known() || !seen.Known() && seen != wear.Unread:
			f.refuse("", "Choose from the list what these words are.")
		case len(said) < mostWords:
			said[key] = wear.ReadChange{Seen: seen, As: as}
		}
	}
	for _, field := range slices.Sorted(maps.Keys(v)) {
		if rest, ok := strings.CutPrefix(field, readField); ok {
			seen, key, _ := strings.Cut(rest, ".")
			take(key, wear.ReadAs(seen), field)
		}
	}
	for _, key := range v["label"] {
		take(key, wear.Unread, "as-labels")
	}
	if len(said) == 0 && len(f.errors) == 0 {
		f.refuse("", "Nothing is chosen yet. Say of at least one text what it is.")
	}
	return said, f.errors
}
