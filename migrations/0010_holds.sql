-- The day on which a later version of its plan begins, the earliest if there are several; empty: there is none.
-- It is worked out when that version is added, so that what holds is found without walking the years.
ALTER TABLE plan ADD COLUMN until_on TEXT NOT NULL DEFAULT '';
UPDATE plan SET until_on = coalesce((SELECT min(n.starts_on) FROM plan n
	WHERE n.yard_id = plan.yard_id AND n.root_id = plan.root_id AND n.version > plan.version), '');
CREATE INDEX plan_holds ON plan (yard_id, until_on, last_on);
