package rounds

// Reason names why something is due or not, and why a message is sent, waits, or goes no further. It is
// stored as it stands and [Reason.Sentence] shows it to people. The zero Reason is none.
type Reason string

// Why a plan step is due at a round, or not.
const (
	DueByPlan    Reason = "due by plan"
	PlanNotBegun Reason = "plan not begun"
	NotThisDay   Reason = "not this day"
	NotThisSlot  Reason = "not this round of the day"
	PhaseOver    Reason = "times used up"
	PlanOver     Reason = "plan over"
	HorseAway    Reason = "horse away"
	YardClosed   Reason = "yard closed" // also why a message is dropped
)

// Why a message is sent.
const (
	CallDue    Reason = "round due"
	NudgeDue   Reason = "nudge due"
	SecondDue  Reason = "second person due"
	LaterDue   Reason = "later is over"
	RingDue    Reason = "ring now"
	RingAgain  Reason = "ring now again"
	RingSecond Reason = "ring now, second person"
	TodayDue   Reason = "ring today"
	NoticeDue  Reason = "notice due"
	SummaryDue Reason = "summary due"
)

// Why a message waits.
const (
	NotYet       Reason = "not time yet"
	SomebodyOnIt Reason = "somebody is on it"
	UnderWay     Reason = "records are coming in"
	AskedLater   Reason = "asked for later"
	QuietHours   Reason = "quiet hours"
	WillRing     Reason = "somebody will ring"
	DayOff       Reason = "away until another day"
	EnoughToday  Reason = "enough messages today"
)

// Why a message is dropped.
const (
	Received      Reason = "received"
	RoundSkipped  Reason = "round skipped"
	NothingDue    Reason = "nothing due"
	PersonAway    Reason = "person away"
	NoChannel     Reason = "no working channel"
	NotAsked      Reason = "not asked"
	AllAsked      Reason = "asked as often as planned"
	PastUseBy     Reason = "past its use-by"
	BudgetSpent   Reason = "budget spent"
	CautionClosed Reason = "caution acted on"
	NothingHeld   Reason = "nothing to sum up"
	// NobodyReachable is only ever a warning: nobody can be asked about a round at all.
	NobodyReachable Reason = "nobody reachable"
)

// Why a reminder changed its state otherwise.
const (
	Claimed        Reason = "being sent"
	Accepted       Reason = "accepted"
	PerhapsSent    Reason = "perhaps sent"
	LeaseRanOut    Reason = "sender stopped"
	NotNow         Reason = "refused for now"
	ServerTrouble  Reason = "server trouble"
	SetUpFault     Reason = "settings refused"
	AddressRefused Reason = "address refused"
	ContentRefused Reason = "message refused"
	TooManyTries   Reason = "too many tries"
	ChannelGone    Reason = "device gone"
	PersonStopped  Reason = "person stopped messages"
	PersonLeft     Reason = "person left the yard"
	PlanChanged    Reason = "plan changed"
	InSummary      Reason = "in a summary"
	AskedAgain     Reason = "sent again by hand"
	HandedOver     Reason = "next channel takes over"
	WantedAgain    Reason = "wanted again"
)

// Sentence says the reason in words for people; for a text that is no reason it is empty. "Received" is
// what the yard's machine knows: a carer may have recorded where there is no signal.
func (r Reason) Sentence() string {
	for _, words := range []func(Reason) string{planWords, sendWords, waitWords, dropWords, lifeWords} {
		if sentence := words(r); sentence != "" {
			return sentence
		}
	}
	return ""
}

func planWords(r Reason) string {
	switch r {
	case DueByPlan:
		return "It is due by the plan."
	case PlanNotBegun:
		return "The plan begins later."
	case NotThisDay:
		return "The plan leaves this day out."
	case NotThisSlot:
		return "The plan has it at another round of the day."
	case PhaseOver:
		return "It has been due as many times as the plan says; what follows begins the next day."
	case PlanOver:
		return "The plan is over."
	case HorseAway:
		return "The horse is away."
	case YardClosed:
		return "The yard is closed on this day."
	}
	return ""
}

func sendWords(r Reason) string {
	switch r {
	case CallDue:
		return "The round is due and not all of it has been received yet."
	case NudgeDue:
		return "Some time after the first message, not all of the round has been received yet."
	case SecondDue:
		return "Not all of the round has been received yet, so a second person is asked, once."
	case LaterDue:
		return "They asked to be told later, and not all of the round has been received yet."
	case RingDue:
		return "The vet must be rung now. Nothing holds this back."
	case RingAgain:
		return "Nobody has said that they rang the vet, so it is said again."
	case RingSecond:
		return "Nobody has said that they rang the vet, so a second person is told."
	case TodayDue:
		return "The vet should be rung today, and nobody has said that they did."
	case NoticeDue:
		return "It is time for it."
	case SummaryDue:
		return "Some messages could not be sent in time. This one sums them up."
	}
	return ""
}

func waitWords(r Reason) string {
	switch r {
	case NotYet:
		return "It is not time for it yet."
	case SomebodyOnIt:
		return "Somebody said that they are on it. If nothing is received in an hour, it goes on."
	case UnderWay:
		return "Records of this round are coming in. If no more are received in an hour, it goes on."
	case AskedLater:
		return "They asked to be told later."
	case QuietHours:
		return "It is held until their quiet hours are over."
	case WillRing:
		return "Somebody said when they will ring the vet. It opens again at that time."
	case DayOff:
		return "They are away. It waits until they are back."
	case EnoughToday:
		return "They have had their messages for today. It waits until tomorrow."
	}
	return ""
}

func dropWords(r Reason) string {
	switch r {
	case Received:
		return "Everything that was due has been received."
	case RoundSkipped:
		return "The round was skipped, with a reason."
	case NothingDue:
		return "Nothing is due at this round."
	case PersonAway:
		return "They are away on this day."
	case NoChannel:
		return "No channel reaches them: no mail address or phone of theirs works."
	case NotAsked:
		return "Others are asked about this."
	case AllAsked:
		return "They have been asked as often as the yard wants."
	case PastUseBy:
		return "Its time is over, and nothing is sent late."
	case BudgetSpent:
		return "Their messages for today are used, or kept for rounds still to come. It goes into the next summary."
	case CautionClosed:
		return "Somebody has acted on it."
	case NothingHeld:
		return "No message is waiting to be summed up."
	case NobodyReachable:
		return "Nobody can be told about this round: everybody is away or has no working channel."
	}
	return ""
}

func lifeWords(r Reason) string {
	switch r {
	case Claimed:
		return "It is being sent."
	case Accepted:
		return "The receiving server accepted it."
	case PerhapsSent:
		return "The link broke before the server answered. It may have arrived; it is tried once more as the same message."
	case LeaseRanOut:
		return "The program that was sending it stopped. Another takes over."
	case NotNow:
		return "The server does not take it for now. It is tried again."
	case ServerTrouble:
		return "The server cannot be reached or has trouble. It is tried again."
	case SetUpFault:
		return "The server refuses the yard's own settings. They need a look; the message is kept."
	case AddressRefused:
		return "The server does not know this address."
	case ContentRefused:
		return "The server refuses this message."
	case TooManyTries:
		return "It failed too often. Somebody should look at it."
	case ChannelGone:
		return "This phone or address no longer takes messages. The next channel is tried."
	case PersonStopped:
		return "They stopped messages over this channel."
	case PersonLeft:
		return "They are no longer in the yard."
	case PlanChanged:
		return "The plan or the times of the rounds were changed."
	case InSummary:
		return "It went into a summary."
	case AskedAgain:
		return "Somebody asked for it to be sent again."
	case HandedOver:
		return "No server accepted it in time, so the next channel takes over."
	case WantedAgain:
		return "What had ended it was taken back, so it is needed after all."
	}
	return ""
}
