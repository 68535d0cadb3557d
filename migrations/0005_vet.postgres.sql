-- Row security for the tables of this step, as in the first one.

ALTER TABLE setting ENABLE ROW LEVEL SECURITY;
ALTER TABLE setting FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON setting USING (current_setting('leground.yard', true) IN (yard_id, '*'));
ALTER TABLE proposal ENABLE ROW LEVEL SECURITY;
ALTER TABLE proposal FORCE ROW LEVEL SECURITY;
CREATE POLICY own_yard ON proposal USING (current_setting('leground.yard', true) IN (yard_id, '*'));
