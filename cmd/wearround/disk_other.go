//go:build !linux

package main

// diskKind is not told by this system.
func diskKind(string) string { return "" }

// sameDisk is not told by this system.
func sameDisk(string, string) bool { return false }
