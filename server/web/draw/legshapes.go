package draw

import (
	"math"
	"strconv"
	"strings"

	"leground/tracker"
)

// band is one part of a leg in a view: its outline in a field of 90 by 290 units, and the height at
// which its slice of the ladder starts. The hock from behind has two outlines.
type band struct {
	region tracker.Region
	top    float64
	shapes []string
}

func one(region tracker.Region, top float64, shape string) band {
	return band{region, top, []string{shape}}
}

// shapes gives the bands of a view from the top down. Side views have the toe to the left, as the
// outside of a left leg. The same eight bands stand at the same heights in every view of a leg.
func shapes(fore bool, aspect tracker.Aspect) []band {
	side := aspect == tracker.Lateral || aspect == tracker.Medial
	back := aspect == tracker.Palmar || aspect == tracker.Plantar
	switch {
	case fore && side:
		return foreSide()
	case side:
		return hindSide()
	case fore && back:
		return append(foreUpper(), backFoot()...)
	case fore:
		return append(foreUpper(), frontFoot()...)
	case back:
		return append(hindUpperBack(), backFoot()...)
	default:
		return append(hindUpperFront(), frontFoot()...)
	}
}

func foreSide() []band {
	return []band{
		one(tracker.AboveJoint, 0, "28,0 70,0 66,36 30,36"),
		one(tracker.Joint, 36, "30,36 66,36 69,50 66,70 63,84 33,84 29,68 27,52"),
		one(tracker.UpperCannon, 84, "33,84 63,84 62,126 34,126"),
		one(tracker.LowerCannon, 126, "34,126 62,126 65,168 32,168"),
		one(tracker.Fetlock, 168, "32,168 65,168 74,186 66,206 30,206 28,188"),
		one(tracker.Pastern, 206, "30,206 66,206 61,226 58,246 18,240"),
		one(tracker.Coronet, 243, "18,240 58,246 60,256 14,250"),
		one(tracker.Wall, 253, "14,250 60,256 62,290 0,290"),
	}
}

func hindSide() []band {
	return []band{
		one(tracker.AboveJoint, 0, "14,0 66,0 62,26 26,26"),
		one(tracker.Joint, 26, "26,26 62,26 82,30 84,46 70,72 66,92 34,92 30,62"),
		one(tracker.UpperCannon, 92, "34,92 66,92 63,130 35,130"),
		one(tracker.LowerCannon, 130, "35,130 63,130 66,168 32,168"),
		one(tracker.Fetlock, 168, "32,168 66,168 75,186 67,206 30,206 28,188"),
		one(tracker.Pastern, 206, "30,206 67,206 62,226 59,246 19,240"),
		one(tracker.Coronet, 243, "19,240 59,246 61,256 15,250"),
		one(tracker.Wall, 253, "15,250 61,256 63,290 2,290"),
	}
}

func foreUpper() []band {
	return []band{
		one(tracker.AboveJoint, 0, "24,0 66,0 62,36 28,36"),
		one(tracker.Joint, 36, "28,36 62,36 66,52 64,72 60,84 30,84 26,72 24,52"),
		one(tracker.UpperCannon, 84, "30,84 60,84 58,126 32,126"),
		one(tracker.LowerCannon, 126, "32,126 58,126 60,168 30,168"),
		one(tracker.Fetlock, 168, "30,168 60,168 66,186 62,206 28,206 24,186"),
	}
}

func hindUpperFront() []band {
	return append([]band{
		one(tracker.AboveJoint, 0, "18,0 72,0 63,26 27,26"),
		one(tracker.Joint, 26, "27,26 63,26 66,48 63,72 58,92 32,92 27,72 24,48"),
	}, hindCannon()...)
}

func hindUpperBack() []band {
	return append([]band{
		one(tracker.AboveJoint, 0, "18,0 72,0 63,26 27,26"),
		one(tracker.PointOfHock, 26, "36,26 54,26 55,46 45,56 35,46"),
		{tracker.Joint, 56, []string{
			"27,26 36,26 35,46 45,56 45,92 32,92 27,72 24,48",
			"63,26 54,26 55,46 45,56 45,92 58,92 63,72 66,48",
		}},
	}, hindCannon()...)
}

func hindCannon() []band {
	return []band{
		one(tracker.UpperCannon, 92, "32,92 58,92 58,130 32,130"),
		one(tracker.LowerCannon, 130, "32,130 58,130 60,168 30,168"),
		one(tracker.Fetlock, 168, "30,168 60,168 66,186 62,206 28,206 24,186"),
	}
}

func frontFoot() []band {
	return []band{
		one(tracker.Pastern, 206, "28,206 62,206 60,226 64,244 26,244 30,226"),
		one(tracker.Coronet, 244, "26,244 64,244 68,254 22,254"),
		one(tracker.Wall, 254, "22,254 68,254 78,290 12,290"),
	}
}

func backFoot() []band {
	return []band{
		one(tracker.PasternFold, 206, "28,206 62,206 60,228 45,236 30,228"),
		one(tracker.HeelBulb, 232, "30,228 45,236 60,228 68,254 22,254"),
		one(tracker.Wall, 254, "22,254 68,254 74,290 16,290"),
	}
}

// featherPaths gives the two strokes of feather down the back of the leg. Lifted feather swings out.
func featherPaths(aspect tracker.Aspect, lifted bool) [2]string {
	switch aspect {
	case tracker.Lateral, tracker.Medial:
		if lifted {
			return [2]string{"M67,150 84,176 86,214", "M68,140 78,154 90,176"}
		}
		return [2]string{"M68,142 70,166 79,187 70,214 66,240", "M73,150 75,164 85,188 76,220 71,242"}
	case tracker.Palmar, tracker.Plantar:
		if lifted {
			return [2]string{"M40,144 22,180 10,218", "M50,144 68,180 80,218"}
		}
		return [2]string{"M40,144 38,190 41,242", "M50,144 52,190 49,242"}
	default:
		if lifted {
			return [2]string{"M28,150 10,180 4,216", "M62,150 80,180 86,216"}
		}
		return [2]string{"M26,150 20,186 25,212 22,238", "M64,150 70,186 65,212 68,238"}
	}
}

// bandFor finds where a region is drawn in a view that may not have a band of that name: a fold is
// part of the pastern from the side, the coronet is hidden by the heels from behind, and every part
// of the foot's underside is the hoof.
func bandFor(bands []band, region tracker.Region) (band, bool) {
	for _, try := range []tracker.Region{region, standIn(region)} {
		for _, b := range bands {
			if b.region == try {
				return b, true
			}
		}
	}
	return band{}, false
}

func standIn(region tracker.Region) tracker.Region {
	switch region {
	case tracker.PointOfHock:
		return tracker.Joint
	case tracker.Ergot:
		return tracker.Fetlock
	case tracker.Pastern:
		return tracker.PasternFold
	case tracker.PasternFold:
		return tracker.Pastern
	case tracker.HeelBulb:
		return tracker.Coronet
	case tracker.Coronet:
		return tracker.HeelBulb
	default:
		return tracker.Wall
	}
}

// path writes the outlines of a band as path data.
func (b band) path() string {
	return "M" + strings.Join(b.shapes, "Z M") + "Z"
}

// box gives the smallest upright box round a band.
func (b band) box() (left, top, right, bottom float64) {
	left, top = math.Inf(1), math.Inf(1)
	for _, shape := range b.shapes {
		for pair := range strings.FieldsSeq(shape) {
			xs, ys, _ := strings.Cut(pair, ",")
			x, errX := strconv.ParseFloat(xs, 64)
			y, errY := strconv.ParseFloat(ys, 64)
			if errX != nil || errY != nil {
				panic("draw: a leg outline has a bad point " + pair)
			}
			left, right = min(left, x), max(right, x)
			top, bottom = min(top, y), max(bottom, y)
		}
	}
	return left, top, right, bottom
}
