package letter

import (
	"strings"
	"time"
)

// Block is one part of a letter: a heading, a paragraph or a list.
type Block struct {
	Heading string
	Lines   []string // of a paragraph
	Items   []string // of a list
}

// Blocks takes the text of a letter apart for a page.
func Blocks(text string) []Block {
	var out []Block
	for part := range strings.SplitSeq(clean(text), "\n\n") {
		var b Block
		flush := func() {
			if b.Heading != "" || len(b.Lines) > 0 || len(b.Items) > 0 {
				out = append(out, b)
			}
			b = Block{}
		}
		for line := range strings.SplitSeq(strings.TrimSpace(part), "\n") {
			switch {
			case strings.HasPrefix(line, "# "):
				flush()
				b.Heading = strings.TrimSpace(line[2:])
				flush()
			case strings.HasPrefix(line, "- "):
				if len(b.Lines) > 0 {
					flush()
				}
				b.Items = append(b.Items, strings.TrimSpace(line[2:]))
			case strings.TrimSpace(line) != "":
				if len(b.Items) > 0 {
					flush()
				}
				b.Lines = append(b.Lines, strings.TrimSpace(line))
			}
		}
		flush()
	}
	return out
}

func isoDay(s string) (time.Time, bool) {
	t, err := time.Parse(time.DateOnly, s)
	return t, err == nil
}
