// Package files is what came through the watched folder and how it is read: held
// files and their answers, recipes, the file-name rule.
package files

import "wearround/server/door"

// Files shows files and takes the answers about them.
type Files struct {
	*door.Door
}
