-- Row security for the tables of this step, as in the first one.

ALTER TABLE plan_read ENABLE ROW LEVEL SECURITY;
ALTER TABLE plan_read FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON plan_read USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE absence ENABLE ROW LEVEL SECURITY;
ALTER TABLE absence FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON absence USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE one_off ENABLE ROW LEVEL SECURITY;
ALTER TABLE one_off FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON one_off USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE tick_off ENABLE ROW LEVEL SECURITY;
ALTER TABLE tick_off FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON tick_off USING (current_setting('leground.yard', true) IN (yard_id, '*'));
