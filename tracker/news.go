package tracker

// NewsKind is what sort of reminder a message is, as stored. The empty NewsKind is none.
type NewsKind string

// The kinds.
const (
	NewsRound        NewsKind = "round"         // a round is due
	NewsNudge        NewsKind = "nudge"         // not received yet, to the person who was asked first
	NewsSecondPerson NewsKind = "second-person" // not received yet, to somebody else
	NewsCautionOpen  NewsKind = "caution"       // a caution nobody has acted on
	NewsNotice       NewsKind = "notice"        // one thing in whole sentences: a trim, a mix, a bottle, a plan's end
	NewsSummary      NewsKind = "summary"       // what could not be sent in time, in one message
	NewsWeekly       NewsKind = "weekly"        // the owner's week
	NewsTest         NewsKind = "test"          // "send me one now"
)

// News is what a message has to say, in words already chosen for this yard: local times, leg names,
// numbers with their units. It is plain data, frozen as JSON when the reminder is planned. Lists are shown
// in the order given; Compose shortens them to keep a message small, and says so.
type News struct {
	Kind     NewsKind
	Yard     string
	MadeUp   bool          // the demonstration yard: every message says that nothing in it is real
	Round    string        // "morning round"
	Due      string        // local time: "Tue 14 May, 07:00"
	UseBy    string        // local time after which nothing more is sent about this round: "18:30"
	Asked    string        // who was asked before: "Ada at 07:00 and 07:45"
	Horses   []NewsHorse   // walking order, isolated horse last
	Cautions []NewsCaution // open ones, most urgent first
	Mixes    []NewsMix
	Title    string   // with Notice: its subject
	Brief    string   // with Notice: its subject where no horse may be named; empty: Title names none
	Lines    []string // with Notice and Summary: whole sentences, or one round a line
	Week     NewsWeek // with WeeklyLine
	Link     string   // page to open
	OnIt     string   // page on which the person says "on it"; empty: none
	Later    string   // page on which they put it off; empty: none
	Stop     string   // page that stops mail to this person; empty: none
	Names    bool     // horse names may show on a lock screen
}

// NewsHorse is one horse of a round with the legs to look at, in walking order.
type NewsHorse struct {
	Name string
	Note string // handling warning; "own kit, wash hands"
	Legs []NewsLeg
}

// NewsLeg is one leg of a horse and what is to be done there.
type NewsLeg struct {
	Name string // "right hind"
	What string // "RH 1, RH 2. Wash, dry, barrier."
}

// NewsCaution is an open caution in the words it was raised with.
type NewsCaution struct {
	Level  string // "Ring the vet today"
	Where  string // "Bramble, right hind, pastern, back"
	Seen   string // "RH 2 was 6.4 cm² on 6 May and is 8.2 cm² now."
	Next   string // what would make it more urgent; empty: nothing
	Ring   string // whom to ring: "Marlpit vet"
	Number string // "01234 000000"
}

// NewsMix is a made-up dilution and the local time at which it must be thrown away.
type NewsMix struct {
	Name      string
	ThrowAway string // "11:30 today"
}

// NewsWeek counts seven days of one yard.
type NewsWeek struct {
	Days         string // "6 to 12 May"
	Rounds       int    // that were due
	Received     int    // of these, with a record
	Sent         int    // reminders to people, cautions to ring now left out
	ActedOn      int    // of these, followed by a record within an hour
	PerhapsSent  int    // of these, those that may have arrived twice or not at all
	NotDelivered int    // given up or folded into a summary
}
