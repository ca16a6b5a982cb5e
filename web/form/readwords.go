package form

import (
	"net/url"
	"strconv"

	"wearround/worker/wear"
)

// mostWords is how many texts one form can be about: far more than a wear has.
const mostWords = 2000

// ParseRead reads what a person said that words are: key-N and as-N of the Nth
// text, and for labels read at one go label (several keys) with as-labels. What
// has no answer is left out.
func ParseRead(v url.Values) (map[string]wear.ReadAs, []FieldError) {
	f := &fields{Values: v}
	said := map[string]wear.ReadAs{}
	take := func(key, field string) {
		as := wear.ReadAs(v.Get(field))
		switch {
		case key == "" || as == wear.Unread:
		case !as.Known():
			f.refuse(field, "Choose from the list what these words are.")
		default:
			said[key] = as
		}
	}
	for n := 1; n <= mostWords && v.Has("key-"+strconv.Itoa(n)); n++ {
		take(v.Get("key-"+strconv.Itoa(n)), "as-"+strconv.Itoa(n))
	}
	for _, key := range v["label"][:min(len(v["label"]), mostWords)] {
		take(key, "as-labels")
	}
	if len(said) == 0 && len(f.errors) == 0 {
		f.refuse("", "Nothing is chosen yet. Say of at least one text what it is.")
	}
	return said, f.errors
}
