-- Plans, what makes them sure, and the things of a day that are ticked off.
--
-- A plan's version holds from its first round on (starts_on, start_at) until the next version begins. last_on
-- lets a list leave out what is over: the last day that the calendar alone gives, and of a version that stops
-- its plan the day on which it begins.

ALTER TABLE plan ADD COLUMN start_at BIGINT NOT NULL DEFAULT 0;      -- minutes after midnight
ALTER TABLE plan ADD COLUMN last_on TEXT NOT NULL DEFAULT '';        -- empty: only time can tell
ALTER TABLE plan ADD COLUMN stopped BOOLEAN NOT NULL DEFAULT FALSE;  -- this version ends the plan

CREATE TABLE plan_read (
	yard_id        TEXT NOT NULL,
	record_id      TEXT NOT NULL,
	plan_id        TEXT NOT NULL,              -- the version, by its record_id
	kind           TEXT NOT NULL,
	person_id      TEXT NOT NULL,
	at             BIGINT NOT NULL,
	day            TEXT NOT NULL,              -- of a vet's word; empty: none
	name           TEXT NOT NULL,              -- the vet's
	typed          TEXT NOT NULL,              -- what was read that differs
	content_hash   TEXT NOT NULL,
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, plan_id) REFERENCES plan (yard_id, record_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);
CREATE INDEX plan_read_of ON plan_read (yard_id, plan_id, at);

CREATE TABLE absence (
	yard_id        TEXT NOT NULL,
	record_id      TEXT NOT NULL,
	horse_id       TEXT NOT NULL,
	from_on        TEXT NOT NULL,
	to_on          TEXT NOT NULL,              -- the last day; empty: until it is said to be back
	why            TEXT NOT NULL,
	person_id      TEXT NOT NULL,
	at             BIGINT NOT NULL,
	content_hash   TEXT NOT NULL,
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, horse_id) REFERENCES horse (yard_id, horse_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);
CREATE INDEX absence_to ON absence (yard_id, to_on);

CREATE TABLE one_off (
	yard_id        TEXT NOT NULL REFERENCES yard (yard_id),
	record_id      TEXT NOT NULL,
	kind           TEXT NOT NULL,
	horse_id       TEXT,                       -- NULL: the whole yard
	day            TEXT NOT NULL,
	at_minute      BIGINT NOT NULL,            -- minutes after midnight; -1: any time
	what           TEXT NOT NULL,
	person_id      TEXT NOT NULL,
	made_at        BIGINT NOT NULL,
	settled_at     BIGINT NOT NULL,            -- when it was done or called off; 0: it stands
	content_hash   TEXT NOT NULL,
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, horse_id) REFERENCES horse (yard_id, horse_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);
CREATE INDEX one_off_day ON one_off (yard_id, day);
CREATE INDEX one_off_stands ON one_off (yard_id, day) WHERE settled_at = 0;

-- One press on the Due list. Rows are only ever added; one that takes another back names it.
CREATE TABLE tick_off (
	yard_id        TEXT NOT NULL,
	record_id      TEXT NOT NULL,
	outcome        TEXT NOT NULL,
	items          TEXT NOT NULL,              -- JSON: keys of what was ticked
	day            TEXT NOT NULL,              -- on which it was due
	slot           TEXT NOT NULL,              -- its round; empty: any time of the day
	of_record      TEXT NOT NULL,              -- the tick that is taken back
	why            TEXT NOT NULL,
	person_id      TEXT NOT NULL,
	at             BIGINT NOT NULL,
	content_hash   TEXT NOT NULL,
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);
CREATE INDEX tick_off_day ON tick_off (yard_id, day);
-- Things of a day stay due for weeks, and so must their ticks be found; those of rounds do not.
CREATE INDEX tick_off_any_time ON tick_off (yard_id, day) WHERE slot = '';
