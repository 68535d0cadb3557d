package tracker

// Sign is something scored at a look. The value is a small whole number whose meaning is the sign's
// own; a sign that was not judged is absent, and never counts as 0.
type Sign string

// Signs of a site. The first six are the active signs of a patch and the next three its chronic
// signs, each 0 to 3. The score sheet is this project's own proposal and compares a horse only with
// itself; the choice of signs follows published forms of equine pastern dermatitis.
const (
	Crust      Sign = "crust"
	Redness    Sign = "redness"
	SkinBreak  Sign = "skin-break"
	Exudate    Sign = "exudate"
	Swelling   Sign = "swelling"
	Pain       Sign = "pain"
	HairLoss   Sign = "hair-loss"
	Thickening Sign = "thickening"
	Nodules    Sign = "nodules"
)

// Signs of a leg.
const (
	Filling Sign = "filling" // 0 none, 1 fetlock, 2 mid-cannon, 3 to the knee or hock or above
	Heat    Sign = "heat"    // 0 no, 1 yes
	Pulse   Sign = "pulse"   // digital pulse: 0 not found, 1 faint, 2 easy to find, 3 bounding
	Walk    Sign = "walk"    // 0 sound, 2 unsure or only at the trot, 4 lame at the walk, 5 will not bear weight
	Thrush  Sign = "thrush"  // per foot, 0 to 3
)

// ActiveSigns are scored at every look at a patch.
func ActiveSigns() []Sign { return []Sign{Crust, Redness, SkinBreak, Exudate, Swelling, Pain} }

// ChronicSigns are scored weekly: they change slowly and must not hide healing skin.
func ChronicSigns() []Sign { return []Sign{HairLoss, Thickening, Nodules} }

// WoundSigns are scored at every look at a wound.
func WoundSigns() []Sign { return []Sign{Exudate, Pain} }

// LegSigns are looked at once per leg.
func LegSigns() []Sign { return []Sign{Filling, Heat, Pulse, Walk} }

// Levels lists the values a sign may have, lowest first.
func (s Sign) Levels() []int {
	switch s {
	case Heat:
		return []int{0, 1}
	case Walk:
		return []int{0, 2, 4, 5}
	case Crust, Redness, SkinBreak, Exudate, Swelling, Pain, HairLoss, Thickening, Nodules, Filling, Pulse, Thrush:
		return []int{0, 1, 2, 3}
	}
	return nil
}

// Signs maps each sign that was judged to its value.
type Signs map[Sign]int

// Danger is a sign that calls for the vet by itself. Dangers are ticked, one level each, never merged.
type Danger string

// The danger signs. Each has its rule in package cautions.
const (
	NotBearing   Danger = "not-bearing"    // will not bear weight on the leg
	LameAtWalk   Danger = "lame-at-walk"   // newly lame at the walk
	Bleeding     Danger = "bleeding"       // still bleeding after ten minutes' pressure
	StickyFluid  Danger = "sticky-fluid"   // sticky clear or yellow fluid: may be a joint or tendon sheath
	HotSwelling  Danger = "hot-swelling"   // hot, painful swelling that is spreading
	SmellHeat    Danger = "smell-heat"     // bad smell with heat
	Maggots      Danger = "maggots"        // maggots in the site
	DeepOrObject Danger = "deep-or-object" // bone, a gaping edge, a puncture or something sticking in
)

// SiteDangers are offered on every site card.
func SiteDangers() []Danger {
	return []Danger{NotBearing, Bleeding, DeepOrObject, StickyFluid, HotSwelling, LameAtWalk, SmellHeat, Maggots}
}

// LegDangers are offered on every leg line.
func LegDangers() []Danger { return []Danger{NotBearing, HotSwelling, LameAtWalk} }

// Flag is something ticked that is no danger by itself.
type Flag string

// The flags of a look.
const (
	Smell       Flag = "smell"         // a smell, without heat
	Itch        Flag = "itch"          // rubbing or stamping
	FillsAtRest Flag = "fills-at-rest" // fills when standing, clears when walking
	BandageRub  Flag = "bandage-rub"   // bandage slipped or tight, with swelling or a new sore
	FrogGrowth  Flag = "frog-growth"   // growing frog tissue: possible canker
	WhiteSkin   Flag = "white-skin"    // white skin sore on legs and nose
	Weak        Flag = "weak"          // of the whole horse: weak, wobbly, down or seizing
	FootSore    Flag = "foot-sore"     // of the whole horse: leans back, shifts weight from foot to foot or will not walk on
	Refeeding   Flag = "refeeding"     // of the whole horse: it is being fed up after starvation
	FeedKnown   Flag = "feed-known"    // of the whole horse: what it was fed before it came is known
)

// CareAct is something done for a leg in a round.
type CareAct string

// What can be ticked as done, in the order of hands.
const (
	Washed   CareAct = "washed"
	Dried    CareAct = "dried"
	Applied  CareAct = "applied"
	Bandaged CareAct = "bandaged"
	AirHour  CareAct = "air-hour" // bandage off for an hour
)

// CareActs lists what can be ticked, in the order of hands.
func CareActs() []CareAct { return []CareAct{Washed, Dried, Applied, Bandaged, AirHour} }

// Flags lists what can be ticked that is no danger by itself.
func Flags() []Flag {
	return []Flag{Smell, Itch, FillsAtRest, BandageRub, FrogGrowth, WhiteSkin, Weak, FootSore, Refeeding, FeedKnown}
}
