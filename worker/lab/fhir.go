package lab

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"time"

	"wearround/worker/intake"
	"wearround/worker/wear"
)

// isFHIR reports whether bytes look like health records that hold results of a
// laboratory and no readings or events of a wear.
func isFHIR(data []byte) bool {
	data = trimBOM(data)
	has := func(s string) bool { return bytes.Contains(data, []byte(s)) }
	if len(data) == 0 || data[0] != '{' || !has(`"resourceType"`) {
		return false
	}
	for _, s := range []string{`"105272-9"`, `"99504-3"`, "/CodeSystem/wear-event", `"valueSampledData"`} {
		if has(s) {
			return false
		}
	}
	if has(`"DiagnosticReport"`) || has(`"laboratory"`) {
		return true
	}
	for code := range loinc {
		if has(`"` + code + `"`) {
			return true
		}
	}
	return false
}

// node is one value of a document. What is read of it is marked, so that in the
// end whatever nobody has read can be told.
type node struct {
	members map[string]*node
	items   []*node
	leaf    string
	filled  bool // a leaf that says something
	used    bool
}

func nodeOf(v any) *node {
	switch v := v.(type) {
	case map[string]any:
		n := &node{members: map[string]*node{}}
		for k, x := range v {
			n.members[k] = nodeOf(x)
		}
		return n
	case []any:
		n := &node{}
		for _, x := range v {
			n.items = append(n.items, nodeOf(x))
		}
		return n
	case string:
		return &node{leaf: v, filled: strings.TrimSpace(v) != ""}
	case json.Number:
		return &node{leaf: v.String(), filled: true}
	case bool:
		return &node{leaf: fmt.Sprint(v), filled: true}
	}
	return &node{}
}

// at goes down a path of members; what is not there is an empty node.
func (n *node) at(path ...string) *node {
	for _, p := range path {
		if n = n.members[p]; n == nil {
			return &node{}
		}
	}
	return n
}

// text is a leaf, which counts as read.
func (n *node) text(path ...string) string {
	n = n.at(path...)
	n.used = true
	return n.leaf
}

// first is the first item of a list, or an empty node.
func (n *node) first() *node {
	if len(n.items) == 0 {
		return &node{}
	}
	return n.items[0]
}

// leaves calls f with every filled leaf and the name of the member that it lies in.
func (n *node) leaves(where string, f func(where string, leaf *node)) {
	if n.filled {
		f(where, n)
	}
	for _, x := range n.items {
		x.leaves(where, f)
	}
	for _, k := range slices.Sorted(maps.Keys(n.members)) {
		at := where
		if at == "" {
			at = k
		}
		n.members[k].leaves(at, f)
	}
}

// resource is one resource with the addresses that others know it by.
type resource struct {
	*node
	kind      string
	address   string
	contained map[string]*resource
	report    *resource // that an observation is part of
	done      bool
}

// reader is what a file of resources is read with.
type reader struct {
	*ledger
	list  []*resource
	known map[string]*resource
}

// readFHIR reads one document, or one a line.
func (l *ledger) readFHIR(data []byte) *wear.Refusal {
	data = trimBOM(data)
	if ref := intake.CheckJSON(data); ref != nil {
		return ref
	}
	r := &reader{ledger: l, known: map[string]*resource{}}
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	for {
		var v map[string]any
		err := d.Decode(&v)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return refuse("json", "The file begins like health records in JSON but is not.", "Ask the laboratory for FHIR R4 in JSON.")
		}
		if ref := r.document(nodeOf(v)); ref != nil {
			return ref
		}
	}
	r.link()
	for _, x := range r.list {
		if x.kind == "Observation" {
			r.observation(x)
		}
	}
	for _, x := range r.list {
		r.count(x)
	}
	return nil
}

// document takes in one resource, or those of a bundle.
func (r *reader) document(n *node) *wear.Refusal {
	if n.at("resourceType").leaf != "Bundle" {
		r.add(n, "")
		return nil
	}
	switch kind := n.text("type"); kind {
	case "collection", "transaction", "batch", "searchset", "message":
	default:
		return refuse("bundle", fmt.Sprintf("The file is a FHIR bundle of type %q, which is not for passing on results.", clip(kind)), "Ask the laboratory for a bundle of type collection.")
	}
	for _, e := range n.at("entry").items {
		url := e.text("fullUrl")
		if url != "" && r.known[url] != nil {
			return refuse("json_keys", "Two entries of the FHIR bundle have the same address, so one would hide the other.", "Ask the laboratory for a bundle in which each entry has an address of its own.")
		}
		if m := e.text("request", "method"); m != "" && m != "POST" && m != "PUT" {
			return refuse("bundle", "An entry of the FHIR bundle asks for something else than to be stored.", "Ask the laboratory for a bundle of results alone.")
		}
		r.add(e.at("resource"), url)
	}
	rest := &resource{node: &node{members: maps.Clone(n.members)}, kind: "Bundle", done: true}
	entries := &node{}
	for _, e := range n.at("entry").items {
		without := maps.Clone(e.members)
		delete(without, "resource")
		entries.items = append(entries.items, &node{members: without})
	}
	rest.members["entry"] = entries
	r.list = append(r.list, rest)
	return nil
}

func (r *reader) add(n *node, url string) {
	x := &resource{node: n, kind: n.text("resourceType"), address: url, contained: map[string]*resource{}}
	r.list = append(r.list, x)
	if url != "" {
		r.known[url] = x
	}
	if id := n.text("id"); id != "" {
		r.known[x.kind+"/"+id] = x
	}
	for _, c := range n.at("contained").items {
		inner := &resource{node: c, kind: c.text("resourceType"), contained: x.contained}
		x.contained["#"+c.text("id")] = inner
		if inner.kind == "Observation" {
			inner.report = x
			r.list = append(r.list, inner)
		}
	}
	delete(n.members, "contained") // each stands for itself
	for _, inner := range x.contained {
		if inner.kind != "Observation" {
			r.list = append(r.list, inner)
		}
	}
}

// find gives the resource that a reference names.
func (r *reader) find(from *resource, ref string) *resource {
	if x := from.contained[ref]; x != nil {
		return x
	}
	if x := r.known[ref]; x != nil {
		return x
	}
	if parts := strings.Split(ref, "/"); len(parts) > 2 { // an absolute address of a known resource
		return r.known[strings.Join(parts[len(parts)-2:], "/")]
	}
	return nil
}

// link tells each observation which report it is part of.
func (r *reader) link() {
	for _, x := range r.list {
		if x.kind != "DiagnosticReport" {
			continue
		}
		for _, m := range x.at("result").items {
			if o := r.find(x, m.text("reference")); o != nil && o.report == nil {
				o.report = x
			}
		}
	}
}

// count puts the leaves of a resource into the account.
func (r *reader) count(x *resource) {
	x.leaves("", func(where string, leaf *node) {
		name := x.kind + "." + where
		switch {
		case leaf.used && x.kind == "Observation":
			r.account(name, wear.FateReading, "a result, or asked about", 1)
		case leaf.used:
			r.account(name, wear.FateFact, "whose results they are, and of which order", 1)
		case where == "text" || where == "presentedForm":
			r.account(name, wear.FateRepeat, "the same for people to read", 1)
		default:
			r.account(name, wear.FateAside, "not used", 1)
		}
	})
}

// coded gives the LOINC code of a concept, another code, and its words.
func (n *node) coded() (loinc, local, text string) {
	text = n.text("text")
	for _, c := range n.at("coding").items {
		code, system := c.text("code"), c.text("system")
		if system == "http://loinc.org" {
			loinc = cmp.Or(loinc, code)
		} else {
			local = cmp.Or(local, code)
		}
		text = cmp.Or(text, c.text("display"))
	}
	return loinc, local, text
}

// subject reads whose an observation is: the patient that it or its report
// refers to.
func (r *reader) subject(x *resource) int {
	var p Person
	for _, at := range []*resource{x, x.report} {
		if at == nil || len(p.IDs) > 0 {
			continue
		}
		s := at.at("subject")
		found := r.find(at, s.text("reference"))
		p.add(s.at("identifier"))
		if found == nil || found.kind != "Patient" {
			continue
		}
		for _, id := range found.at("identifier").items {
			p.add(id)
		}
		name := found.at("name").first()
		p.Family = name.text("family")
		p.Given, _, _ = strings.Cut(name.at("given").first().text(), " ")
		if p.Family == "" {
			words := strings.Fields(name.text("text"))
			if n := len(words); n > 1 {
				p.Given, p.Family = words[0], words[n-1]
			}
		}
		if _, err := time.Parse(time.DateOnly, found.text("birthDate")); err == nil {
			p.Born = found.text("birthDate")
		}
	}
	return r.person(p)
}

// nationalSystems are systems of identifiers that are not a practice's.
var nationalSystems = []string{
	"http://ns.electronichealth.net.au/id/hi/ihi/1.0", "http://ns.electronichealth.net.au/id/medicare-number", "http://ns.electronichealth.net.au/id/dva",
}

func (p *Person) add(id *node) {
	system, value := id.text("system"), strings.TrimSpace(id.text("value"))
	if value != "" && !slices.Contains(nationalSystems, system) && !slices.Contains(p.IDs, value) {
		p.IDs = append(p.IDs, value)
	}
}

// observation reads one observation, with those inside it.
func (r *reader) observation(x *resource) {
	if m := x.at("modifierExtension"); len(m.items) > 0 || x.report != nil && len(x.report.at("modifierExtension").items) > 0 {
		r.res.Rows++
		r.seenAside("the result", "modifier:"+mark(x.address, x.at("id").leaf), "A result carries an extension that changes its meaning and that is not known here. Has somebody seen to it?")
		return
	}
	f := found{}
	f.loinc, f.local, f.text = x.at("code").coded()
	value := len(x.at("valueQuantity").members) > 0 || x.at("valueString").filled || x.at("valueInteger").filled || len(x.at("valueCodeableConcept").members) > 0
	absent := len(x.at("dataAbsentReason").members) > 0
	components := x.at("component").items
	status := x.text("status")
	if !value && !absent && (len(components) > 0 || len(x.at("hasMember").items) > 0) && loinc[f.loinc] == "" {
		status = cmp.Or(status, "final") // a heading over others
	} else {
		components = nil
	}
	f.person = r.subject(x)
	f.status = fhirStatus(status)
	f.key = x.key()
	f.issued, f.taken = x.when("issued"), x.taken(r.Zone)
	if report := x.report; report != nil {
		if f.issued.IsZero() {
			f.issued = report.when("issued")
		}
		if f.taken.IsZero() {
			f.taken = report.taken(r.Zone)
		}
		if s := report.text("status"); s == "cancelled" || s == "entered-in-error" {
			f.status = Cancelled
		}
		if c := report.text("conclusion"); c != "" {
			f.words = append(f.words, c)
		}
		if len(f.key) == 0 {
			f.key = report.key()
		}
		_, _, f.context = report.at("code").coded()
	}
	for _, n := range x.at("note").items {
		f.words = append(f.words, n.text("text"))
	}
	if len(components) == 0 {
		f.read(x.node)
		r.settleAs(&f)
		return
	}
	for _, c := range components {
		part := f
		part.loinc, part.local, part.text = c.at("code").coded()
		part.read(c)
		r.settleAs(&part)
	}
}

func (r *reader) settleAs(f *found) {
	if f.value == "" && f.status != Cancelled && loinc[f.loinc] == "" && !mentions.MatchString(f.text) {
		return // a heading, or a note
	}
	if !f.number && f.unit == "" && loinc[f.loinc] == "" && f.value != "" && !mentions.MatchString(f.text) {
		r.res.Rows++
		return // a test in words that is not kept
	}
	r.settle(f)
}

// read reads the value of an observation or of one of its components.
func (f *found) read(n *node) {
	q := n.at("valueQuantity")
	switch {
	case len(q.members) > 0:
		f.value, f.number = number(q.text("comparator") + q.text("value"))
		if f.unit = q.text("code"); f.unit == "" || q.text("system") != "http://unitsofmeasure.org" {
			f.unit = cmp.Or(q.text("unit"), f.unit)
		}
		q.text("unit")
	case n.at("valueString").filled:
		f.value, f.number = number(n.text("valueString"))
	case n.at("valueInteger").filled:
		f.value, f.number = number(n.text("valueInteger"))
	default:
		_, _, words := n.at("valueCodeableConcept").coded()
		_, code, reason := n.at("dataAbsentReason").coded()
		f.value = cmp.Or(words, reason, code)
	}
	for _, i := range n.at("interpretation").items {
		_, code, words := i.coded()
		f.flag = cmp.Or(f.flag, code, words)
	}
	ranged := n.at("referenceRange").first()
	if low, high := ranged.text("low", "value"), ranged.text("high", "value"); low+high != "" {
		f.ranged = low + " to " + high
	}
	f.ranged = cmp.Or(f.ranged, ranged.text("text"))
}

// key is what the sender knows a resource by.
func (x *resource) key() []string {
	for _, id := range x.at("identifier").items {
		if v := id.text("value"); v != "" {
			return []string{"identifier", id.text("system"), v}
		}
	}
	if id := x.at("id").leaf; id != "" && x.address != "" && !strings.HasPrefix(x.address, "urn:") {
		return []string{"address", x.address}
	}
	return nil
}

func (x *resource) when(member string) time.Time {
	at, err := time.Parse(time.RFC3339, x.text(member))
	if err != nil {
		return time.Time{}
	}
	return at
}

// taken is when the sample was taken. A time without an offset is no FHIR time;
// a day alone is its beginning on the practice's clock, which the standard leaves open.
func (x *resource) taken(zone *time.Location) time.Time {
	for _, text := range []string{x.text("effectiveDateTime"), x.text("effectiveInstant"), x.text("effectivePeriod", "start")} {
		if at, err := time.Parse(time.RFC3339, text); err == nil {
			return at
		}
		if at, err := time.ParseInLocation(time.DateOnly, text, zone); err == nil {
			return at
		}
	}
	return time.Time{}
}

// fhirStatus reads the status of an observation.
func fhirStatus(s string) Status {
	switch s {
	case "final":
		return Final
	case "amended", "corrected", "appended":
		return Corrected
	case "cancelled", "entered-in-error":
		return Cancelled
	}
	return Preliminary
}
