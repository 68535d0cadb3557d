package tracker

import "fmt"

// Region is a part of the leg or foot, by the trade's names from the top down.
type Region int

// The regions. AboveJoint and Joint are the knee (carpus) on a fore leg and the hock (tarsus) on a
// hind leg; the last eight are parts of the foot.
const (
	AboveJoint Region = iota + 1
	Joint
	PointOfHock
	UpperCannon
	LowerCannon
	Fetlock
	Ergot
	Pastern
	PasternFold
	HeelBulb
	Coronet
	Wall
	Sole
	WhiteLine
	Frog
	CentralSulcus
	CollateralSulcus
	Bar
)

var regionCodes = [...]string{"", "above", "joint", "point-of-hock", "upper-cannon", "lower-cannon", "fetlock", "ergot",
	"pastern", "pastern-fold", "heel-bulb", "coronet", "wall", "sole", "white-line", "frog",
	"central-sulcus", "collateral-sulcus", "bar"}

// String gives the stored code of the region, such as "pastern-fold".
func (r Region) String() string { return code(regionCodes[:], int(r)) }

// ParseRegion reads a stored code.
func ParseRegion(text string) (Region, error) {
	n, err := parseCode("region", regionCodes[:], text)
	return Region(n), err
}

// Foot tells whether the region belongs to the foot rather than to the leg above it.
func (r Region) Foot() bool { return r >= Wall }

// Distal tells whether the region lies on the lower leg, from the knee or hock down, where open
// wounds of horses widen at first and close slowly.
func (r Region) Distal() bool { return r >= Joint }

// RegionsOf lists the regions of a leg from the top down.
func RegionsOf(leg Leg) []Region {
	var regions []Region
	for r := AboveJoint; r <= Bar; r++ {
		if r == PointOfHock && leg.Fore() {
			continue
		}
		regions = append(regions, r)
	}
	return regions
}

// Aspect is a face of the leg.
type Aspect int

// The aspects. The back of a fore leg is palmar, the back of a hind leg plantar; screens say "back".
const (
	Dorsal Aspect = iota + 1
	Lateral
	Medial
	Palmar
	Plantar
	AllRound // runs round the leg
	Ground   // the bearing surface of the foot, which has no face
)

var aspectCodes = [...]string{"", "dorsal", "lateral", "medial", "palmar", "plantar", "all-round", "ground"}

// String gives the stored code of the aspect, such as "palmar".
func (a Aspect) String() string { return code(aspectCodes[:], int(a)) }

// ParseAspect reads a stored code.
func ParseAspect(text string) (Aspect, error) {
	n, err := parseCode("aspect", aspectCodes[:], text)
	return Aspect(n), err
}

// Back gives the aspect that "back" means on this leg.
func (l Leg) Back() Aspect {
	if l.Fore() {
		return Palmar
	}
	return Plantar
}

// CheckPlace refuses a region and aspect that cannot stand together on this leg: palmar is fore
// only, plantar hind only, the point of the hock hind only, and the ground surface of the foot takes
// medial, lateral or ground, which nothing above it does.
func CheckPlace(leg Leg, region Region, aspect Aspect) error {
	switch {
	case leg.String() == "" || region.String() == "" || aspect.String() == "":
		return fmt.Errorf("say which leg, which part of it and which face")
	case region == PointOfHock && leg.Fore():
		return fmt.Errorf("a fore leg has no hock: choose another part of the leg")
	case aspect == Palmar && !leg.Fore():
		return fmt.Errorf("the back of a hind leg is plantar, not palmar: choose back")
	case aspect == Plantar && leg.Fore():
		return fmt.Errorf("the back of a fore leg is palmar, not plantar: choose back")
	case region >= Sole && aspect != Medial && aspect != Lateral && aspect != Ground:
		return fmt.Errorf("on the ground surface of the foot choose inside, outside or underneath")
	case region < Sole && aspect == Ground:
		return fmt.Errorf("only the ground surface of the foot has an underneath: choose another side")
	}
	return nil
}

func code(codes []string, n int) string {
	if n < 0 || n >= len(codes) {
		return ""
	}
	return codes[n]
}

func parseCode(noun string, codes []string, text string) (int, error) {
	for i, c := range codes {
		if i > 0 && c == text {
			return i, nil
		}
	}
	return 0, fmt.Errorf("%q is not a known %s", text, noun)
}
