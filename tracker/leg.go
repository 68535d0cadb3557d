package tracker

import (
	"fmt"
	"strings"
)

// Leg is one of the four legs. The zero Leg is none.
type Leg int

// The legs by their standard tags.
const (
	LF Leg = iota + 1 // left fore
	RF                // right fore
	RH                // right hind
	LH                // left hind
)

var legTags = [...]string{"", "LF", "RF", "RH", "LH"}

// Legs lists the legs in the default walking order: one circuit that starts where people approach
// (common practice, no source).
func Legs() []Leg { return []Leg{LF, RF, RH, LH} }

// String gives the tag, such as "LF".
func (l Leg) String() string {
	if l < LF || l > LH {
		return ""
	}
	return legTags[l]
}

// Fore tells a front leg from a hind leg.
func (l Leg) Fore() bool { return l == LF || l == RF }

// Left tells a left (near) leg from a right (off) leg.
func (l Leg) Left() bool { return l == LF || l == LH }

// ParseLeg reads a tag such as "LF".
func ParseLeg(tag string) (Leg, error) {
	for _, l := range Legs() {
		if tag == l.String() {
			return l, nil
		}
	}
	return 0, fmt.Errorf("%q is not a leg: write LF, RF, RH or LH", tag)
}

// WalkingOrder is the order in which the four legs are looked at, each once.
type WalkingOrder []Leg

// ParseWalkingOrder reads an order such as "LF RF RH LH"; each leg must stand in it once.
func ParseWalkingOrder(text string) (WalkingOrder, error) {
	var order WalkingOrder
	seen := map[Leg]bool{}
	for _, tag := range strings.Fields(strings.ReplaceAll(text, ",", " ")) {
		leg, err := ParseLeg(strings.ToUpper(tag))
		if err != nil {
			return nil, err
		}
		if seen[leg] {
			return nil, fmt.Errorf("%s stands twice in the walking order", leg)
		}
		seen[leg] = true
		order = append(order, leg)
	}
	if len(order) != 4 {
		return nil, fmt.Errorf("a walking order names each of LF, RF, RH and LH once")
	}
	return order, nil
}

// String writes the order as "LF RF RH LH".
func (o WalkingOrder) String() string {
	tags := make([]string, len(o))
	for i, l := range o {
		tags[i] = l.String()
	}
	return strings.Join(tags, " ")
}

// Place gives the position of a leg in the order, 0 to 3; a leg that is missing comes last.
func (o WalkingOrder) Place(leg Leg) int {
	for i, l := range o {
		if l == leg {
			return i
		}
	}
	return len(o)
}

// LegWords chooses how a yard calls its sides.
type LegWords int

// The two ways of naming sides: near is left and off is right.
const (
	LeftRight LegWords = iota + 1
	NearOff
)
