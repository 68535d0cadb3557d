package tracker

import "time"

// Photo is one stored picture of a site or a leg, without its bytes. It is at most PhotoEdge pixels
// along its longer edge, upright, and carries no metadata.
type Photo struct {
	ID     PhotoID
	Check  RecordID // the check it belongs to; empty: none
	Horse  HorseID
	Leg    Leg
	Site   SiteID
	At     time.Time
	By     PersonID
	Width  int // pixels
	Height int
	ThumbW int
	ThumbH int
	SHA256 string // of the stored bytes, hexadecimal
	Posted string // SHA-256 of the bytes that were posted
}

// PhotoEdge is the longest edge of a stored photo in pixels, ThumbEdge that of its thumbnail.
const (
	PhotoEdge = 1600
	ThumbEdge = 320
)
