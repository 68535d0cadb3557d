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

CREATE TABLE audit (
	yard_id        TEXT NOT NULL REFERENCES yard (yard_id),
	audit_id       TEXT NOT NULL,
	at             BIGINT NOT NULL,
	person_id      TEXT NOT NULL,
	device         TEXT NOT NULL,
	action         TEXT NOT NULL,
	subject        TEXT NOT NULL,
	detail         TEXT NOT NULL,
	PRIMARY KEY (yard_id, audit_id)
);

CREATE INDEX audit_at ON audit (yard_id, at);

CREATE TABLE bad_address (
	yard_id        TEXT NOT NULL,
	person_id      TEXT NOT NULL,
	address        TEXT NOT NULL,
	day            TEXT NOT NULL,
	PRIMARY KEY (yard_id, person_id, address, day),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);

CREATE TABLE bottle (
	yard_id        TEXT NOT NULL,
	bottle_id      TEXT NOT NULL,
	product_id     TEXT NOT NULL,
	size           TEXT NOT NULL,              -- what it held when it came
	expiry_on      TEXT NOT NULL,              -- last day of use, as printed; empty: none
	added_at       BIGINT NOT NULL,
	person_id      TEXT NOT NULL,
	ended_at       BIGINT NOT NULL,            -- 0: it is there; set by the act that ends it
	content_hash   TEXT NOT NULL,
	PRIMARY KEY (yard_id, bottle_id),
	FOREIGN KEY (yard_id, product_id) REFERENCES product (yard_id, product_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);

CREATE INDEX bottle_product ON bottle (yard_id, product_id, ended_at);

CREATE INDEX bottle_there ON bottle (yard_id, added_at) WHERE ended_at = 0;

CREATE TABLE caution (
	yard_id        TEXT NOT NULL,
	caution_id     TEXT NOT NULL,
	rule           TEXT NOT NULL,
	level          TEXT NOT NULL,
	horse_id       TEXT NOT NULL,
	leg            TEXT NOT NULL,
	site_id        TEXT,
	seen           TEXT NOT NULL,
	why            TEXT NOT NULL,
	next_step      TEXT NOT NULL,
	numbers        TEXT NOT NULL,              -- JSON {"area":"8.2 cm2"}
	check_id       TEXT NOT NULL,              -- empty: no single check raised it
	raised_at      BIGINT NOT NULL,
	closed_at      BIGINT NOT NULL, later TEXT NOT NULL DEFAULT '[]',            -- 0: open; set by the act that closes it
	PRIMARY KEY (yard_id, caution_id),
	FOREIGN KEY (yard_id, horse_id) REFERENCES horse (yard_id, horse_id),
	FOREIGN KEY (yard_id, site_id) REFERENCES site (yard_id, site_id)
);

CREATE INDEX caution_open ON caution (yard_id, closed_at);

CREATE INDEX caution_raised ON caution (yard_id, raised_at);

CREATE TABLE caution_act (
	yard_id        TEXT NOT NULL,
	record_id      TEXT NOT NULL,
	caution_id     TEXT NOT NULL,
	kind           TEXT NOT NULL,
	at             BIGINT NOT NULL,
	person_id      TEXT NOT NULL,
	until          BIGINT NOT NULL,
	note           TEXT NOT NULL,
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, caution_id) REFERENCES caution (yard_id, caution_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);

CREATE INDEX caution_act_of ON caution_act (yard_id, caution_id);

CREATE TABLE conflict (
	yard_id        TEXT NOT NULL REFERENCES yard (yard_id),
	conflict_id    TEXT NOT NULL,
	record_id      TEXT NOT NULL,
	person_id      TEXT NOT NULL,
	received_at    BIGINT NOT NULL,
	path           TEXT NOT NULL,              -- where it was posted
	fields         TEXT NOT NULL,              -- JSON of the fields as posted
	content_hash   TEXT NOT NULL,
	settled_at     BIGINT NOT NULL,            -- 0: needs a look
	settled_by     TEXT NOT NULL,
	PRIMARY KEY (yard_id, conflict_id),
	UNIQUE (yard_id, record_id, content_hash),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);

CREATE INDEX conflict_open ON conflict (yard_id, received_at) WHERE settled_at = 0;

CREATE TABLE event (
	yard_id        TEXT NOT NULL,
	record_id      TEXT NOT NULL,
	kind           TEXT NOT NULL,
	horse_id       TEXT NOT NULL,
	leg            TEXT NOT NULL,
	site_id        TEXT,
	day            TEXT NOT NULL,
	at             BIGINT NOT NULL,
	person_id      TEXT NOT NULL,
	note           TEXT NOT NULL,
	content_hash   TEXT NOT NULL, tick_record TEXT NOT NULL DEFAULT '',
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, horse_id) REFERENCES horse (yard_id, horse_id),
	FOREIGN KEY (yard_id, site_id) REFERENCES site (yard_id, site_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);

CREATE INDEX event_day ON event (yard_id, day);

CREATE INDEX event_horse ON event (yard_id, horse_id, day);

CREATE INDEX event_joined ON event (yard_id, note, day) WHERE kind = 'joined';

CREATE INDEX event_reset ON event (yard_id, horse_id, day)
	WHERE kind IN ('debridement', 'clipping', 'crusts-removed', 'new-injury', 'method-change', 'reopened');

CREATE TABLE heartbeat (
	name           TEXT PRIMARY KEY,
	at             BIGINT NOT NULL
);

CREATE TABLE horse (
	yard_id        TEXT NOT NULL REFERENCES yard (yard_id),
	horse_id       TEXT NOT NULL,
	name           TEXT NOT NULL,
	sort           TEXT NOT NULL,
	walking_order  TEXT NOT NULL,              -- empty: the yard's
	order_reason   TEXT NOT NULL,
	handling       TEXT NOT NULL,
	isolated_until TEXT NOT NULL,
	tetanus_on     TEXT NOT NULL,              -- empty: unknown
	arrived_on     TEXT NOT NULL,
	place          TEXT NOT NULL,
	position       BIGINT NOT NULL,
	created_at     BIGINT NOT NULL, food TEXT NOT NULL DEFAULT '',
	PRIMARY KEY (yard_id, horse_id)
);

CREATE TABLE judgement (
	yard_id        TEXT NOT NULL,
	site_id        TEXT NOT NULL,
	day            TEXT NOT NULL,
	label          TEXT NOT NULL,
	body           TEXT NOT NULL,              -- JSON: reason, numbers, first and last size
	made_at        BIGINT NOT NULL,
	PRIMARY KEY (yard_id, site_id, day),
	FOREIGN KEY (yard_id, site_id) REFERENCES site (yard_id, site_id)
);

CREATE TABLE leg_check (
	yard_id        TEXT NOT NULL,
	record_id      TEXT NOT NULL,
	root_id        TEXT NOT NULL,
	version        BIGINT NOT NULL,
	subject        TEXT NOT NULL,
	outcome        TEXT NOT NULL,
	horse_id       TEXT NOT NULL,
	leg            TEXT NOT NULL,              -- empty: the whole horse
	site_id        TEXT,                       -- NULL: not of a site
	seen_at        BIGINT NOT NULL,
	day            TEXT NOT NULL,
	device_at      BIGINT NOT NULL,            -- 0: not given
	server_at      BIGINT NOT NULL,
	written_at     BIGINT NOT NULL,            -- 0: not typed in from paper
	clock_off      BIGINT NOT NULL,            -- device clock less server clock, ms, where corrected
	round_day      TEXT NOT NULL,
	slot           TEXT NOT NULL,
	person_id      TEXT NOT NULL,
	looker_id      TEXT NOT NULL,
	size_answer    TEXT NOT NULL,              -- empty: not asked
	length_mm      BIGINT NOT NULL,
	width_mm       BIGINT NOT NULL,
	depth_mm       BIGINT NOT NULL,
	bed            TEXT NOT NULL,
	bed_mm         BIGINT NOT NULL,
	method         TEXT NOT NULL,
	scab           BOOLEAN NOT NULL,
	bandage        BOOLEAN NOT NULL,
	hair           BOOLEAN NOT NULL,
	clipped        BOOLEAN NOT NULL,
	sedated        BOOLEAN NOT NULL,
	skin_seen      BOOLEAN NOT NULL,
	signs          TEXT NOT NULL,              -- JSON {"crust":1}
	dangers        TEXT NOT NULL,              -- JSON ["maggots"]
	flags          TEXT NOT NULL,              -- JSON
	care           TEXT NOT NULL,              -- JSON
	vitals         TEXT NOT NULL,              -- JSON
	skip_reason    TEXT NOT NULL,
	note           TEXT NOT NULL,
	content_hash   TEXT NOT NULL, blind_of TEXT NOT NULL DEFAULT '', area_mm2 BIGINT NOT NULL DEFAULT 0,
	PRIMARY KEY (yard_id, record_id),
	UNIQUE (yard_id, root_id, version),
	FOREIGN KEY (yard_id, horse_id) REFERENCES horse (yard_id, horse_id),
	FOREIGN KEY (yard_id, site_id) REFERENCES site (yard_id, site_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);

CREATE INDEX leg_check_blind ON leg_check (yard_id, day) WHERE blind_of <> '';

CREATE INDEX leg_check_day ON leg_check (yard_id, day, seen_at);

CREATE INDEX leg_check_horse ON leg_check (yard_id, horse_id, day, seen_at);

CREATE INDEX leg_check_round ON leg_check (yard_id, round_day, slot, horse_id, leg);

CREATE INDEX leg_check_site ON leg_check (yard_id, site_id, day, seen_at) WHERE site_id IS NOT NULL;

CREATE INDEX leg_check_size ON leg_check (yard_id, site_id, day, seen_at) WHERE size_answer IN ('measured', 'same');

CREATE INDEX leg_check_whole ON leg_check (yard_id, horse_id, day) WHERE subject = 'horse';

CREATE TABLE link (
	token_hash     TEXT PRIMARY KEY,
	link_id        TEXT NOT NULL UNIQUE,
	kind           TEXT NOT NULL,
	yard_id        TEXT NOT NULL,              -- empty for a set-up link, which makes its yard
	person_id      TEXT NOT NULL,              -- whom it signs in; empty: nobody yet
	role           TEXT NOT NULL,
	horse_id       TEXT NOT NULL,              -- for a link to one horse
	note           TEXT NOT NULL,
	made_by        TEXT NOT NULL,
	made_at        BIGINT NOT NULL,
	expires_at     BIGINT NOT NULL,
	opened_at      BIGINT NOT NULL,            -- last opened
	used_at        BIGINT NOT NULL,            -- 0: not used up
	stopped_at     BIGINT NOT NULL             -- 0: not stopped
, photos TEXT NOT NULL DEFAULT '[]');

CREATE INDEX link_yard ON link (yard_id, kind);

CREATE TABLE measures (
	yard_id        TEXT PRIMARY KEY REFERENCES yard (yard_id),
	volumes        TEXT NOT NULL,              -- JSON ["500|mL"]
	devices        TEXT NOT NULL               -- JSON ["20 mL syringe, 1 mL marks"]
);

CREATE TABLE member (
	yard_id        TEXT NOT NULL REFERENCES yard (yard_id),
	person_id      TEXT NOT NULL REFERENCES person (person_id),
	role           TEXT NOT NULL,
	joined_at      BIGINT NOT NULL,
	left_at        BIGINT NOT NULL,            -- 0: still in the yard
	PRIMARY KEY (yard_id, person_id)
);

CREATE INDEX member_person ON member (person_id);

CREATE TABLE mix (
	yard_id        TEXT NOT NULL REFERENCES yard (yard_id),
	mix_id         TEXT NOT NULL,
	product_id     TEXT NOT NULL,              -- what it is a dilution of
	bottle_id      TEXT,                       -- what it was made from: a bottle
	parent_id      TEXT,                       -- or another mix
	horse_id       TEXT,                       -- NULL: for any horse
	plan           TEXT NOT NULL,              -- the plan step that asked for it; empty: none
	want           TEXT NOT NULL,
	strength       TEXT NOT NULL,
	concentrate    TEXT NOT NULL,
	total          TEXT NOT NULL,
	made_at        BIGINT NOT NULL,
	person_id      TEXT NOT NULL,
	throw_away_at  BIGINT NOT NULL,
	facts          TEXT NOT NULL,              -- JSON: name, working, ticks
	ended_at       BIGINT NOT NULL,            -- 0: it is there; set by the act that ends it
	content_hash   TEXT NOT NULL,
	PRIMARY KEY (yard_id, mix_id),
	FOREIGN KEY (yard_id, product_id) REFERENCES product (yard_id, product_id),
	FOREIGN KEY (yard_id, bottle_id) REFERENCES bottle (yard_id, bottle_id),
	FOREIGN KEY (yard_id, parent_id) REFERENCES mix (yard_id, mix_id),
	FOREIGN KEY (yard_id, horse_id) REFERENCES horse (yard_id, horse_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);

CREATE INDEX mix_made ON mix (yard_id, made_at);

CREATE INDEX mix_there ON mix (yard_id, throw_away_at) WHERE ended_at = 0;

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

CREATE INDEX one_off_stands ON one_off (yard_id, settled_at, day);

CREATE TABLE person (
	person_id      TEXT PRIMARY KEY,
	name           TEXT NOT NULL,
	email          TEXT NOT NULL UNIQUE,       -- lower case
	password_hash  TEXT NOT NULL,              -- argon2id, in its own notation
	created_at     BIGINT NOT NULL
);

CREATE TABLE photo (
	yard_id        TEXT NOT NULL,
	photo_id       TEXT NOT NULL,
	record_id      TEXT NOT NULL,              -- the check it was taken with
	horse_id       TEXT NOT NULL,
	leg            TEXT NOT NULL,
	site_id        TEXT,
	taken_at       BIGINT NOT NULL,
	person_id      TEXT NOT NULL,
	width          BIGINT NOT NULL,
	height         BIGINT NOT NULL,
	thumb_width    BIGINT NOT NULL,
	thumb_height   BIGINT NOT NULL,
	sha256         TEXT NOT NULL,
	posted_sha256  TEXT NOT NULL,
	PRIMARY KEY (yard_id, photo_id),
	FOREIGN KEY (yard_id, horse_id) REFERENCES horse (yard_id, horse_id),
	FOREIGN KEY (yard_id, site_id) REFERENCES site (yard_id, site_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);

CREATE INDEX photo_horse ON photo (yard_id, horse_id, taken_at);

CREATE INDEX photo_site ON photo (yard_id, site_id, taken_at);

CREATE TABLE photo_bytes (
	yard_id        TEXT NOT NULL,
	photo_id       TEXT NOT NULL,
	full_jpeg      BYTEA NOT NULL,
	thumb_jpeg     BYTEA NOT NULL,
	PRIMARY KEY (yard_id, photo_id),
	FOREIGN KEY (yard_id, photo_id) REFERENCES photo (yard_id, photo_id)
);

CREATE TABLE plan (
	yard_id        TEXT NOT NULL,
	record_id      TEXT NOT NULL,
	root_id        TEXT NOT NULL,
	version        BIGINT NOT NULL,
	horse_id       TEXT NOT NULL,
	body           TEXT NOT NULL,              -- JSON: scope, steps, phases, who set it and when
	entered_by     TEXT NOT NULL,
	entered_at     BIGINT NOT NULL,
	starts_on      TEXT NOT NULL,
	content_hash   TEXT NOT NULL, start_at BIGINT NOT NULL DEFAULT 0, last_on TEXT NOT NULL DEFAULT '', stopped BOOLEAN NOT NULL DEFAULT FALSE, until_on TEXT NOT NULL DEFAULT '', takes BOOLEAN NOT NULL DEFAULT FALSE,
	PRIMARY KEY (yard_id, record_id),
	UNIQUE (yard_id, root_id, version),
	FOREIGN KEY (yard_id, horse_id) REFERENCES horse (yard_id, horse_id)
);

CREATE INDEX plan_holds ON plan (yard_id, until_on, last_on);

CREATE INDEX plan_horse ON plan (yard_id, horse_id, until_on, last_on);

CREATE INDEX plan_takes ON plan (yard_id, horse_id) WHERE takes;

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

CREATE TABLE product (
	yard_id        TEXT NOT NULL REFERENCES yard (yard_id),
	product_id     TEXT NOT NULL,
	name           TEXT NOT NULL,
	label          TEXT NOT NULL,              -- the strength on the label
	facts          TEXT NOT NULL,              -- JSON: form, density, limits, cautions
	gone           BOOLEAN NOT NULL,           -- not bought any more
	created_at     BIGINT NOT NULL,
	person_id      TEXT NOT NULL,
	content_hash   TEXT NOT NULL,
	PRIMARY KEY (yard_id, product_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);

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

CREATE INDEX proposal_horse ON proposal (yard_id, horse_id, at);

CREATE INDEX proposal_live ON proposal (yard_id, at) WHERE state IN ('waiting', 'accepted');

CREATE TABLE reminder (
	yard_id        TEXT NOT NULL REFERENCES yard (yard_id),
	reminder_id    TEXT NOT NULL,
	kind           TEXT NOT NULL,              -- round, caution, ...
	subject        TEXT NOT NULL,              -- what it is about: "2026-05-14 morning", a caution id
	person_id      TEXT NOT NULL,
	channel        TEXT NOT NULL,
	rung           BIGINT NOT NULL,            -- 0 first call, 1 nudge, 2 second person
	state          TEXT NOT NULL,
	reason         TEXT NOT NULL,              -- why it is in that state
	facts          TEXT NOT NULL,              -- JSON of what the message says
	planned_at     BIGINT NOT NULL,
	send_at        BIGINT NOT NULL,
	use_by         BIGINT NOT NULL,
	tries          BIGINT NOT NULL,
	perhaps_sent   BIGINT NOT NULL,            -- of these, tries that nobody knows the end of
	lease_until    BIGINT NOT NULL,            -- while it is being sent: when another worker may take it
	lease_token    BIGINT NOT NULL,            -- one more with each claim
	sent_at        BIGINT NOT NULL,
	answer         TEXT NOT NULL, account TEXT NOT NULL DEFAULT 'email', hand_over_at BIGINT NOT NULL DEFAULT 0, carries TEXT NOT NULL DEFAULT '[]', horses TEXT NOT NULL DEFAULT '[]', token TEXT NOT NULL DEFAULT '', token_hash TEXT NOT NULL DEFAULT '',              -- the server's last answer in plain words
	PRIMARY KEY (yard_id, reminder_id),
	UNIQUE (yard_id, kind, subject, person_id, channel, rung),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);

CREATE INDEX reminder_account ON reminder (account, send_at, reminder_id) WHERE state IN ('planned', 'sending');

CREATE INDEX reminder_due ON reminder (send_at, reminder_id) WHERE state IN ('planned', 'sending');

CREATE INDEX reminder_planned ON reminder (yard_id, planned_at);

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

CREATE TABLE reminder_rule (
	yard_id        TEXT PRIMARY KEY REFERENCES yard (yard_id),
	first_after    BIGINT NOT NULL,            -- minutes after a round is due; -1: that message is left out
	nudge_after    BIGINT NOT NULL,
	second_after   BIGINT NOT NULL,
	budget         BIGINT NOT NULL,            -- unprompted messages a person and day
	turns          TEXT NOT NULL,              -- JSON {"morning":["person id"]}: who is asked first
	closed         TEXT NOT NULL               -- JSON: days without rounds, with the reason
);

CREATE TABLE reminder_try (
	yard_id        TEXT NOT NULL,
	reminder_id    TEXT NOT NULL,
	number         BIGINT NOT NULL,
	at             BIGINT NOT NULL,
	result         TEXT NOT NULL,
	answer         TEXT NOT NULL,
	PRIMARY KEY (yard_id, reminder_id, number),
	FOREIGN KEY (yard_id, reminder_id) REFERENCES reminder (yard_id, reminder_id)
);

CREATE TABLE round (
	yard_id        TEXT NOT NULL REFERENCES yard (yard_id),
	day            TEXT NOT NULL,
	slot           TEXT NOT NULL,
	due_at         BIGINT NOT NULL,
	use_by         BIGINT NOT NULL,
	state          TEXT NOT NULL,
	reason         TEXT NOT NULL,
	PRIMARY KEY (yard_id, day, slot)
);

CREATE INDEX round_due ON round (yard_id, due_at);

CREATE TABLE round_change (
	yard_id        TEXT NOT NULL REFERENCES yard (yard_id),
	number         BIGINT NOT NULL,
	at             BIGINT NOT NULL,
	zone           TEXT NOT NULL,
	slots          TEXT NOT NULL,              -- JSON as in yard
	PRIMARY KEY (yard_id, number)
);

CREATE TABLE schema_step (
	number     BIGINT PRIMARY KEY,
	name       TEXT NOT NULL,
	sha256     TEXT NOT NULL,
	applied_at BIGINT NOT NULL
);

CREATE TABLE server_secret (
	name           TEXT PRIMARY KEY,
	body           TEXT NOT NULL
);

CREATE TABLE session (
	token_hash     TEXT PRIMARY KEY,           -- SHA-256 of the token, hexadecimal
	session_id     TEXT NOT NULL UNIQUE,
	yard_id        TEXT NOT NULL,
	person_id      TEXT NOT NULL,
	device         TEXT NOT NULL,
	created_at     BIGINT NOT NULL,
	seen_at        BIGINT NOT NULL,
	ended_at       BIGINT NOT NULL,            -- 0: running
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);

CREATE INDEX session_person ON session (yard_id, person_id);

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

CREATE INDEX setting_at ON setting (yard_id, at);

CREATE INDEX setting_in_force ON setting (yard_id, replaced_at, at);

CREATE TABLE sign_in_delay (
	email          TEXT PRIMARY KEY,
	failures       BIGINT NOT NULL,
	not_before     BIGINT NOT NULL
);

CREATE TABLE site (
	yard_id        TEXT NOT NULL,
	site_id        TEXT NOT NULL,
	horse_id       TEXT NOT NULL,
	leg            TEXT NOT NULL,
	number         BIGINT NOT NULL,
	region         TEXT NOT NULL,
	aspect         TEXT NOT NULL,
	kind           TEXT NOT NULL,
	onset_on       TEXT NOT NULL,              -- empty: not known
	opened_at      BIGINT NOT NULL,
	opened_by      TEXT NOT NULL,
	record_id      TEXT NOT NULL,              -- the form that made it
	content_hash   TEXT NOT NULL,
	closed_on      TEXT NOT NULL,              -- empty: open
	joined_site    TEXT NOT NULL,              -- empty: stands alone
	PRIMARY KEY (yard_id, site_id),
	UNIQUE (yard_id, horse_id, leg, number),
	UNIQUE (yard_id, record_id),
	FOREIGN KEY (yard_id, horse_id) REFERENCES horse (yard_id, horse_id)
);

CREATE TABLE store_act (
	yard_id        TEXT NOT NULL,
	record_id      TEXT NOT NULL,
	kind           TEXT NOT NULL,
	bottle_id      TEXT,
	mix_id         TEXT,
	at             BIGINT NOT NULL,
	person_id      TEXT NOT NULL,
	day            TEXT NOT NULL,              -- opened on
	amount         TEXT NOT NULL,              -- used, or left
	strength       TEXT NOT NULL,              -- read, or settled
	for_mix        TEXT,                       -- what a used amount went into
	note           TEXT NOT NULL,
	content_hash   TEXT NOT NULL, product_id TEXT NOT NULL DEFAULT '', horse_id TEXT NOT NULL DEFAULT '', item TEXT NOT NULL DEFAULT '', of_act TEXT NOT NULL DEFAULT '',
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, bottle_id) REFERENCES bottle (yard_id, bottle_id),
	FOREIGN KEY (yard_id, mix_id) REFERENCES mix (yard_id, mix_id),
	FOREIGN KEY (yard_id, for_mix) REFERENCES mix (yard_id, mix_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);

CREATE INDEX store_act_bottle ON store_act (yard_id, bottle_id, at);

CREATE INDEX store_act_given_back ON store_act (yard_id, of_act) WHERE of_act <> '';

CREATE INDEX store_act_item ON store_act (yard_id, day) WHERE item <> '';

CREATE INDEX store_act_mix ON store_act (yard_id, mix_id, at);

CREATE INDEX store_act_used ON store_act (yard_id, at) WHERE kind IN ('used', 'put-on');

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

CREATE INDEX tick_off_any_time ON tick_off (yard_id, day) WHERE slot = '';

CREATE INDEX tick_off_day ON tick_off (yard_id, day);

CREATE INDEX tick_off_taken_back ON tick_off (yard_id, of_record) WHERE of_record <> '';

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

CREATE TABLE yard (
	yard_id        TEXT PRIMARY KEY,
	name           TEXT NOT NULL,
	zone           TEXT NOT NULL,
	walking_order  TEXT NOT NULL,
	leg_words      BIGINT NOT NULL,
	decimal_mark   BIGINT NOT NULL,
	ring_name      TEXT NOT NULL,
	ring_number    TEXT NOT NULL,
	slots          TEXT NOT NULL,              -- JSON [{"name":"morning","at":420}]
	spread_um      BIGINT NOT NULL,            -- measuring spread, micrometres
	size_every     BIGINT NOT NULL,            -- days between planned sizes
	made_up        BOOLEAN NOT NULL,
	created_at     BIGINT NOT NULL,
	wake_at        BIGINT NOT NULL             -- when something is next due for this yard
);

CREATE INDEX yard_wake ON yard (wake_at);
