package intake_test

import "time"

// now is the moment of reading in all tests.
var now = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
