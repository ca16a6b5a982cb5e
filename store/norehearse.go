//go:build !rehearse

package store

const rehearse = false
