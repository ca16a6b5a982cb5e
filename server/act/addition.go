package act

import (
	"context"

	"wearround/store"
)

// Addition is what a form adds to a wear.
type Addition func(ctx context.Context, a store.Actor) error
