-- What is set and what the vet says: settings with their history, blind second readings, proposals by link.

-- The newest of each kind, rule and site is in force; the ones before stay as they were.
CREATE TABLE setting (
	yard_id        TEXT NOT NULL REFERENCES yard (yard_id),
	record_id      TEXT NOT NULL,
	kind           TEXT NOT NULL,              -- healing, rule, spread
	rule           TEXT NOT NULL,              -- id of a caution rule; empty: of none
	site_id        TEXT,                       -- NULL: the whole yard
	is_off         BOOLEAN NOT NULL,
	numbers        TEXT NOT NULL,              -- JSON {"closing":0.12}; {}: as at the start
	word_of        TEXT NOT NULL,              -- whose word it is
	why            TEXT NOT NULL,
	day            TEXT NOT NULL,              -- on which it was said
	at             BIGINT NOT NULL,
	person_id      TEXT NOT NULL,
	content_hash   TEXT NOT NULL,
	replaced_at    BIGINT NOT NULL,            -- 0: in force
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, site_id) REFERENCES site (yard_id, site_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);
CREATE INDEX setting_in_force ON setting (yard_id, kind) WHERE replaced_at = 0;
CREATE INDEX setting_at ON setting (yard_id, at);

-- What a vet wrote for one horse. The words are never changed; the state is.
CREATE TABLE proposal (
	yard_id        TEXT NOT NULL,
	record_id      TEXT NOT NULL,
	horse_id       TEXT NOT NULL,
	link_id        TEXT NOT NULL,              -- by which it was written; empty: written down in the yard
	name           TEXT NOT NULL,              -- who says so
	plan           TEXT NOT NULL,
	ring_if        TEXT NOT NULL,
	at             BIGINT NOT NULL,
	content_hash   TEXT NOT NULL,
	state          TEXT NOT NULL,
	answered_by    TEXT NOT NULL,              -- empty: nobody yet
	answered_at    BIGINT NOT NULL,
	ended_by       TEXT NOT NULL,
	ended_at       BIGINT NOT NULL,
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, horse_id) REFERENCES horse (yard_id, horse_id)
);
CREATE INDEX proposal_live ON proposal (yard_id, at) WHERE state IN ('waiting', 'accepted');
CREATE INDEX proposal_horse ON proposal (yard_id, horse_id, at);

-- A second reading by somebody who did not see the first: the root of the first; empty: an ordinary look.
ALTER TABLE leg_check ADD COLUMN blind_of TEXT NOT NULL DEFAULT '';
CREATE INDEX leg_check_blind ON leg_check (yard_id, day) WHERE blind_of <> '';

-- The photos that were picked for the vet who opens a link.
ALTER TABLE link ADD COLUMN photos TEXT NOT NULL DEFAULT '[]'; -- JSON of photo ids

-- When another site joined a site, which begins a new series of sizes.
CREATE INDEX event_joined ON event (yard_id, note, day) WHERE kind = 'joined';
