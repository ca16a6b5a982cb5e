package server

import (
	"slices"

	"wearround/store"
)

// access says who may ask for something. It is nothing but the set of roles;
// what a person may do with one particular wear is the store's to say.
type access []store.Role

// The kinds of access that routes have. "Staff" are those who look after
// patients; an auditor sees totals and the log, never a person.
var (
	anyone   = access(nil)
	member   = access(store.Roles())
	staff    = access{store.RoleNurse, store.RoleClinician, store.RoleLead}
	leads    = access{store.RoleLead}
	keepers  = access{store.RoleClinician, store.RoleLead}                    // sees whether the program works
	reviews  = access{store.RoleLead, store.RoleAuditor}                      // reads the audit log
	counters = access{store.RoleClinician, store.RoleLead, store.RoleAuditor} // sees the year in numbers
)

// admits reports whether a person with these roles may ask.
func (a access) admits(roles []store.Role) bool {
	return a == nil || slices.ContainsFunc(roles, func(r store.Role) bool { return slices.Contains(a, r) })
}
