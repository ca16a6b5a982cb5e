package sim

import (
	"fmt"
	"strings"
)

// Contact says how an invented patient is reached.
type Contact struct {
	Telephone string
	Mail      string // "" for most
	Address   string // postal: a street and a town that are nowhere; "" for a few
	Prefers   string // "telephone", "message", or "" for no wish
	Note      string // when they can be reached, or ""
}

// regions are area codes in each of which the numbers 5550 0000 to 5550 9999
// are set aside for films and books, so that nobody's telephone rings (numbers
// for creative works, Australian communications regulator).
var regions = []string{"02", "03", "07", "08"}

// newContact invents a way to reach the patient whose code has the number n.
// The mail lies in a domain reserved for examples (RFC 2606).
func newContact(c chance, n int, name string) Contact {
	k := Contact{Telephone: fmt.Sprintf("(%s) 5550 %04d", regions[n/10_000%len(regions)], n%10_000)}
	if c.happens(0.4) {
		k.Mail = strings.ToLower(strings.ReplaceAll(name, " ", ".")) + "@example.org"
	}
	if c.happens(0.3) {
		k.Prefers = pick(c, []string{"telephone", "message"})
	}
	if c.happens(0.15) {
		k.Note = pick(c, []string{"at work until four", "rings back after six", "hard of hearing, speak slowly", "not before ten"})
	}
	if c.happens(0.95) {
		k.Address = fmt.Sprintf("%d %s Street\n%s", 1+c.IntN(140), inventedWord(c, family), inventedWord(c, family))
	}
	return k
}
