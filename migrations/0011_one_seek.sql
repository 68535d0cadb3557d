-- A save asks for the other looks at the same leg in the same round, however many horses the yard has.
DROP INDEX leg_check_round;
CREATE INDEX leg_check_round ON leg_check (yard_id, round_day, slot, horse_id, leg);
-- Which plans of a horse hold, however many it has had.
DROP INDEX plan_horse;
CREATE INDEX plan_horse ON plan (yard_id, horse_id, until_on, last_on);
-- What is open, stands or is in force: SQLite took the partial indexes to be no better than those of all there ever was.
DROP INDEX caution_open;
CREATE INDEX caution_open ON caution (yard_id, closed_at);
DROP INDEX one_off_stands;
CREATE INDEX one_off_stands ON one_off (yard_id, settled_at, day);
DROP INDEX setting_in_force;
CREATE INDEX setting_in_force ON setting (yard_id, replaced_at, at);
