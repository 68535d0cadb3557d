package care

import (
	"context"
	"time"

	"leground/tracker"
)

// Store opens transactions. Read and Write are bound to one yard at the door: nothing of another
// yard can be reached through their Tx. Write runs its function again when the database asks for
// it (busy, serialization failure), so the function may touch nothing but its Tx and local values.
// A function that returns an error rolls everything back. Writes of one yard follow one another, so that a
// function that reads, decides and writes needs no lock. A method that changes something may tell only
// later that it failed, at the latest as the error of Write, and such a transaction is rolled back whatever
// the function makes of it; a look-up that finds nothing is no such failure.
type Store interface {
	Read(ctx context.Context, yard tracker.YardID, do func(Tx) error) error
	Write(ctx context.Context, yard tracker.YardID, do func(Tx) error) error
	// Across opens the one door that belongs to no yard: signing in, set-up and the list of yards to wake.
	Across(ctx context.Context, do func(Gate) error) error
	// AcrossRead is the same door for looking things up: it waits for no writer, and each look-up sees its own moment.
	// Each request passes it.
	AcrossRead(ctx context.Context, do func(Gate) error) error
	// Ping tells whether the database answers.
	Ping(ctx context.Context) error
}

// Tx is one transaction in one yard. Looking up a single thing that is not there gives an error of
// kind tracker.NotFound. Lists are in the order that their comment names.
type Tx interface {
	Yards
	People
	Horses
	Sites
	Checks
	Photos
	Events
	Cautions
	Stores
	Plans
	Dues
	Settings
	Proposals
	Rounds
	Reminders
	Reach
	Audits
}

// Yards is the yard itself.
type Yards interface {
	Yard() (tracker.Yard, error)
	SaveYard(tracker.Yard) error
	// SetWake says when the worker next has something to do for the yard.
	SetWake(at time.Time) error
	// WakeAt tells it; the zero time means never.
	WakeAt() (time.Time, error)
	// WakeBy makes the worker look at an instant at the latest.
	WakeBy(at time.Time) error
	// LookedAt tells when the worker last looked for what is due, in any yard.
	LookedAt() (time.Time, error)
}

// People are the yard's members, their sessions and the links that they made.
type People interface {
	// Members lists everybody who is or was in the yard, by name.
	Members() ([]tracker.Member, error)
	SetLeft(person tracker.PersonID, at time.Time) error
	// Sessions lists a person's running sessions in this yard, last seen first.
	Sessions(person tracker.PersonID) ([]Session, error)
	EndSession(id string, at time.Time) error
	AddLink(Link) error
	// Links lists the yard's links that are neither used, stopped nor expired at an instant, newest first.
	Links(at time.Time) ([]Link, error)
	StopLink(id string, at time.Time) error
}

// Horses are the yard's horses.
type Horses interface {
	// Horses lists them by position, those that are gone too.
	Horses() ([]tracker.Horse, error)
	Horse(tracker.HorseID) (tracker.Horse, error)
	AddHorse(tracker.Horse) error
	SaveHorse(tracker.Horse) error
}

// Sites are the places that are looked at, and what was judged of them.
type Sites interface {
	// Sites lists the sites of one horse, or of every horse when horse is empty, by horse, leg and number;
	// closed and joined ones too.
	Sites(horse tracker.HorseID) ([]tracker.Site, error)
	Site(tracker.SiteID) (tracker.Site, error)
	// SiteByRecord finds the site that a form made, and the hash of what it was made from.
	SiteByRecord(tracker.RecordID) (tracker.Site, string, error)
	// NextSiteNumber gives the number that the leg's next site gets; numbers are never used again.
	NextSiteNumber(tracker.HorseID, tracker.Leg) (int, error)
	AddSite(site tracker.Site, hash string) error
	SaveSite(tracker.Site) error
	// Judgements gives the newest judgement of each site of a horse, or of every horse.
	Judgements(horse tracker.HorseID) (map[tracker.SiteID]tracker.Judgement, error)
	// JudgementsOf lists a site's judgements from a day on, oldest first.
	JudgementsOf(site tracker.SiteID, from tracker.Date) ([]tracker.Judgement, error)
	// SaveJudgement keeps one judgement a site and day; a later one of the same day replaces it.
	SaveJudgement(tracker.Judgement) error
	// DropJudgements forgets a site's judgements of the days after one: what they were drawn from counts no more.
	DropJudgements(site tracker.SiteID, after tracker.Date) error
}

// CheckQuery picks checks. Empty fields do not narrow it; From and To are days, both included.
type CheckQuery struct {
	Horse    tracker.HorseID
	Site     tracker.SiteID
	Whole    bool // looks at whole horses only
	From, To tracker.Date
	RoundDay tracker.Date // with Slot: the checks of one round
	Slot     string
	Limit    int       // newest first when set; 0: all, oldest first
	Before   time.Time // only checks seen before; zero: no bound
	All      bool      // every version, also those that were corrected or taken back
}

// Ground is what a new look stands on.
type Ground struct {
	Yard   tracker.Yard
	WakeAt time.Time    // when the worker next has something to do for the yard; zero: never
	Takes  bool         // a plan of its horse takes something out of Stores when a step is ticked
	Known  bool         // its record id holds something already; then Site may be missing
	Site   tracker.Site // that it is of; none: of a leg or a horse
	Beside bool         // InRound has something in the round that it names
	UseBy  time.Time    // when that round is over; zero: there is none yet
}

// Checks are the looks. Lists hold current versions only and leave out what was retracted, unless All is set.
type Checks interface {
	Checks(CheckQuery) ([]tracker.Check, error)
	// Series lists the current looks of a site from a day on, oldest first, with only what a judgement
	// reads: day, instant, looker, size, scab, bandage, skin seen, signs. With sized, only those that say
	// something of a size or a bandage.
	Series(site tracker.SiteID, from tracker.Date, sized bool) ([]tracker.Check, error)
	// Ground gives what a check stands on before it is kept, in one journey to the database. A horse or site that
	// is not in the yard is NotFound.
	Ground(tracker.Check) (Ground, error)
	// InRound gives the other current looks at what a check is about in its round, oldest first; nothing of a check
	// outside every round.
	InRound(tracker.Check) ([]tracker.Check, error)
	// CheckByRecord finds one version by its own id, current or not.
	CheckByRecord(tracker.RecordID) (tracker.Check, error)
	// Versions lists every version of a check by its root, oldest first.
	Versions(root tracker.RecordID) ([]tracker.Check, error)
	// AddCheck adds a version. It is the only way in which checks change.
	AddCheck(tracker.Check) error
	// FirstSizes gives, for each site of a horse (or of every horse), the oldest current check with a length and a width.
	FirstSizes(horse tracker.HorseID) (map[tracker.SiteID]tracker.Check, error)
	// LastSizes gives, for each site, the newest current check with a length and a width.
	LastSizes(horse tracker.HorseID) (map[tracker.SiteID]tracker.Check, error)
	// LastLooks gives, for each open site, the newest current check that looked at it.
	LastLooks(horse tracker.HorseID) (map[tracker.SiteID]tracker.Check, error)
	AddConflict(Conflict) error
	// Conflicts lists those nobody has settled, oldest first.
	Conflicts() ([]Conflict, error)
	SettleConflict(id string, by tracker.PersonID, at time.Time) error
}

// Photos are pictures and their bytes.
type Photos interface {
	AddPhoto(photo tracker.Photo, full, thumb []byte) error
	Photo(tracker.PhotoID) (tracker.Photo, error)
	// PhotoBytes gives the JPEG, or its thumbnail.
	PhotoBytes(id tracker.PhotoID, thumb bool) ([]byte, error)
	// LastPhotos gives each site's newest photo, of one horse or of every horse.
	LastPhotos(horse tracker.HorseID) (map[tracker.SiteID]tracker.Photo, error)
	// PhotosOfSite lists a site's photos, oldest first.
	PhotosOfSite(tracker.SiteID) ([]tracker.Photo, error)
	// PhotosBetween lists a horse's photos taken from an instant up to, not including, another, oldest first.
	PhotosBetween(horse tracker.HorseID, from, to time.Time) ([]tracker.Photo, error)
}

// Events are what happened between looks.
type Events interface {
	// Events lists them from a day on, oldest first, of one horse or of every horse.
	Events(horse tracker.HorseID, from tracker.Date) ([]tracker.Event, error)
	EventByRecord(tracker.RecordID) (tracker.Event, error)
	AddEvent(tracker.Event) error
	// LastReset gives the day of the newest resetting event on a site (or its whole leg or horse) up to
	// a day; zero when there is none.
	LastReset(site tracker.Site, upTo tracker.Date) (tracker.Date, error)
}

// Cautions are the rules that fired and what was done about them.
type Cautions interface {
	// OpenCautions lists those that are not closed, most urgent first, then oldest; with their acts.
	OpenCautions() ([]tracker.Caution, error)
	// CautionsSince lists those raised from an instant on, of one horse or of every horse, newest first; with their acts.
	CautionsSince(horse tracker.HorseID, since time.Time) ([]tracker.Caution, error)
	Caution(tracker.CautionID) (tracker.Caution, error)
	// CautionCounts tells how many cautions of each rule were raised from an instant on.
	CautionCounts(since time.Time) (map[string]int, error)
	AddCaution(tracker.Caution) error
	// AddAct keeps an act and notes when it closed the caution; the same act id twice is one act.
	AddAct(caution tracker.CautionID, act tracker.CautionAct, closes bool) error
	// AddSighting keeps what else met a caution, as read in this transaction, that is open.
	AddSighting(tracker.Caution, tracker.Sighting) error
	// RaiseLevel lets a caution that nobody acted on become more urgent.
	RaiseLevel(caution tracker.CautionID, level tracker.Level) error
}

// Rounds are the visits that are due.
type Rounds interface {
	// Rounds lists those of a span of days, both included, by due time.
	Rounds(from, to tracker.Date) ([]tracker.Round, error)
	// AddRound adds one unless it is there already.
	AddRound(tracker.Round) error
	SaveRound(tracker.Round) error
}

// Settings are what the yard set, with every change.
type Settings interface {
	// Settings lists what is in force: the newest of each kind, rule and site, oldest first.
	Settings() ([]tracker.Setting, error)
	// SettingHistory lists the newest changes, at most so many, newest first.
	SettingHistory(most int) ([]tracker.Setting, error)
	SettingByRecord(tracker.RecordID) (tracker.Setting, error)
	// AddSetting adds a change, which is in force in place of the one before it.
	AddSetting(tracker.Setting) error
	// BlindPairs lists second readings that were taken blind from a day on, oldest first.
	BlindPairs(from tracker.Date) ([]BlindPair, error)
}

// Proposals are what vets wrote, and what became of it.
type Proposals interface {
	// Proposals lists what waits for an answer or is in force, of one horse or of every horse, oldest first.
	Proposals(horse tracker.HorseID) ([]tracker.Proposal, error)
	// ProposalHistory lists a horse's newest proposals in any state, at most so many, newest first.
	ProposalHistory(horse tracker.HorseID, most int) ([]tracker.Proposal, error)
	ProposalByRecord(tracker.RecordID) (tracker.Proposal, error)
	AddProposal(tracker.Proposal) error
	// SaveProposal changes the state of a proposal; its words stay.
	SaveProposal(tracker.Proposal) error
}

// Audits is the line kept of every change.
type Audits interface {
	AddAudit(Audit) error
}

// Gate is a transaction across yards, for the few jobs that belong to none.
type Gate interface {
	AnyYard() (bool, error)
	AddYard(tracker.Yard) error
	AddPerson(person tracker.Person, passwordHash string, at time.Time) error
	AddMember(yard tracker.YardID, person tracker.PersonID, role tracker.Role, at time.Time) error
	// Account finds a person by sign-in name, with their password hash and yards.
	Account(email string) (Account, error)
	AccountByID(tracker.PersonID) (Account, error)
	// Delay gives the failed sign-ins of a name and when it may next try; zeros for an unknown name.
	Delay(email string) (failures int, notBefore time.Time, err error)
	SetDelay(email string, failures int, notBefore time.Time) error
	AddSession(session Session, tokenHash string) error
	// SessionByToken finds a running session, with its person's present role in its yard.
	SessionByToken(tokenHash string) (Session, error)
	SetSeen(sessionID string, at time.Time) error
	// EndSessionByToken ends the session with this token hash, if it runs.
	EndSessionByToken(tokenHash string, at time.Time) error
	AddLink(Link) error
	LinkByToken(tokenHash string) (Link, error)
	SetLinkOpened(id string, at time.Time) error
	// SetLinkUsed uses a link up; NotFound when it was used already.
	SetLinkUsed(id string, at time.Time) error
	// YardsToWake lists up to limit yards whose wake time is not after now, earliest first.
	YardsToWake(now time.Time, limit int) ([]tracker.YardID, error)
	// ReminderByToken finds a reminder of any yard, whatever its state, by the hash of the secret in its links.
	ReminderByToken(tokenHash string) (tracker.YardID, Reminder, error)
	// ServerSecret gives a secret of the server by name, keeping fresh when there is none yet.
	ServerSecret(name, fresh string) (string, error)
	// SetLookedAt notes when the worker last looked for what is due.
	SetLookedAt(at time.Time) error
	LookedAt() (time.Time, error)
}
