package intake

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"io"
	"regexp"
	"slices"
	"strings"

	"golang.org/x/net/html"
)

// node is a value of JSON or an element of XML: an object with named members in
// their order, a list, or a text.
type node struct {
	text string
	keys []string
	kids []node // members of an object, or items of a list
	list bool
}

func (n *node) scalar() bool { return n.keys == nil && !n.list }

// jsonNode reads JSON that has passed the strict pass.
func jsonNode(data []byte) (nodes []node, err error) {
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	for {
		n, err := nextNode(d)
		if err == io.EOF {
			return nodes, nil
		}
		if err != nil {
			return nil, err
		}
		nodes = append(nodes, n)
	}
}

func nextNode(d *json.Decoder) (n node, err error) {
	t, err := d.Token()
	if err != nil {
		return n, err
	}
	switch v := t.(type) {
	case json.Delim:
		if v == '[' {
			n.list = true
		} else {
			n.keys = []string{}
		}
		for d.More() {
			if !n.list {
				key, err := d.Token()
				if err != nil {
					return n, err
				}
				n.keys = append(n.keys, key.(string))
			}
			kid, err := nextNode(d)
			if err != nil {
				return n, err
			}
			n.kids = append(n.kids, kid)
		}
		_, err = d.Token()
	case string:
		n.text = v
	case json.Number:
		n.text = v.String()
	case bool:
		n.text = map[bool]string{true: "true", false: "false"}[v]
	}
	return n, err
}

// xmlNode reads XML: attributes and elements inside an element are its members,
// and members of one name are a list.
func xmlNode(data []byte) (root node, ok bool) {
	d := xml.NewDecoder(bytes.NewReader(data))
	d.CharsetReader = func(_ string, in io.Reader) (io.Reader, error) { return in, nil } // it is UTF-8 by now
	type open struct {
		name string
		n    node
		text strings.Builder
	}
	stack := []*open{{}}
	for {
		t, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil || len(stack) > maxDepth {
			return root, false
		}
		switch v := t.(type) {
		case xml.StartElement:
			o := &open{name: v.Name.Local}
			for _, a := range v.Attr {
				o.n.put(a.Name.Local, node{text: a.Value})
			}
			stack = append(stack, o)
		case xml.Comment:
			if s := strings.TrimSpace(string(v)); s != "" {
				stack[min(1, len(stack)-1)].n.put("comment", node{text: s})
			}
		case xml.CharData:
			stack[len(stack)-1].text.Write(v)
		case xml.EndElement:
			o := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			if k := o.n.kids; len(k) == 1 && k[0].list && !slices.ContainsFunc(k[0].kids, func(n node) bool { return !n.scalar() }) {
				o.n = node{list: true, kids: k[0].kids} // cells that all have one name
			}
			if text := strings.TrimSpace(o.text.String()); o.n.list {
			} else if o.n.keys == nil {
				o.n.text = text
			} else if text != "" {
				o.n.put("text", node{text: text})
			}
			stack[len(stack)-1].n.put(o.name, o.n)
		}
	}
	return stack[0].n, len(stack) == 1
}

// put adds a member, and makes a list of members of one name.
func (n *node) put(key string, kid node) {
	i := -1
	if len(n.keys) < maxKeys || len(n.keys) > 0 && n.keys[len(n.keys)-1] == key {
		i = slices.Index(n.keys, key)
	}
	if i < 0 {
		n.keys, n.kids = append(n.keys, key), append(n.kids, kid)
		return
	}
	if was := &n.kids[i]; was.list {
		was.kids = append(was.kids, kid)
	} else {
		*was = node{list: true, kids: []node{*was, kid}}
	}
}

// member is one cell of a row that a node becomes.
type member struct{ key, text string }

// lists turns a node into tables: one for each list of objects, or of lists, in
// it. What stands beside a list, and above it, is repeated in its rows where it
// belongs to one of several, and else stands above the table. The keys on the way
// to a list are the names of what its table lies in.
type lists struct {
	tables []sheet
	above  []member
	cells  int // made so far: what stands beside a list is repeated in its rows
}

// full reports whether more cells would be made than any wear has.
func (l *lists) full(more int) bool {
	l.cells += more
	return l.cells > maxCells/2
}

func tablesOf(nodes []node) []sheet {
	root := node{list: true, kids: nodes}
	if len(nodes) == 1 {
		root = nodes[0]
	}
	l := &lists{}
	l.walk(nil, &root)
	if l.full(0) {
		return nil
	}
	if len(l.above) > 0 { // what stands behind the last list
		var b tableBuilder
		for i, m := range l.above {
			b.cell(m.key)
			b.cell(m.text)
			b.end(int32(i + 1))
		}
		l.add(nil, b.table())
	}
	return l.tables
}

// add adds a table, if there is one, under the keys on the way to it.
func (l *lists) add(way []string, t *table) {
	if t != nil {
		l.tables = append(l.tables, sheet{name: strings.Join(way, " / "), holders: slices.Clone(way), t: t})
	}
}

func (l *lists) walk(way []string, n *node) {
	if len(way) > maxDepth {
		return
	}
	switch {
	case n.list:
		l.table(way, n)
	case n.keys != nil:
		for _, read := range []func(*node) *table{columnsOf, headedRows, keyedByTime} {
			if t := read(n); t != nil {
				l.add(way, t)
				return
			}
		}
		for i := range n.kids {
			if n.kids[i].scalar() {
				l.above = append(l.above, member{beneath(way, n.keys[i]), n.kids[i].text})
			}
		}
		for i := range n.kids {
			if !n.kids[i].scalar() {
				l.walk(append(slices.Clip(way), n.keys[i]), &n.kids[i])
			}
		}
	}
}

// beneath is the key of a member with the names of what it lies in, as far as they
// say something.
func beneath(way []string, key string) string {
	for _, name := range slices.Backward(way) {
		if senseOfHolder(name, personHolders) != holderPlain {
			key = name + " " + key
		}
	}
	return key
}

// headedRows makes a table of an object that has the names of columns in one list
// and the rows, each a list of as many cells, in another; nil for any other.
func headedRows(n *node) *table {
	head, body := -1, -1
	for i := range n.kids {
		switch k := &n.kids[i]; {
		case !k.list || len(k.kids) == 0:
		case k.kids[0].scalar() && head < 0:
			head = i
		case k.kids[0].list && body < 0:
			body = i
		}
	}
	if head < 0 || body < 0 || len(n.kids[head].kids) < 2 {
		return nil
	}
	var b tableBuilder
	for i := range n.kids {
		if i != head && i != body {
			if !n.kids[i].scalar() {
				return nil
			}
			b.cell(n.keys[i])
			b.cell(n.kids[i].text)
			b.end(int32(i + 1))
		}
	}
	for _, k := range n.kids[head].kids {
		b.cell(k.text)
	}
	b.end(1)
	for r, row := range n.kids[body].kids {
		if len(row.kids) != len(n.kids[head].kids) {
			return nil
		}
		for _, k := range row.kids {
			if !k.scalar() {
				return nil
			}
			b.cell(k.text)
		}
		b.end(int32(r + 2))
	}
	return b.table()
}

// keyedByTime makes a table of an object whose keys are times or clock times, each
// with a value or an object; nil for any other.
func keyedByTime(n *node) *table {
	const fewest = 3
	times := 0
	for i, key := range n.keys {
		switch kindOf(key) {
		case moment, clock, epoch:
			times++
		}
		if n.kids[i].list {
			return nil
		}
	}
	if times < fewest || times*10 < 9*len(n.keys) {
		return nil
	}
	list := node{list: true}
	for i, key := range n.keys {
		row := node{keys: []string{"time"}, kids: []node{{text: key}}}
		if kid := n.kids[i]; kid.scalar() {
			row.keys, row.kids = append(row.keys, "value"), append(row.kids, kid)
		} else {
			row.keys, row.kids = append(row.keys, kid.keys...), append(row.kids, kid.kids...)
		}
		list.kids = append(list.kids, row)
	}
	var l lists
	if l.table(nil, &list); len(l.tables) != 1 {
		return nil
	}
	return l.tables[0].t
}

// columnsOf makes a table of an object whose members are lists of one length.
func columnsOf(n *node) *table {
	rows := -1
	for i := range n.kids {
		if k := &n.kids[i]; k.list {
			for j := range k.kids {
				if !k.kids[j].scalar() {
					return nil
				}
			}
			if rows >= 0 && rows != len(k.kids) {
				return nil
			}
			rows = len(k.kids)
		} else if slices.ContainsFunc(k.kids, func(n node) bool { return !n.scalar() }) {
			return nil
		}
	}
	if rows < 2 {
		return nil
	}
	var b tableBuilder
	var lists []int
	for i := range n.kids {
		if k := &n.kids[i]; k.list {
			lists = append(lists, i)
		} else if !k.scalar() { // facts beside the columns
			for j := range k.kids {
				b.cell(beneath([]string{n.keys[i]}, k.keys[j]))
				b.cell(k.kids[j].text)
				b.end(int32(i + 1))
			}
		} else {
			b.cell(n.keys[i])
			b.cell(n.kids[i].text)
			b.end(int32(i + 1))
		}
	}
	if len(lists) < 2 {
		return nil
	}
	for _, i := range lists {
		b.cell(n.keys[i])
	}
	b.end(1)
	for r := range rows {
		for _, i := range lists {
			b.cell(n.kids[i].kids[r].text)
		}
		b.end(int32(r + 2))
	}
	return b.table()
}

// table makes a table of a list of objects, or of lists.
func (l *lists) table(way []string, n *node) {
	var rows [][]member
	for i := range n.kids {
		switch k := &n.kids[i]; {
		case k.list:
			var row []member
			for j := range k.kids {
				row = append(row, member{"", allTexts(&k.kids[j])})
			}
			rows = append(rows, row)
		case k.keys != nil:
			rows = append(rows, l.rowsOf(k, nil, 0)...)
		default:
			rows = append(rows, []member{{"", k.text}})
		}
	}
	var keys []string
	index := make(map[string]int)
	for _, row := range rows {
		for _, m := range row {
			if _, known := index[m.key]; !known && m.key != "" && len(keys) < maxColumns-1 {
				index[m.key] = len(keys)
				keys = append(keys, m.key)
			}
		}
	}
	if l.full(len(rows) * len(keys)) {
		return
	}
	var b tableBuilder
	for i, m := range l.above {
		b.cell(m.key)
		b.cell(m.text)
		b.end(int32(i + 1))
	}
	l.above = nil
	if len(keys) > 0 {
		for _, k := range keys {
			b.cell(k)
		}
		b.end(1)
	}
	for r, row := range rows {
		cells, more := make([]string, len(keys)), []string(nil)
		for _, m := range row {
			switch i, known := index[m.key]; {
			case known && cells[i] == "":
				cells[i] = m.text
			case m.key == "" || known:
				more = append(more, m.text)
			default:
				more = append(more, m.key+": "+m.text)
			}
		}
		for _, s := range append(cells, more...) { // what has no column makes the row longer than the heading
			b.cell(s)
		}
		b.end(int32(r + 2))
	}
	l.add(way, b.table())
}

// allTexts is all that a node says.
func allTexts(n *node) string {
	if n.scalar() {
		return n.text
	}
	var texts []string
	for i := range n.kids {
		s := allTexts(&n.kids[i])
		if n.keys != nil && s != "" {
			s = n.keys[i] + ": " + s
		}
		texts = append(texts, s)
	}
	return strings.Join(texts, "; ")
}

// rowsOf makes the rows of an object: one, or, where it holds lists of objects, one
// for each of those with what stands beside the list and, where the name of the
// list says something, that name.
func (l *lists) rowsOf(n *node, before []member, depth int) (rows [][]member) {
	own := slices.Clip(before)
	type inner struct {
		key  string
		rows [][]member
	}
	var inside []inner
	for i := range n.kids {
		switch k := &n.kids[i]; {
		case k.scalar():
			own = append(own, member{n.keys[i], k.text})
		case depth >= maxDepth, k.list && (len(k.kids) == 0 || k.kids[0].keys == nil):
			own = append(own, member{n.keys[i], allTexts(k)})
		case k.list:
			in := inner{key: n.keys[i]}
			for j := range k.kids {
				if k.kids[j].keys == nil {
					in.rows = append(in.rows, []member{{"", allTexts(&k.kids[j])}})
					continue
				}
				in.rows = append(in.rows, l.rowsOf(&k.kids[j], nil, depth+1)...)
			}
			inside = append(inside, in)
		default:
			below := l.rowsOf(k, nil, depth+1)
			if len(below) > 1 {
				inside = append(inside, inner{n.keys[i], below})
				continue
			}
			for _, m := range below[0] {
				own = append(own, member{n.keys[i] + " " + m.key, m.text})
			}
		}
	}
	if len(inside) == 0 {
		return [][]member{own}
	}
	for _, in := range inside {
		head := own
		if len(inside) > 1 || senseOfHolder(in.key, personHolders) != holderPlain {
			head = append(slices.Clip(own), member{"list", in.key})
		}
		if l.full(len(in.rows) * len(head)) {
			return [][]member{nil}
		}
		for _, row := range in.rows {
			rows = append(rows, append(slices.Clip(head), row...))
		}
	}
	return rows
}

// pageTables reads the tables of a web page. Lines of text before a table stand
// above it.
func pageTables(text []byte) []sheet {
	p := &page{z: html.NewTokenizer(bytes.NewReader(text)), struck: strikes{classes: struckClasses(text)}}
	for {
		kind := p.z.Next()
		if kind == html.ErrorToken {
			break
		}
		p.line += int32(bytes.Count(p.z.Raw(), []byte("\n")))
		tag, attributes := p.z.TagName()
		name := string(tag)
		if kind != html.TextToken && kind != html.CommentToken {
			p.hear(name, p.struck.see(p.z, name, kind != html.EndTagToken, attributes))
		}
		switch kind {
		case html.CommentToken:
			if s := oneLine(string(p.z.Text())); s != "" && !strings.HasPrefix(s, "[if") {
				p.above = append(p.above, s)
			}
		case html.TextToken:
			if p.skip == 0 {
				p.text()
			}
		case html.StartTagToken, html.SelfClosingTagToken:
			p.start(name, kind == html.SelfClosingTagToken)
		case html.EndTagToken:
			p.end(name)
		}
	}
	p.endTable()
	p.flushText()
	p.above = append(p.above, p.spoken...)
	if t := p.lines().table(); t != nil { // text behind the last table
		p.list = append(p.list, sheet{t: t})
	}
	return p.list
}

// page is a web page while its tables are read.
type page struct {
	z       *html.Tokenizer
	struck  strikes
	line    int32
	skip    int // scripts and styles that are open
	list    []sheet
	b       *tableBuilder // the present table, nil outside of one
	title   string        // of it: the line above
	holders []string      // names of it

	cell      strings.Builder
	inCell    bool
	inRow     bool
	inCaption bool

	words  strings.Builder
	above  []string // lines of text since the last table
	spoken []string // what attributes say
	pinned []string // of the present cell
}

// hear takes what the attributes of a tag say to where it stands: a cell, or the page.
func (p *page) hear(tag string, said []string) {
	cell := tag == "td" || tag == "th"
	switch {
	case p.b == nil || tag == "table" || tag == "caption" || !p.inRow && tag != "tr" && !cell:
		for _, s := range said {
			if !slices.Contains(p.above, s) && !slices.Contains(p.spoken, s) {
				p.spoken = append(p.spoken, s)
			}
		}
		return
	case tag == "tr":
		p.endRow()
		p.pinned = nil
	case cell:
		p.endCell()
	}
	p.pinned = append(p.pinned, said...)
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// text takes text to where it stands: a caption, a cell, or no table.
func (p *page) text() {
	text := p.z.Text()
	switch {
	case p.inCaption:
		if s := oneLine(string(text)); s != "" {
			p.holders = append(p.holders, s)
		}
	case p.inCell:
		p.cell.Write(text)
		p.struck.cell = p.struck.cell || p.struck.on() && len(bytes.TrimSpace(text)) > 0
	default:
		p.words.Write(text)
	}
}

func (p *page) start(name string, closed bool) {
	switch name {
	case "script", "style":
		if !closed {
			p.skip++
		}
	case "table":
		p.endTable()
		p.flushText()
		p.b, p.title = p.lines(), ""
		if n := len(p.above); n > 0 {
			p.title = p.above[n-1]
		}
		p.above = nil // what is said inside the table, but in no cell, comes behind it
	case "caption":
		p.inCaption = p.b != nil
	case "tr":
		p.endRow()
		p.inRow = p.b != nil
	case "td", "th":
		p.endCell()
		p.inCell, p.inRow = p.b != nil, p.b != nil
	case "br":
		p.cell.WriteByte(' ')
	default:
		if !p.inCell {
			p.flushText()
		}
	}
}

func (p *page) end(name string) {
	switch name {
	case "script", "style":
		p.skip = max(0, p.skip-1)
	case "table":
		p.endTable()
	case "caption":
		p.inCaption = false
	case "tr":
		p.endRow()
	case "td", "th":
		p.endCell()
	default:
		if !p.inCell {
			p.flushText()
		}
	}
}

// lines begins a table with the lines of text so far, each a row.
func (p *page) lines() *tableBuilder {
	b := &tableBuilder{}
	for _, s := range p.above {
		b.cell(s)
		b.end(p.line)
	}
	return b
}

func (p *page) flushText() {
	if s := oneLine(p.words.String()); s != "" {
		p.above = append(p.above, s)
	}
	p.words.Reset()
}

func (p *page) endCell() {
	if p.inCell && p.b != nil {
		s := oneLine(p.cell.String())
		if s != "" && p.struck.cell {
			s += struckOut
		}
		p.b.pin(strings.Join(p.pinned, "; "))
		p.b.cell(s)
		p.pinned = nil
	}
	p.struck.cell, p.inCell = false, false
	p.cell.Reset()
}

func (p *page) endRow() {
	p.endCell()
	if p.inRow && p.b != nil {
		p.b.end(p.line)
	}
	p.inRow = false
}

func (p *page) endTable() {
	p.endRow()
	if p.b != nil {
		if t := p.b.table(); t != nil {
			p.list = append(p.list, sheet{name: p.title, holders: p.holders, t: t})
		}
	}
	p.spoken = append(p.spoken, p.pinned...)
	p.b, p.holders, p.pinned = nil, nil, nil
}

// struckOut marks a cell with a line through it, which is no value any more: as
// words it is asked about.
const struckOut = " (struck out)"

// strikes follows which elements of a page have a line through their text.
type strikes struct {
	open    []string // elements, from the outermost that is struck out
	cell    bool     // text of the present cell is struck out
	classes []string // of elements that a style strikes out
}

func (s *strikes) on() bool { return len(s.open) > 0 }

// see takes note of the tag of an element and gives what its attributes say in words.
func (s *strikes) see(z *html.Tokenizer, name string, starts, attributes bool) (said []string) {
	if !starts {
		if i := slices.Index(s.open, name); i >= 0 {
			s.open = slices.Delete(s.open, i, i+1)
		}
		return nil
	}
	if name == "tr" || name == "td" || name == "th" { // their end tags may be left out
		s.open = slices.DeleteFunc(s.open, func(o string) bool { return o == name || name == "tr" && (o == "td" || o == "th") })
	}
	struck := name == "del" || name == "s" || name == "strike"
	for attributes {
		var key, value []byte
		key, value, attributes = z.TagAttr()
		switch string(key) {
		case "title", "alt", "summary", "aria-label", "abbr", "placeholder":
			if text := oneLine(string(value)); text != "" && !kindOf(text).number() {
				said = append(said, text)
			}
		case "style":
			struck = struck || bytes.Contains(bytes.ToLower(value), []byte("line-through"))
		case "class":
			for c := range strings.FieldsSeq(string(value)) {
				struck = struck || slices.Contains(s.classes, c)
			}
		}
	}
	if struck && len(s.open) < maxDepth {
		s.open = append(s.open, name)
	}
	return said
}

// struckClass finds the classes that a style of the page strikes out.
var struckClass = regexp.MustCompile(`(?is)\.([\w-]+)[^{}]*\{[^{}]*line-through`)

func struckClasses(text []byte) (list []string) {
	for _, m := range struckClass.FindAllSubmatch(text, 100) {
		list = append(list, string(m[1]))
	}
	return list
}
