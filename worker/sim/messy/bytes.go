package messy

import (
	"bytes"
	"encoding/binary"
	"strings"
	"unicode/utf16"
)

// openQuote takes one closing quote away at times.
func openQuote(c chance, d *document, data []byte) []byte {
	text := string(data)
	i := strings.Index(text, "\"\"as ever\"\"\"")
	if !c.happens(0.3) || i < 0 || i*2 > len(text) || d.quoted {
		return data
	}
	d.refused("open_quote", "no_table", "cut_short")
	d.answers["unreadable_rows"] = "stop"
	d.refusals["unreadable_rows"] = true
	return []byte(text[:i+len("\"\"as ever\"\"")] + text[i+len("\"\"as ever\"\"\""):])
}

// hugeLine adds a line longer than any table has, at times.
func hugeLine(c chance, d *document, data []byte) []byte {
	if d.workbook || !c.happens(0.1) {
		return data
	}
	d.refused("too_big", "binary", "open_quote", "zip_damaged")
	return append(data, strings.Repeat("x", 2<<20)...)
}

func halfCopied(c chance, d *document, data []byte) []byte {
	at := len(data)*2/3 + c.IntN(len(data)/4+1)
	for at < len(data)-1 && bytes.ContainsAny(data[at-2:at+1], "\r\n") { // not where a row ends, which nothing would show
		at++
	}
	d.open = true
	for _, code := range []string{"cut_short", "zip_damaged", "binary", "workbook", "open_quote", "no_table", "no_readings", "empty"} {
		d.refusals[code] = true
	}
	d.answers["unreadable_rows"], d.answers["cut_short"], d.answers["people"] = "stop", "stop", "stop"
	d.refusals["several_people"] = true
	d.refusals["unreadable_rows"] = true
	return data[:max(1, min(at, len(data)-1))]
}

func wrongKind(c chance, d *document, data []byte) []byte {
	d.refused("pdf", "image", "html", "xml", "json", "empty", "no_table", "document", "workbook_old", "binary", "cut_short", "no_glucose")
	d.nobody, d.answers["glucose_column"] = true, "stop"
	switch c.IntN(7) {
	case 0:
		return []byte("%PDF-1.7\n%âãÏÓ\n1 0 obj")
	case 1:
		return picture()
	case 2:
		return []byte("<!DOCTYPE html>\n<html><body><table><tr><td>2026-03-01 09:00</td><td>5.5</td></tr></table></body></html>")
	case 3:
		return []byte("{\"readings\": [{\"t\": 1772355600, \"v\": 5.5}]}")
	case 4:
		return nil
	case 5:
		return []byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + string(data[:min(len(data), 4000)]))
	}
	return []byte("Dear colleague,\nplease find the readings in the next message.\nWith kind regards\n")
}

// asUTF16 is little-endian with a byte-order mark.
func asUTF16(s string) []byte {
	out := []byte{0xFF, 0xFE}
	for _, u := range utf16.Encode([]rune(s)) {
		out = binary.LittleEndian.AppendUint16(out, u)
	}
	return out
}
