-- A visit that was ticked off on the Due list names its tick, and goes when that is taken back.
ALTER TABLE event ADD COLUMN tick_record TEXT NOT NULL DEFAULT '';
CREATE INDEX tick_off_taken_back ON tick_off (yard_id, of_record) WHERE of_record <> '';
