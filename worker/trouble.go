package worker

import (
	"fmt"
	"strings"
	"time"
)

// restlessAfter is how long a file may go on changing before people are told.
const restlessAfter = time.Hour

// trouble puts into plain sentences what keeps files from the round although
// the folder can be read, or gives "".
func trouble(s scan, faults int64) string {
	var out []string
	say := func(n int, one, many string) {
		switch {
		case n == 1:
			out = append(out, one)
		case n > 1:
			out = append(out, fmt.Sprintf(many, n))
		}
	}
	say(int(faults),
		"A file or report cannot be dealt with, by a fault of this program or its computer, and is tried again at each look. Check that the disk is not full and that this program may write to its data folder.",
		"%d files or reports cannot be dealt with, by a fault of this program or its computer, and are tried again at each look. Check that the disk is not full and that this program may write to its data folder.")
	say(s.closed,
		"A sub-folder of the watched folder may not be read by this program: what lies in it is not filed. Give it permission to read.",
		"%d sub-folders of the watched folder may not be read by this program: what lies in them is not filed. Give it permission to read.")
	say(s.deep,
		fmt.Sprintf("A sub-folder lies more than %d folders deep in the watched folder: what lies in it is not filed. Move it up.", maxDepth),
		fmt.Sprintf("%%d sub-folders lie more than %d folders deep in the watched folder: what lies in them is not filed. Move them up.", maxDepth))
	say(s.restless,
		"A file in the watched folder has been changing for more than an hour, so it is not read. Close the program that writes it.",
		"%d files in the watched folder have been changing for more than an hour, so they are not read. Close the programs that write them.")
	return strings.Join(out, " ")
}

// emptied is how many files must have come before an empty folder is trouble.
const emptied = 100

// emptyFolder is said of a watched folder that holds nothing where much was.
const emptyFolder = "The watched folder is empty, although many files came through it before: the network share may not be connected. Connect it again, or, if the folder was cleared on purpose, leave one file in it."
