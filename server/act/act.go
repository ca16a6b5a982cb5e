// Package act holds what pages and programs both do to what the practice keeps,
// each act once.
package act

import "wearround/server/door"

// Acts are done through the door's store.
type Acts struct{ *door.Door }
