-- The second wall, as for the tables before; the server's own secrets belong to no yard.

ALTER TABLE reminder_choice ENABLE ROW LEVEL SECURITY;
ALTER TABLE reminder_choice FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON reminder_choice USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE way ENABLE ROW LEVEL SECURITY;
ALTER TABLE way FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON way USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE bad_address ENABLE ROW LEVEL SECURITY;
ALTER TABLE bad_address FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON bad_address USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE press ENABLE ROW LEVEL SECURITY;
ALTER TABLE press FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON press USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE reminder_rule ENABLE ROW LEVEL SECURITY;
ALTER TABLE reminder_rule FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON reminder_rule USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE round_change ENABLE ROW LEVEL SECURITY;
ALTER TABLE round_change FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON round_change USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE server_secret ENABLE ROW LEVEL SECURITY;
ALTER TABLE server_secret FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON server_secret USING (current_setting('leground.yard', true) = '*');
