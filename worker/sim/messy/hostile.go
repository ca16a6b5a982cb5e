package messy

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"fmt"
	"strings"
)

// Bomb is a zip whose one entry unpacks to size bytes, a multiple of 16 MiB. It
// is put together from one packed piece, so that making it is quick.
func Bomb(size int) []byte {
	const piece = 16 << 20
	var stream, one, b bytes.Buffer
	w, _ := flate.NewWriter(&one, flate.BestCompression) // fails for an unknown level only
	_, _ = w.Write(bytes.Repeat([]byte("0"), piece))
	_ = w.Flush()
	stream.Write(bytes.Repeat(one.Bytes(), size/piece))
	w.Reset(&stream)
	_ = w.Close()
	z := zip.NewWriter(&b)
	f, err := z.CreateRaw(&zip.FileHeader{Name: "export.csv", Method: zip.Deflate, CompressedSize64: uint64(stream.Len()), UncompressedSize64: uint64(size)})
	if err == nil {
		_, err = f.Write(stream.Bytes())
	}
	if err != nil {
		panic("messy: " + err.Error()) // cannot be: a buffer takes everything
	}
	_ = z.Close()
	return b.Bytes()
}

// EmptyRows is a workbook whose one sheet has as many rows as a sheet can have,
// and nothing in them.
func EmptyRows() []byte {
	var rows strings.Builder
	for i := range 1 << 20 {
		fmt.Fprintf(&rows, `<row r="%d" spans="1:3" ht="15" customHeight="1"/>`, i+1)
	}
	return bookForm{sheets: 1}.pack(func(int) string { return sheetXML(rows.String()) })
}

// ZipInZip is a table packed twice.
func ZipInZip(table []byte) []byte { return zipOf("a.zip", zipOf("a.csv", table)) }
