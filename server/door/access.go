package door

import (
	"slices"

	"wearround/store"
)

// Access says who may ask for something. It is nothing but the set of roles;
// what a person may do with one particular wear is the store's to say.
type Access []store.Role

// The kinds of access that routes have. "Staff" are those who look after
// patients; an auditor sees totals and the log, never a person.
var (
	Anyone   = Access(nil)
	Member   = Access(store.Roles())
	Staff    = Access{store.RoleNurse, store.RoleClinician, store.RoleLead}
	Leads    = Access{store.RoleLead}
	Keepers  = Access{store.RoleClinician, store.RoleLead}                    // sees whether the program works; drafts limits
	Signers  = Access{store.RoleClinician}                                    // answers for the limits
	Reviews  = Access{store.RoleLead, store.RoleAuditor}                      // reads the log
	Counters = Access{store.RoleClinician, store.RoleLead, store.RoleAuditor} // sees the year in numbers
)

// admits reports whether a person with these roles may ask.
func (a Access) admits(roles []store.Role) bool {
	return a == nil || slices.ContainsFunc(roles, func(r store.Role) bool { return slices.Contains(a, r) })
}
