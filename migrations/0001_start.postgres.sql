-- A second wall between yards: each transaction names its yard, and rows of another are not there.
-- '*' is the name that the few jobs across yards use (sign-in, the worker's list of due yards). A yard
-- sees those people only who are or were its members. Outside a transaction of this program the name is
-- NULL or empty, and nothing is there at all.

ALTER TABLE yard ENABLE ROW LEVEL SECURITY;
ALTER TABLE yard FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON yard USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE person ENABLE ROW LEVEL SECURITY;
ALTER TABLE person FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON person USING (current_setting('leground.yard', true) = '*'
	OR EXISTS (SELECT 1 FROM member m WHERE m.person_id = person.person_id AND m.yard_id = current_setting('leground.yard', true)));
ALTER TABLE sign_in_delay ENABLE ROW LEVEL SECURITY;
ALTER TABLE sign_in_delay FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON sign_in_delay USING (current_setting('leground.yard', true) = '*');
ALTER TABLE session ENABLE ROW LEVEL SECURITY;
ALTER TABLE session FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON session USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE link ENABLE ROW LEVEL SECURITY;
ALTER TABLE link FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON link USING (current_setting('leground.yard', true) IN (nullif(yard_id, ''), '*'));

ALTER TABLE member ENABLE ROW LEVEL SECURITY;
ALTER TABLE member FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON member USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE horse ENABLE ROW LEVEL SECURITY;
ALTER TABLE horse FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON horse USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE site ENABLE ROW LEVEL SECURITY;
ALTER TABLE site FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON site USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE leg_check ENABLE ROW LEVEL SECURITY;
ALTER TABLE leg_check FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON leg_check USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE conflict ENABLE ROW LEVEL SECURITY;
ALTER TABLE conflict FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON conflict USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE photo ENABLE ROW LEVEL SECURITY;
ALTER TABLE photo FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON photo USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE photo_bytes ENABLE ROW LEVEL SECURITY;
ALTER TABLE photo_bytes FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON photo_bytes USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE event ENABLE ROW LEVEL SECURITY;
ALTER TABLE event FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON event USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE caution ENABLE ROW LEVEL SECURITY;
ALTER TABLE caution FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON caution USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE caution_act ENABLE ROW LEVEL SECURITY;
ALTER TABLE caution_act FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON caution_act USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE plan ENABLE ROW LEVEL SECURITY;
ALTER TABLE plan FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON plan USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE round ENABLE ROW LEVEL SECURITY;
ALTER TABLE round FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON round USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE reminder ENABLE ROW LEVEL SECURITY;
ALTER TABLE reminder FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON reminder USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE reminder_try ENABLE ROW LEVEL SECURITY;
ALTER TABLE reminder_try FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON reminder_try USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE audit ENABLE ROW LEVEL SECURITY;
ALTER TABLE audit FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON audit USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE judgement ENABLE ROW LEVEL SECURITY;
ALTER TABLE judgement FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON judgement USING (current_setting('leground.yard', true) IN (yard_id, '*'));
