package main

import (
	"fmt"
	"os"

	"wearround/worker/wear"
	"wearround/worker/wear/protocolfile"
)

// loadProtocol reads and checks a protocol file; without a name it gives the
// shipped proposal.
func loadProtocol(name string) (*wear.Protocol, error) {
	if name == "" {
		return wear.DefaultProtocol(), nil
	}
	data, err := os.ReadFile(name)
	if err != nil {
		return nil, fmt.Errorf("protocol file: %w", err)
	}
	p, err := protocolfile.Read(data)
	if err != nil {
		return nil, fmt.Errorf("protocol file %s: %w", name, err)
	}
	return p, nil
}
