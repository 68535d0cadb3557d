-- Who is reminded how: each person's choices, the ways that reach them, what they pressed, the yard's rules.
--
-- A reminder's channel names the way it takes: "email", or the id of a row in way, which starts with the
-- channel's name ("push 0190...").

ALTER TABLE reminder ADD COLUMN account TEXT NOT NULL DEFAULT 'email';   -- whose pace and trouble it shares: "email", "push fcm.example"
ALTER TABLE reminder ADD COLUMN hand_over_at BIGINT NOT NULL DEFAULT 0;  -- when the next channel takes over; 0: never
ALTER TABLE reminder ADD COLUMN carries TEXT NOT NULL DEFAULT '[]';      -- JSON: what else it says, so that it is not said again
ALTER TABLE reminder ADD COLUMN horses TEXT NOT NULL DEFAULT '[]';       -- JSON: ids of the horses it is about
ALTER TABLE reminder ADD COLUMN token TEXT NOT NULL DEFAULT '';          -- secret of its links, kept until it has ended
ALTER TABLE reminder ADD COLUMN token_hash TEXT NOT NULL DEFAULT '';     -- SHA-256 of that secret, hexadecimal
CREATE INDEX reminder_account ON reminder (account, send_at, reminder_id) WHERE state IN ('planned', 'sending');
CREATE INDEX reminder_token ON reminder (token_hash) WHERE token_hash <> '';

CREATE TABLE reminder_choice (
	yard_id         TEXT NOT NULL,
	person_id       TEXT NOT NULL,
	channels        TEXT NOT NULL,             -- JSON, in order; [] is "on the Board only"
	quiet_from      BIGINT NOT NULL,           -- minutes after midnight; equal times: no quiet hours
	quiet_to        BIGINT NOT NULL,
	away            TEXT NOT NULL,             -- JSON [{"from":"2026-05-14","to":"2026-05-16"}]
	names           BOOLEAN NOT NULL,          -- horse names may show on a lock screen
	alarm_minutes   BIGINT NOT NULL,           -- how long before a round their calendar rings; 0: never
	mail_stopped_at BIGINT NOT NULL,           -- 0: mail is wanted
	changed_at      BIGINT NOT NULL,
	PRIMARY KEY (yard_id, person_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);

-- One phone's push subscription, or one webhook endpoint.
CREATE TABLE way (
	yard_id        TEXT NOT NULL,
	way_id         TEXT NOT NULL,              -- "push 0190...", "webhook 0190..."
	person_id      TEXT NOT NULL,
	account        TEXT NOT NULL,
	body           TEXT NOT NULL,              -- JSON, with secrets that only both ends know
	name           TEXT NOT NULL,              -- which phone, or which address
	session_id     TEXT NOT NULL,              -- a phone's way ends with its session; empty: no phone
	made_at        BIGINT NOT NULL,
	proved_at      BIGINT NOT NULL,            -- 0: it has not shown yet that it wants messages
	PRIMARY KEY (yard_id, way_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);
CREATE INDEX way_session ON way (session_id) WHERE session_id <> '';

-- A day on which the mail server said that there is no such address.
CREATE TABLE bad_address (
	yard_id        TEXT NOT NULL,
	person_id      TEXT NOT NULL,
	address        TEXT NOT NULL,
	day            TEXT NOT NULL,
	PRIMARY KEY (yard_id, person_id, address, day),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);

-- "On it" and "later".
CREATE TABLE press (
	yard_id        TEXT NOT NULL,
	press_id       TEXT NOT NULL,
	person_id      TEXT NOT NULL,
	subject        TEXT NOT NULL,              -- the round: "2026-05-14 morning"
	kind           TEXT NOT NULL,
	minutes        BIGINT NOT NULL,            -- of a "later"; -1: until the next round
	at             BIGINT NOT NULL,
	PRIMARY KEY (yard_id, press_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);
CREATE INDEX press_at ON press (yard_id, at);

CREATE TABLE reminder_rule (
	yard_id        TEXT PRIMARY KEY REFERENCES yard (yard_id),
	first_after    BIGINT NOT NULL,            -- minutes after a round is due; -1: that message is left out
	nudge_after    BIGINT NOT NULL,
	second_after   BIGINT NOT NULL,
	budget         BIGINT NOT NULL,            -- unprompted messages a person and day
	turns          TEXT NOT NULL,              -- JSON {"morning":["person id"]}: who is asked first
	closed         TEXT NOT NULL               -- JSON: days without rounds, with the reason
);

-- The rounds of the day as they were until an instant, so that calendars learn which are no more.
CREATE TABLE round_change (
	yard_id        TEXT NOT NULL REFERENCES yard (yard_id),
	number         BIGINT NOT NULL,
	at             BIGINT NOT NULL,
	zone           TEXT NOT NULL,
	slots          TEXT NOT NULL,              -- JSON as in yard
	PRIMARY KEY (yard_id, number)
);

-- Keys of this server, such as the pair that push services know it by.
CREATE TABLE server_secret (
	name           TEXT PRIMARY KEY,
	body           TEXT NOT NULL
);
