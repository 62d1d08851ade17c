package profiles

import (
	"fmt"

	"example.org/restpoint/controller"
	"example.org/restpoint/controller/units"
)

// WithGravities gives the schedule with a batch's own gravities; an empty text
// leaves the schedule's.
func WithGravities(s *controller.Schedule, original, final string) (*controller.Schedule, error) {
	c := *s
	var err error
	if original != "" {
		if c.Wort.Original, err = units.ParseGravity(original); err != nil {
			return nil, fmt.Errorf("original gravity: %w", err)
		}
	}
	if final != "" {
		if c.Wort.Final, err = units.ParseGravity(final); err != nil {
			return nil, fmt.Errorf("final gravity: %w", err)
		}
	}
	if c.Wort.Original <= c.Wort.Final {
		return nil, fmt.Errorf("the original gravity %s is not above the final gravity %s", c.Wort.Original.Fixed(4), c.Wort.Final.Fixed(4))
	}
	return &c, nil
}
