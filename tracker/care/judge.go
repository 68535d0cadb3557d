package care

import (
	"time"

	"leground/tracker"
)

func rejudge(tx Tx, yard tracker.Yard, site tracker.Site, now time.Time) (*tracker.Judgement, error) {
	return nil, nil
}
