-- Row security for the tables of this step, as in the first one.

ALTER TABLE product ENABLE ROW LEVEL SECURITY;
ALTER TABLE product FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON product USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE bottle ENABLE ROW LEVEL SECURITY;
ALTER TABLE bottle FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON bottle USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE mix ENABLE ROW LEVEL SECURITY;
ALTER TABLE mix FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON mix USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE store_act ENABLE ROW LEVEL SECURITY;
ALTER TABLE store_act FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON store_act USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE measures ENABLE ROW LEVEL SECURITY;
ALTER TABLE measures FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON measures USING (current_setting('leground.yard', true) IN (yard_id, '*'));
