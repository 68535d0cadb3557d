-- Stores: products, bottles, mixes, what was done about them, and what the yard measures with.
--
-- Strengths and amounts are exact fractions in text ("1/20|% w/v|chlorhexidine gluconate", "1000|mL"); empty: none.

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
CREATE INDEX mix_there ON mix (yard_id, throw_away_at) WHERE ended_at = 0;
CREATE INDEX mix_made ON mix (yard_id, made_at);

-- What was done about a bottle or a mix. Rows are only ever added.
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
	content_hash   TEXT NOT NULL,
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, bottle_id) REFERENCES bottle (yard_id, bottle_id),
	FOREIGN KEY (yard_id, mix_id) REFERENCES mix (yard_id, mix_id),
	FOREIGN KEY (yard_id, for_mix) REFERENCES mix (yard_id, mix_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member (yard_id, person_id)
);
CREATE INDEX store_act_bottle ON store_act (yard_id, bottle_id, at);
CREATE INDEX store_act_mix ON store_act (yard_id, mix_id, at);
CREATE INDEX store_act_used ON store_act (yard_id, at) WHERE kind = 'used';

-- The yard's usual volumes and its measures: one row.
CREATE TABLE measures (
	yard_id        TEXT PRIMARY KEY REFERENCES yard (yard_id),
	volumes        TEXT NOT NULL,              -- JSON ["500|mL"]
	devices        TEXT NOT NULL               -- JSON ["20 mL syringe, 1 mL marks"]
);
