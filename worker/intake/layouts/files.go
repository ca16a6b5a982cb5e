package layouts

import "fmt"

// Each hands over the files one by one, at most n variants a layout, until yield says no.
// Names and bytes are the same whatever n is.
func Each(seed int64, n int, yield func(File) bool) {
	k := 0
	for _, d := range defs {
		for i := 0; i < d.n; i++ {
			k++
			if i >= n {
				continue
			}
			f := d.f(newGen(seed, d.name, i))
			f.Layout, f.Class = d.name, d.class
			f.Name = fmt.Sprintf("w%04d.%s", k, f.Name)
			if !yield(f) {
				return
			}
		}
	}
}

// Some gives at most n variants of every layout, for a quick run.
func Some(seed int64, n int) []File {
	var out []File
	Each(seed, n, func(f File) bool {
		f.probe = probe{}
		out = append(out, f)
		return true
	})
	return out
}

// Files gives every layout in all its variants. Equal seeds give equal bytes.
func Files(seed int64) []File { return Some(seed, 1<<30) }

// Layouts gives "class/name" of every layout, in order.
func Layouts() []string {
	var s []string
	for _, d := range defs {
		s = append(s, d.class+"/"+d.name)
	}
	return s
}
