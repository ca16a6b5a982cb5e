package intake

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"errors"
	"io"
	"io/fs"
	"path"
	"regexp"
	"strings"

	"wearround/worker/wear"
)

// Limits while unpacking, counted on the bytes that come out and not on what
// the archive claims.
const (
	maxEntries = 100
	maxRatio   = 100
	smallFile  = 1 << 20 // below this the ratio does not matter
)

// signatures are the first bytes of files that are no text.
var signatures = []struct{ magic, code string }{
	{"%PDF", "pdf"},
	{"\x89PNG", "image"}, {"\xff\xd8\xff", "image"}, {"GIF8", "image"}, {"II*\x00", "image"}, {"MM\x00*", "image"}, {"BM", "bitmap"},
	{"\xd0\xcf\x11\xe0", "workbook_old"},
	{"{\\rtf", "document"},
	{"7z\xbc\xaf", "archive"}, {"Rar!", "archive"}, {"BZh", "archive"}, {"\xfd7zXZ", "archive"}, {"\x28\xb5\x2f\xfd", "archive"},
	{"SQLite format 3\x00", "binary"}, {"\x7fELF", "binary"}, {"\xff\xfe\x00\x00", "binary"},
}

// unpack gives the bytes of the one text inside the file: the file itself, or
// what a gzip or zip wraps, and the entries of an archive. Nothing is unpacked
// twice. For a workbook, which is a zip too, it gives its parts instead.
func unpack(data []byte) (text []byte, workbook []*zip.File, several []entry, ref *wear.Refusal) {
	if len(data) > maxBytes {
		return nil, nil, nil, refuseTooBig("more than 64 MiB")
	}
	wrapped := true
	switch {
	case bytes.HasPrefix(data, []byte("PK\x03\x04")), bytes.HasPrefix(data, []byte("PK\x05\x06")):
		data, workbook, several, ref = unzip(data)
	case bytes.HasPrefix(data, []byte("\x1f\x8b")):
		data, ref = gunzip(data)
	default:
		wrapped = false
	}
	if ref != nil || workbook != nil || len(several) > 1 {
		return nil, workbook, several, ref
	}
	if len(data) == 0 {
		return nil, nil, nil, refuseEmpty()
	}
	return data, nil, several, recognise(data, wrapped)
}

// recognise refuses what is known by its first bytes and is not a text table.
func recognise(data []byte, wrapped bool) *wear.Refusal {
	for _, s := range signatures {
		if !bytes.HasPrefix(data, []byte(s.magic)) {
			continue
		}
		switch s.code {
		case "pdf":
			return refuse("pdf", "The file is a PDF report, not a list of readings.", exportAsText)
		case "image":
			return refuse("image", "The file is a picture, not a list of readings.", exportAsText)
		case "bitmap":
			if !bytes.ContainsRune(data[:min(len(data), 64)], 0) {
				continue // text may begin with the letters BM
			}
			return refuse("image", "The file is a picture, not a list of readings.", exportAsText)
		case "workbook_old":
			if bytes.Contains(data, utf16Text("EncryptedPackage")) {
				return refuse("workbook_locked", "The workbook is protected by a password.", "Save it without a password, or save the sheet with the readings as plain text (CSV), and drop that file.")
			}
			return refuse("workbook_old", "The file is a workbook or document in an old binary form.", "Open it, save the sheet with the readings as plain text (CSV), and drop that file.")
		case "document":
			return refuse("document", "The file is a written document, not a list of readings.", exportAsText)
		case "archive":
			return refuse("archive", "The file is packed in a form that is not read here.", "Unpack it and drop the file inside.")
		}
		return refuseBinary()
	}
	if len(data) > 12 && (string(data[4:8]) == "ftyp" || string(data[:4]) == "RIFF" && string(data[8:12]) == "WEBP") {
		return refuse("image", "The file is a picture or film, not a list of readings.", exportAsText)
	}
	if wrapped && (bytes.HasPrefix(data, []byte("PK\x03\x04")) || bytes.HasPrefix(data, []byte("\x1f\x8b"))) {
		return refuse("zip_nested", "The file is an archive inside an archive.", "Unpack it and drop the file inside.")
	}
	return nil
}

// utf16Text is how a compound file writes the name of a part.
func utf16Text(s string) []byte {
	out := make([]byte, 0, 2*len(s))
	for i := range len(s) {
		out = append(out, s[i], 0)
	}
	return out
}

// errTooBig reports output beyond the limits.
var errTooBig = errors.New("intake: unpacks to too many bytes")

// readAll reads r up to the limits for a packed size.
func readAll(r io.Reader, packed int) ([]byte, error) {
	most := int64(maxBytes)
	if ratio := int64(packed)*maxRatio + smallFile; ratio < most {
		most = ratio
	}
	out, err := io.ReadAll(io.LimitReader(r, most+1))
	if err == nil && int64(len(out)) > most {
		err = errTooBig
	}
	return out, err
}

func gunzip(data []byte) ([]byte, *wear.Refusal) {
	z, err := gzip.NewReader(bytes.NewReader(data))
	if err == nil {
		data, err = readAll(z, len(data))
	}
	return data, refuseUnpack(err)
}

// refuseUnpack turns an unpacking error into plain words; nil stays nil.
func refuseUnpack(err error) *wear.Refusal {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, errTooBig):
		return refuseTooBig("it unpacks to far more than readings could need")
	case errors.Is(err, io.ErrUnexpectedEOF):
		return refuse("cut_short", "The packed file stops before its end: it was probably copied before it was finished.", "Copy the file again and drop the whole of it.")
	}
	return refuse("zip_damaged", "The packed file is damaged and cannot be unpacked.", "Make the archive again, or drop the file that should be inside it.")
}

// unzip unpacks the files in a zip archive, or gives the parts of a workbook.
func unzip(data []byte) (text []byte, workbook []*zip.File, several []entry, ref *wear.Refusal) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil && !errors.Is(err, zip.ErrInsecurePath) {
		return nil, nil, nil, refuse("zip_damaged", "The zip archive is damaged or was copied before it was finished.", "Copy the file again, or drop the file that should be inside it.")
	}
	if len(z.File) > maxEntries {
		return nil, nil, nil, refuse("zip_entries", "The zip archive holds more than 100 files.", "Drop the file with the readings alone.")
	}
	var tables []*zip.File
	for _, f := range z.File {
		switch {
		case f.Name == "[Content_Types].xml" || f.Name == "mimetype":
			workbook, ref = office(z.File)
			return text, workbook, nil, ref
		case f.FileInfo().IsDir() || clutter(f.Name):
			continue
		case f.Mode()&fs.ModeType != 0:
			return nil, nil, nil, refuse("zip_link", "The zip archive holds a link instead of a file.", "Drop the file itself.")
		case f.Flags&1 != 0:
			return nil, nil, nil, refuse("zip_encrypted", "The zip archive is protected by a password.", "Unpack it and drop the file inside.")
		}
		tables = append(tables, f)
	}
	if len(tables) == 0 {
		return nil, nil, nil, refuse("empty", "The zip archive holds no file.", "Drop the file with the readings.")
	}
	total := 0
	for _, f := range tables {
		r, err := f.Open()
		if err != nil {
			return nil, nil, nil, refuseUnpack(err)
		}
		one, err := readAll(r, len(data))
		r.Close()
		if err == nil {
			if total += len(one); total > maxBytes {
				err = errTooBig
			}
		}
		if err != nil {
			return nil, nil, nil, refuseUnpack(err)
		}
		several = append(several, entry{f.Name, one})
	}
	return several[0].data, nil, several, nil
}

// entry is a file in an archive, under its full name there.
type entry struct {
	name string
	data []byte
}

// folders are the names of the folders that an entry lies in.
func (e entry) folders() []string {
	return strings.FieldsFunc(path.Dir(e.name), func(r rune) bool {
		return r == '/' || r == '\\' || r == '.' && !strings.ContainsAny(path.Dir(e.name), "/\\")
	})
}

// office tells a workbook from other documents that are zip archives.
func office(parts []*zip.File) (workbook []*zip.File, ref *wear.Refusal) {
	for _, f := range parts {
		if strings.HasPrefix(f.Name, "word/") || strings.HasPrefix(f.Name, "ppt/") {
			return nil, refuse("document", "The file is a written document, not a list of readings.", exportAsText)
		}
		if strings.HasPrefix(f.Name, "xl/") {
			workbook = parts
		}
	}
	if workbook == nil {
		return nil, refuseWorkbook()
	}
	return workbook, nil
}

// clutter reports entries that operating systems add by themselves.
func clutter(name string) bool {
	base := path.Base(name)
	return strings.HasPrefix(name, "__") || strings.HasPrefix(base, ".") || strings.EqualFold(base, "thumbs.db") || strings.EqualFold(base, "desktop.ini")
}

// mailHead is a line of the head of a mail with parts.
var mailHead = regexp.MustCompile(`(?im)^content-type:\s*multipart/`)

// isMail reports a mail that may have something attached to it.
func isMail(text []byte) bool {
	head, _, _ := bytes.Cut(bytes.ReplaceAll(text[:min(len(text), 16384)], []byte("\r\n"), []byte("\n")), []byte("\n\n"))
	return mailHead.Match(head)
}

// recogniseText refuses text that is no delimited table.
func recogniseText(text []byte) *wear.Refusal {
	s := strings.TrimLeft(string(text[:min(len(text), 4096)]), spaces+"\r\n")
	if s == "" {
		if len(bytes.TrimLeft(text, spaces+"\r\n")) == 0 {
			return refuseEmpty()
		}
		return nil
	}
	after := strings.TrimLeft(s[1:], spaces+"\r\n")
	switch {
	case s[0] == '<' && after != "" && (after[0] == '!' || after[0] == '?' || after[0] >= 'a' && after[0] <= 'z' || after[0] >= 'A' && after[0] <= 'Z'):
		if lower := strings.ToLower(s); strings.Contains(lower, "<html") || strings.Contains(lower, "<table") && strings.Contains(lower, "<tr") {
			return refuse("html", "The file is a web page, perhaps a sign-in or error page saved by mistake.", exportAsText)
		}
		return refuse("xml", "The file is XML.", exportAsText)
	}
	return nil
}
