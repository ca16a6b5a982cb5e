package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"time"

	"github.com/parquet-go/parquet-go"
)

// networkCode is a code that can stand in a path and in a query.
var networkCode = regexp.MustCompile(`^[A-Za-z0-9_-]{1,40}$`)

// writeNetwork writes the rows of a practice for its network, and says how many.
func (d *desk) writeNetwork(ctx context.Context, to, code string, zone *time.Location, stdout io.Writer) error {
	years, err := d.Network(ctx, zone)
	if err != nil {
		return err
	}
	for _, y := range years {
		part := filepath.Join("practice="+code, fmt.Sprintf("year=%d", y.Year))
		err := errors.Join(
			writeRows(filepath.Join(to, "wears", part), y.Wears), writeRows(filepath.Join(to, "flags", part), y.Flags),
			writeRows(filepath.Join(to, "outcomes", part), y.Outcomes), writeRows(filepath.Join(to, "results", part), y.Results),
		)
		if err != nil {
			return err
		}
		if _, err := fmt.Fprintf(stdout, "%d: %d wears, %d flags, %d outcomes, %d results\n", y.Year, len(y.Wears), len(y.Flags), len(y.Outcomes), len(y.Results)); err != nil {
			return err
		}
	}
	return nil
}

// writeRows writes one file of a table; it is there whole or not at all.
func writeRows[T any](dir string, rows []T) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	f, err := os.CreateTemp(dir, ".part-*")
	if err != nil {
		return err
	}
	err = errors.Join(parquet.Write(f, rows), f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), filepath.Join(dir, "part-0.parquet"))
	}
	if err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	return nil
}
