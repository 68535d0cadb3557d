CREATE TABLE absence (
	yard_id text NOT NULL,
	record_id text NOT NULL,
	horse_id text NOT NULL,
	from_on text NOT NULL,
	to_on text NOT NULL,
	why text NOT NULL,
	person_id text NOT NULL,
	at bigint NOT NULL,
	content_hash text NOT NULL,
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, horse_id) REFERENCES horse(yard_id, horse_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member(yard_id, person_id)
);
CREATE INDEX absence_to ON public.absence USING btree (yard_id, to_on);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON absence FORCED

CREATE TABLE audit (
	yard_id text NOT NULL,
	audit_id text NOT NULL,
	at bigint NOT NULL,
	person_id text NOT NULL,
	device text NOT NULL,
	action text NOT NULL,
	subject text NOT NULL,
	detail text NOT NULL,
	PRIMARY KEY (yard_id, audit_id),
	FOREIGN KEY (yard_id) REFERENCES yard(yard_id)
);
CREATE INDEX audit_at ON public.audit USING btree (yard_id, at);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON audit FORCED

CREATE TABLE bad_address (
	yard_id text NOT NULL,
	person_id text NOT NULL,
	address text NOT NULL,
	day text NOT NULL,
	PRIMARY KEY (yard_id, person_id, address, day),
	FOREIGN KEY (yard_id, person_id) REFERENCES member(yard_id, person_id)
);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON bad_address FORCED

CREATE TABLE bottle (
	yard_id text NOT NULL,
	bottle_id text NOT NULL,
	product_id text NOT NULL,
	size text NOT NULL,
	expiry_on text NOT NULL,
	added_at bigint NOT NULL,
	person_id text NOT NULL,
	ended_at bigint NOT NULL,
	content_hash text NOT NULL,
	PRIMARY KEY (yard_id, bottle_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member(yard_id, person_id),
	FOREIGN KEY (yard_id, product_id) REFERENCES product(yard_id, product_id)
);
CREATE INDEX bottle_product ON public.bottle USING btree (yard_id, product_id, ended_at);
CREATE INDEX bottle_there ON public.bottle USING btree (yard_id, added_at) WHERE (ended_at = 0);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON bottle FORCED

CREATE TABLE caution (
	yard_id text NOT NULL,
	caution_id text NOT NULL,
	rule text NOT NULL,
	level text NOT NULL,
	horse_id text NOT NULL,
	leg text NOT NULL,
	site_id text,
	seen text NOT NULL,
	why text NOT NULL,
	next_step text NOT NULL,
	numbers text NOT NULL,
	check_id text NOT NULL,
	raised_at bigint NOT NULL,
	closed_at bigint NOT NULL,
	later text NOT NULL DEFAULT '[]'::text,
	PRIMARY KEY (yard_id, caution_id),
	FOREIGN KEY (yard_id, horse_id) REFERENCES horse(yard_id, horse_id),
	FOREIGN KEY (yard_id, site_id) REFERENCES site(yard_id, site_id)
);
CREATE INDEX caution_open ON public.caution USING btree (yard_id, closed_at);
CREATE INDEX caution_raised ON public.caution USING btree (yard_id, raised_at);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON caution FORCED

CREATE TABLE caution_act (
	yard_id text NOT NULL,
	record_id text NOT NULL,
	caution_id text NOT NULL,
	kind text NOT NULL,
	at bigint NOT NULL,
	person_id text NOT NULL,
	until bigint NOT NULL,
	note text NOT NULL,
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, caution_id) REFERENCES caution(yard_id, caution_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member(yard_id, person_id)
);
CREATE INDEX caution_act_of ON public.caution_act USING btree (yard_id, caution_id);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON caution_act FORCED

CREATE TABLE conflict (
	yard_id text NOT NULL,
	conflict_id text NOT NULL,
	record_id text NOT NULL,
	person_id text NOT NULL,
	received_at bigint NOT NULL,
	path text NOT NULL,
	fields text NOT NULL,
	content_hash text NOT NULL,
	settled_at bigint NOT NULL,
	settled_by text NOT NULL,
	PRIMARY KEY (yard_id, conflict_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member(yard_id, person_id),
	FOREIGN KEY (yard_id) REFERENCES yard(yard_id),
	UNIQUE (yard_id, record_id, content_hash)
);
CREATE INDEX conflict_open ON public.conflict USING btree (yard_id, received_at) WHERE (settled_at = 0);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON conflict FORCED

CREATE TABLE event (
	yard_id text NOT NULL,
	record_id text NOT NULL,
	kind text NOT NULL,
	horse_id text NOT NULL,
	leg text NOT NULL,
	site_id text,
	day text NOT NULL,
	at bigint NOT NULL,
	person_id text NOT NULL,
	note text NOT NULL,
	content_hash text NOT NULL,
	tick_record text NOT NULL DEFAULT ''::text,
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, horse_id) REFERENCES horse(yard_id, horse_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member(yard_id, person_id),
	FOREIGN KEY (yard_id, site_id) REFERENCES site(yard_id, site_id)
);
CREATE INDEX event_day ON public.event USING btree (yard_id, day);
CREATE INDEX event_horse ON public.event USING btree (yard_id, horse_id, day);
CREATE INDEX event_joined ON public.event USING btree (yard_id, note, day) WHERE (kind = 'joined'::text);
CREATE INDEX event_reset ON public.event USING btree (yard_id, horse_id, day) WHERE (kind = ANY (ARRAY['debridement'::text, 'clipping'::text, 'crusts-removed'::text, 'new-injury'::text, 'method-change'::text, 'reopened'::text]));
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON event FORCED

CREATE TABLE heartbeat (
	name text NOT NULL,
	at bigint NOT NULL,
	PRIMARY KEY (name)
);

CREATE TABLE horse (
	yard_id text NOT NULL,
	horse_id text NOT NULL,
	name text NOT NULL,
	sort text NOT NULL,
	walking_order text NOT NULL,
	order_reason text NOT NULL,
	handling text NOT NULL,
	isolated_until text NOT NULL,
	tetanus_on text NOT NULL,
	arrived_on text NOT NULL,
	place text NOT NULL,
	position bigint NOT NULL,
	created_at bigint NOT NULL,
	food text NOT NULL DEFAULT ''::text,
	PRIMARY KEY (yard_id, horse_id),
	FOREIGN KEY (yard_id) REFERENCES yard(yard_id)
);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON horse FORCED

CREATE TABLE judgement (
	yard_id text NOT NULL,
	site_id text NOT NULL,
	day text NOT NULL,
	label text NOT NULL,
	body text NOT NULL,
	made_at bigint NOT NULL,
	PRIMARY KEY (yard_id, site_id, day),
	FOREIGN KEY (yard_id, site_id) REFERENCES site(yard_id, site_id)
);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON judgement FORCED

CREATE TABLE leg_check (
	yard_id text NOT NULL,
	record_id text NOT NULL,
	root_id text NOT NULL,
	version bigint NOT NULL,
	subject text NOT NULL,
	outcome text NOT NULL,
	horse_id text NOT NULL,
	leg text NOT NULL,
	site_id text,
	seen_at bigint NOT NULL,
	day text NOT NULL,
	device_at bigint NOT NULL,
	server_at bigint NOT NULL,
	written_at bigint NOT NULL,
	clock_off bigint NOT NULL,
	round_day text NOT NULL,
	slot text NOT NULL,
	person_id text NOT NULL,
	looker_id text NOT NULL,
	size_answer text NOT NULL,
	length_mm bigint NOT NULL,
	width_mm bigint NOT NULL,
	depth_mm bigint NOT NULL,
	bed text NOT NULL,
	bed_mm bigint NOT NULL,
	method text NOT NULL,
	scab boolean NOT NULL,
	bandage boolean NOT NULL,
	hair boolean NOT NULL,
	clipped boolean NOT NULL,
	sedated boolean NOT NULL,
	skin_seen boolean NOT NULL,
	signs text NOT NULL,
	dangers text NOT NULL,
	flags text NOT NULL,
	care text NOT NULL,
	vitals text NOT NULL,
	skip_reason text NOT NULL,
	note text NOT NULL,
	content_hash text NOT NULL,
	blind_of text NOT NULL DEFAULT ''::text,
	area_mm2 bigint NOT NULL DEFAULT 0,
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, horse_id) REFERENCES horse(yard_id, horse_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member(yard_id, person_id),
	FOREIGN KEY (yard_id, site_id) REFERENCES site(yard_id, site_id),
	UNIQUE (yard_id, root_id, version)
);
CREATE INDEX leg_check_blind ON public.leg_check USING btree (yard_id, day) WHERE (blind_of <> ''::text);
CREATE INDEX leg_check_day ON public.leg_check USING btree (yard_id, day, seen_at);
CREATE INDEX leg_check_horse ON public.leg_check USING btree (yard_id, horse_id, day, seen_at);
CREATE INDEX leg_check_round ON public.leg_check USING btree (yard_id, round_day, slot, horse_id, leg);
CREATE INDEX leg_check_site ON public.leg_check USING btree (yard_id, site_id, day, seen_at) WHERE (site_id IS NOT NULL);
CREATE INDEX leg_check_size ON public.leg_check USING btree (yard_id, site_id, day, seen_at) WHERE (size_answer = ANY (ARRAY['measured'::text, 'same'::text]));
CREATE INDEX leg_check_whole ON public.leg_check USING btree (yard_id, horse_id, day) WHERE (subject = 'horse'::text);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON leg_check FORCED

CREATE TABLE link (
	token_hash text NOT NULL,
	link_id text NOT NULL,
	kind text NOT NULL,
	yard_id text NOT NULL,
	person_id text NOT NULL,
	role text NOT NULL,
	horse_id text NOT NULL,
	note text NOT NULL,
	made_by text NOT NULL,
	made_at bigint NOT NULL,
	expires_at bigint NOT NULL,
	opened_at bigint NOT NULL,
	used_at bigint NOT NULL,
	stopped_at bigint NOT NULL,
	photos text NOT NULL DEFAULT '[]'::text,
	PRIMARY KEY (token_hash),
	UNIQUE (link_id)
);
CREATE INDEX link_yard ON public.link USING btree (yard_id, kind);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = NULLIF(yard_id, ''::text)) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON link FORCED

CREATE TABLE measures (
	yard_id text NOT NULL,
	volumes text NOT NULL,
	devices text NOT NULL,
	PRIMARY KEY (yard_id),
	FOREIGN KEY (yard_id) REFERENCES yard(yard_id)
);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON measures FORCED

CREATE TABLE member (
	yard_id text NOT NULL,
	person_id text NOT NULL,
	role text NOT NULL,
	joined_at bigint NOT NULL,
	left_at bigint NOT NULL,
	PRIMARY KEY (yard_id, person_id),
	FOREIGN KEY (person_id) REFERENCES person(person_id),
	FOREIGN KEY (yard_id) REFERENCES yard(yard_id)
);
CREATE INDEX member_person ON public.member USING btree (person_id);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON member FORCED

CREATE TABLE mix (
	yard_id text NOT NULL,
	mix_id text NOT NULL,
	product_id text NOT NULL,
	bottle_id text,
	parent_id text,
	horse_id text,
	plan text NOT NULL,
	want text NOT NULL,
	strength text NOT NULL,
	concentrate text NOT NULL,
	total text NOT NULL,
	made_at bigint NOT NULL,
	person_id text NOT NULL,
	throw_away_at bigint NOT NULL,
	facts text NOT NULL,
	ended_at bigint NOT NULL,
	content_hash text NOT NULL,
	PRIMARY KEY (yard_id, mix_id),
	FOREIGN KEY (yard_id, bottle_id) REFERENCES bottle(yard_id, bottle_id),
	FOREIGN KEY (yard_id, horse_id) REFERENCES horse(yard_id, horse_id),
	FOREIGN KEY (yard_id, parent_id) REFERENCES mix(yard_id, mix_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member(yard_id, person_id),
	FOREIGN KEY (yard_id, product_id) REFERENCES product(yard_id, product_id),
	FOREIGN KEY (yard_id) REFERENCES yard(yard_id)
);
CREATE INDEX mix_made ON public.mix USING btree (yard_id, made_at);
CREATE INDEX mix_there ON public.mix USING btree (yard_id, throw_away_at) WHERE (ended_at = 0);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON mix FORCED

CREATE TABLE one_off (
	yard_id text NOT NULL,
	record_id text NOT NULL,
	kind text NOT NULL,
	horse_id text,
	day text NOT NULL,
	at_minute bigint NOT NULL,
	what text NOT NULL,
	person_id text NOT NULL,
	made_at bigint NOT NULL,
	settled_at bigint NOT NULL,
	content_hash text NOT NULL,
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, horse_id) REFERENCES horse(yard_id, horse_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member(yard_id, person_id),
	FOREIGN KEY (yard_id) REFERENCES yard(yard_id)
);
CREATE INDEX one_off_day ON public.one_off USING btree (yard_id, day);
CREATE INDEX one_off_stands ON public.one_off USING btree (yard_id, settled_at, day);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON one_off FORCED

CREATE TABLE person (
	person_id text NOT NULL,
	name text NOT NULL,
	email text NOT NULL,
	password_hash text NOT NULL,
	created_at bigint NOT NULL,
	PRIMARY KEY (person_id),
	UNIQUE (email)
);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = '*'::text) OR (EXISTS ( SELECT 1
   FROM member m
  WHERE ((m.person_id = person.person_id) AND (m.yard_id = current_setting('leground.yard'::text, true))))))
-- ROW LEVEL SECURITY ON person FORCED

CREATE TABLE photo (
	yard_id text NOT NULL,
	photo_id text NOT NULL,
	record_id text NOT NULL,
	horse_id text NOT NULL,
	leg text NOT NULL,
	site_id text,
	taken_at bigint NOT NULL,
	person_id text NOT NULL,
	width bigint NOT NULL,
	height bigint NOT NULL,
	thumb_width bigint NOT NULL,
	thumb_height bigint NOT NULL,
	sha256 text NOT NULL,
	posted_sha256 text NOT NULL,
	PRIMARY KEY (yard_id, photo_id),
	FOREIGN KEY (yard_id, horse_id) REFERENCES horse(yard_id, horse_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member(yard_id, person_id),
	FOREIGN KEY (yard_id, site_id) REFERENCES site(yard_id, site_id)
);
CREATE INDEX photo_horse ON public.photo USING btree (yard_id, horse_id, taken_at);
CREATE INDEX photo_site ON public.photo USING btree (yard_id, site_id, taken_at);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON photo FORCED

CREATE TABLE photo_bytes (
	yard_id text NOT NULL,
	photo_id text NOT NULL,
	full_jpeg bytea NOT NULL,
	thumb_jpeg bytea NOT NULL,
	PRIMARY KEY (yard_id, photo_id),
	FOREIGN KEY (yard_id, photo_id) REFERENCES photo(yard_id, photo_id)
);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON photo_bytes FORCED

CREATE TABLE plan (
	yard_id text NOT NULL,
	record_id text NOT NULL,
	root_id text NOT NULL,
	version bigint NOT NULL,
	horse_id text NOT NULL,
	body text NOT NULL,
	entered_by text NOT NULL,
	entered_at bigint NOT NULL,
	starts_on text NOT NULL,
	content_hash text NOT NULL,
	start_at bigint NOT NULL DEFAULT 0,
	last_on text NOT NULL DEFAULT ''::text,
	stopped boolean NOT NULL DEFAULT false,
	until_on text NOT NULL DEFAULT ''::text,
	takes boolean NOT NULL DEFAULT false,
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, horse_id) REFERENCES horse(yard_id, horse_id),
	UNIQUE (yard_id, root_id, version)
);
CREATE INDEX plan_holds ON public.plan USING btree (yard_id, until_on, last_on);
CREATE INDEX plan_horse ON public.plan USING btree (yard_id, horse_id, until_on, last_on);
CREATE INDEX plan_takes ON public.plan USING btree (yard_id, horse_id) WHERE takes;
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON plan FORCED

CREATE TABLE plan_read (
	yard_id text NOT NULL,
	record_id text NOT NULL,
	plan_id text NOT NULL,
	kind text NOT NULL,
	person_id text NOT NULL,
	at bigint NOT NULL,
	day text NOT NULL,
	name text NOT NULL,
	typed text NOT NULL,
	content_hash text NOT NULL,
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member(yard_id, person_id),
	FOREIGN KEY (yard_id, plan_id) REFERENCES plan(yard_id, record_id)
);
CREATE INDEX plan_read_of ON public.plan_read USING btree (yard_id, plan_id, at);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON plan_read FORCED

CREATE TABLE press (
	yard_id text NOT NULL,
	press_id text NOT NULL,
	person_id text NOT NULL,
	subject text NOT NULL,
	kind text NOT NULL,
	minutes bigint NOT NULL,
	at bigint NOT NULL,
	PRIMARY KEY (yard_id, press_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member(yard_id, person_id)
);
CREATE INDEX press_at ON public.press USING btree (yard_id, at);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON press FORCED

CREATE TABLE product (
	yard_id text NOT NULL,
	product_id text NOT NULL,
	name text NOT NULL,
	label text NOT NULL,
	facts text NOT NULL,
	gone boolean NOT NULL,
	created_at bigint NOT NULL,
	person_id text NOT NULL,
	content_hash text NOT NULL,
	PRIMARY KEY (yard_id, product_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member(yard_id, person_id),
	FOREIGN KEY (yard_id) REFERENCES yard(yard_id)
);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON product FORCED

CREATE TABLE proposal (
	yard_id text NOT NULL,
	record_id text NOT NULL,
	horse_id text NOT NULL,
	link_id text NOT NULL,
	name text NOT NULL,
	plan text NOT NULL,
	ring_if text NOT NULL,
	at bigint NOT NULL,
	content_hash text NOT NULL,
	state text NOT NULL,
	answered_by text NOT NULL,
	answered_at bigint NOT NULL,
	ended_by text NOT NULL,
	ended_at bigint NOT NULL,
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, horse_id) REFERENCES horse(yard_id, horse_id)
);
CREATE INDEX proposal_horse ON public.proposal USING btree (yard_id, horse_id, at);
CREATE INDEX proposal_live ON public.proposal USING btree (yard_id, at) WHERE (state = ANY (ARRAY['waiting'::text, 'accepted'::text]));
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON proposal FORCED

CREATE TABLE reminder (
	yard_id text NOT NULL,
	reminder_id text NOT NULL,
	kind text NOT NULL,
	subject text NOT NULL,
	person_id text NOT NULL,
	channel text NOT NULL,
	rung bigint NOT NULL,
	state text NOT NULL,
	reason text NOT NULL,
	facts text NOT NULL,
	planned_at bigint NOT NULL,
	send_at bigint NOT NULL,
	use_by bigint NOT NULL,
	tries bigint NOT NULL,
	perhaps_sent bigint NOT NULL,
	lease_until bigint NOT NULL,
	lease_token bigint NOT NULL,
	sent_at bigint NOT NULL,
	answer text NOT NULL,
	account text NOT NULL DEFAULT 'email'::text,
	hand_over_at bigint NOT NULL DEFAULT 0,
	carries text NOT NULL DEFAULT '[]'::text,
	horses text NOT NULL DEFAULT '[]'::text,
	token text NOT NULL DEFAULT ''::text,
	token_hash text NOT NULL DEFAULT ''::text,
	PRIMARY KEY (yard_id, reminder_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member(yard_id, person_id),
	FOREIGN KEY (yard_id) REFERENCES yard(yard_id),
	UNIQUE (yard_id, kind, subject, person_id, channel, rung)
);
CREATE INDEX reminder_account ON public.reminder USING btree (account, send_at, reminder_id) WHERE (state = ANY (ARRAY['planned'::text, 'sending'::text]));
CREATE INDEX reminder_due ON public.reminder USING btree (send_at, reminder_id) WHERE (state = ANY (ARRAY['planned'::text, 'sending'::text]));
CREATE INDEX reminder_planned ON public.reminder USING btree (yard_id, planned_at);
CREATE INDEX reminder_token ON public.reminder USING btree (token_hash) WHERE (token_hash <> ''::text);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON reminder FORCED

CREATE TABLE reminder_choice (
	yard_id text NOT NULL,
	person_id text NOT NULL,
	channels text NOT NULL,
	quiet_from bigint NOT NULL,
	quiet_to bigint NOT NULL,
	away text NOT NULL,
	names boolean NOT NULL,
	alarm_minutes bigint NOT NULL,
	mail_stopped_at bigint NOT NULL,
	changed_at bigint NOT NULL,
	PRIMARY KEY (yard_id, person_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member(yard_id, person_id)
);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON reminder_choice FORCED

CREATE TABLE reminder_rule (
	yard_id text NOT NULL,
	first_after bigint NOT NULL,
	nudge_after bigint NOT NULL,
	second_after bigint NOT NULL,
	budget bigint NOT NULL,
	turns text NOT NULL,
	closed text NOT NULL,
	PRIMARY KEY (yard_id),
	FOREIGN KEY (yard_id) REFERENCES yard(yard_id)
);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON reminder_rule FORCED

CREATE TABLE reminder_try (
	yard_id text NOT NULL,
	reminder_id text NOT NULL,
	number bigint NOT NULL,
	at bigint NOT NULL,
	result text NOT NULL,
	answer text NOT NULL,
	PRIMARY KEY (yard_id, reminder_id, number),
	FOREIGN KEY (yard_id, reminder_id) REFERENCES reminder(yard_id, reminder_id)
);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON reminder_try FORCED

CREATE TABLE round (
	yard_id text NOT NULL,
	day text NOT NULL,
	slot text NOT NULL,
	due_at bigint NOT NULL,
	use_by bigint NOT NULL,
	state text NOT NULL,
	reason text NOT NULL,
	PRIMARY KEY (yard_id, day, slot),
	FOREIGN KEY (yard_id) REFERENCES yard(yard_id)
);
CREATE INDEX round_due ON public.round USING btree (yard_id, due_at);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON round FORCED

CREATE TABLE round_change (
	yard_id text NOT NULL,
	number bigint NOT NULL,
	at bigint NOT NULL,
	zone text NOT NULL,
	slots text NOT NULL,
	PRIMARY KEY (yard_id, number),
	FOREIGN KEY (yard_id) REFERENCES yard(yard_id)
);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON round_change FORCED

CREATE TABLE schema_step (
	number bigint NOT NULL,
	name text NOT NULL,
	sha256 text NOT NULL,
	applied_at bigint NOT NULL,
	PRIMARY KEY (number)
);

CREATE TABLE server_secret (
	name text NOT NULL,
	body text NOT NULL,
	PRIMARY KEY (name)
);
-- POLICY own_yard FOR ALL USING (current_setting('leground.yard'::text, true) = '*'::text)
-- ROW LEVEL SECURITY ON server_secret FORCED

CREATE TABLE session (
	token_hash text NOT NULL,
	session_id text NOT NULL,
	yard_id text NOT NULL,
	person_id text NOT NULL,
	device text NOT NULL,
	created_at bigint NOT NULL,
	seen_at bigint NOT NULL,
	ended_at bigint NOT NULL,
	PRIMARY KEY (token_hash),
	FOREIGN KEY (yard_id, person_id) REFERENCES member(yard_id, person_id),
	UNIQUE (session_id)
);
CREATE INDEX session_person ON public.session USING btree (yard_id, person_id);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON session FORCED

CREATE TABLE setting (
	yard_id text NOT NULL,
	record_id text NOT NULL,
	kind text NOT NULL,
	rule text NOT NULL,
	site_id text,
	is_off boolean NOT NULL,
	numbers text NOT NULL,
	word_of text NOT NULL,
	why text NOT NULL,
	day text NOT NULL,
	at bigint NOT NULL,
	person_id text NOT NULL,
	content_hash text NOT NULL,
	replaced_at bigint NOT NULL,
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member(yard_id, person_id),
	FOREIGN KEY (yard_id, site_id) REFERENCES site(yard_id, site_id),
	FOREIGN KEY (yard_id) REFERENCES yard(yard_id)
);
CREATE INDEX setting_at ON public.setting USING btree (yard_id, at);
CREATE INDEX setting_in_force ON public.setting USING btree (yard_id, replaced_at, at);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON setting FORCED

CREATE TABLE sign_in_delay (
	email text NOT NULL,
	failures bigint NOT NULL,
	not_before bigint NOT NULL,
	PRIMARY KEY (email)
);
-- POLICY own_yard FOR ALL USING (current_setting('leground.yard'::text, true) = '*'::text)
-- ROW LEVEL SECURITY ON sign_in_delay FORCED

CREATE TABLE site (
	yard_id text NOT NULL,
	site_id text NOT NULL,
	horse_id text NOT NULL,
	leg text NOT NULL,
	number bigint NOT NULL,
	region text NOT NULL,
	aspect text NOT NULL,
	kind text NOT NULL,
	onset_on text NOT NULL,
	opened_at bigint NOT NULL,
	opened_by text NOT NULL,
	record_id text NOT NULL,
	content_hash text NOT NULL,
	closed_on text NOT NULL,
	joined_site text NOT NULL,
	PRIMARY KEY (yard_id, site_id),
	FOREIGN KEY (yard_id, horse_id) REFERENCES horse(yard_id, horse_id),
	UNIQUE (yard_id, horse_id, leg, number),
	UNIQUE (yard_id, record_id)
);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON site FORCED

CREATE TABLE store_act (
	yard_id text NOT NULL,
	record_id text NOT NULL,
	kind text NOT NULL,
	bottle_id text,
	mix_id text,
	at bigint NOT NULL,
	person_id text NOT NULL,
	day text NOT NULL,
	amount text NOT NULL,
	strength text NOT NULL,
	for_mix text,
	note text NOT NULL,
	content_hash text NOT NULL,
	product_id text NOT NULL DEFAULT ''::text,
	horse_id text NOT NULL DEFAULT ''::text,
	item text NOT NULL DEFAULT ''::text,
	of_act text NOT NULL DEFAULT ''::text,
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, bottle_id) REFERENCES bottle(yard_id, bottle_id),
	FOREIGN KEY (yard_id, for_mix) REFERENCES mix(yard_id, mix_id),
	FOREIGN KEY (yard_id, mix_id) REFERENCES mix(yard_id, mix_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member(yard_id, person_id)
);
CREATE INDEX store_act_bottle ON public.store_act USING btree (yard_id, bottle_id, at);
CREATE INDEX store_act_given_back ON public.store_act USING btree (yard_id, of_act) WHERE (of_act <> ''::text);
CREATE INDEX store_act_item ON public.store_act USING btree (yard_id, day) WHERE (item <> ''::text);
CREATE INDEX store_act_mix ON public.store_act USING btree (yard_id, mix_id, at);
CREATE INDEX store_act_used ON public.store_act USING btree (yard_id, at) WHERE (kind = ANY (ARRAY['used'::text, 'put-on'::text]));
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON store_act FORCED

CREATE TABLE tick_off (
	yard_id text NOT NULL,
	record_id text NOT NULL,
	outcome text NOT NULL,
	items text NOT NULL,
	day text NOT NULL,
	slot text NOT NULL,
	of_record text NOT NULL,
	why text NOT NULL,
	person_id text NOT NULL,
	at bigint NOT NULL,
	content_hash text NOT NULL,
	PRIMARY KEY (yard_id, record_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member(yard_id, person_id)
);
CREATE INDEX tick_off_any_time ON public.tick_off USING btree (yard_id, day) WHERE (slot = ''::text);
CREATE INDEX tick_off_day ON public.tick_off USING btree (yard_id, day);
CREATE INDEX tick_off_taken_back ON public.tick_off USING btree (yard_id, of_record) WHERE (of_record <> ''::text);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON tick_off FORCED

CREATE TABLE way (
	yard_id text NOT NULL,
	way_id text NOT NULL,
	person_id text NOT NULL,
	account text NOT NULL,
	body text NOT NULL,
	name text NOT NULL,
	session_id text NOT NULL,
	made_at bigint NOT NULL,
	proved_at bigint NOT NULL,
	PRIMARY KEY (yard_id, way_id),
	FOREIGN KEY (yard_id, person_id) REFERENCES member(yard_id, person_id)
);
CREATE INDEX way_session ON public.way USING btree (session_id) WHERE (session_id <> ''::text);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON way FORCED

CREATE TABLE yard (
	yard_id text NOT NULL,
	name text NOT NULL,
	zone text NOT NULL,
	walking_order text NOT NULL,
	leg_words bigint NOT NULL,
	decimal_mark bigint NOT NULL,
	ring_name text NOT NULL,
	ring_number text NOT NULL,
	slots text NOT NULL,
	spread_um bigint NOT NULL,
	size_every bigint NOT NULL,
	made_up boolean NOT NULL,
	created_at bigint NOT NULL,
	wake_at bigint NOT NULL,
	PRIMARY KEY (yard_id)
);
CREATE INDEX yard_wake ON public.yard USING btree (wake_at);
-- POLICY own_yard FOR ALL USING ((current_setting('leground.yard'::text, true) = yard_id) OR (current_setting('leground.yard'::text, true) = '*'::text))
-- ROW LEVEL SECURITY ON yard FORCED
