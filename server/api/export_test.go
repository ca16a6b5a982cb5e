package api

// OperationIDs names every operation.
func OperationIDs() []string {
	var out []string
	for _, o := range operations {
		out = append(out, o.id)
	}
	return out
}
