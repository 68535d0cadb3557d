package notify

// Kind is what sort of reminder a message is, as stored. The empty Kind is none.
type Kind string

// The kinds.
const (
	RoundDue     Kind = "round"         // a round is due
	Nudge        Kind = "nudge"         // not received yet, to the person who was asked first
	SecondPerson Kind = "second-person" // not received yet, to somebody else
	CautionOpen  Kind = "caution"       // a caution nobody has acted on
	Notice       Kind = "notice"        // one thing in whole sentences: a trim, a mix, a bottle, a plan's end
	Summary      Kind = "summary"       // what could not be sent in time, in one message
	WeeklyLine   Kind = "weekly"        // the owner's week
	TestMessage  Kind = "test"          // "send me one now"
)

// NotADiagnosis stands once in every message that shows a caution.
const NotADiagnosis = "This is not a diagnosis. Only your vet can say what it means."

// Content is what a message has to say, in words already chosen for this yard: local times, leg names,
// numbers with their units. It is plain data, frozen as JSON when the reminder is planned. Lists are shown
// in the order given; Compose shortens them to keep a message small, and says so.
type Content struct {
	Kind     Kind
	Yard     string
	MadeUp   bool      // the demonstration yard: every message says that nothing in it is real
	Round    string    // "morning round"
	Due      string    // local time: "Tue 14 May, 07:00"
	UseBy    string    // local time after which nothing more is sent about this round: "18:30"
	Asked    string    // who was asked before: "Ada at 07:00 and 07:45"
	Horses   []Horse   // walking order, isolated horse last
	Cautions []Caution // open ones, most urgent first
	Mixes    []Mix
	Trims    []string // "Bramble: Thu 16 May"
	Title    string   // with Notice: its subject
	Lines    []string // with Notice and Summary: whole sentences, or one round a line
	Week     Week     // with WeeklyLine
	Link     string   // page to open
	Stop     string   // page that stops mail to this person; empty: none
	Names    bool     // horse names may show on a lock screen
}

// Horse is one horse of a round with the legs to look at, in walking order.
type Horse struct {
	Name string
	Note string // handling warning; "own kit, wash hands"
	Legs []Leg
}

// Leg is one leg of a horse and what is to be done there.
type Leg struct {
	Name string // "right hind"
	What string // "RH 1, RH 2. Wash, dry, barrier."
}

// Caution is an open caution in the words it was raised with.
type Caution struct {
	Level  string // "Ring the vet today"
	Where  string // "Bramble, right hind, pastern, back"
	Seen   string // "RH 2 was 6.4 cm² on 6 May and is 8.2 cm² now."
	Next   string // what would make it more urgent; empty: nothing
	Ring   string // whom to ring: "Marlpit vet"
	Number string // "01234 000000"
}

// Mix is a made-up dilution and the local time at which it must be thrown away.
type Mix struct {
	Name      string
	ThrowAway string // "11:30 today"
}

// Week counts seven days of one yard.
type Week struct {
	Days         string // "6 to 12 May"
	Rounds       int    // that were due
	Received     int    // of these, with a record
	Sent         int    // reminders to people, cautions to ring now left out
	ActedOn      int    // of these, followed by a record within an hour
	PerhapsSent  int    // of these, those that may have arrived twice or not at all
	NotDelivered int    // given up or folded into a summary
}
