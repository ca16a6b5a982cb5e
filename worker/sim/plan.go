package sim

// Spec says what wear i will be, before it is invented.
func (p *Practice) Spec(i int) Spec { return p.plans[i].spec }
