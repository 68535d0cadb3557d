-- The few looks at a whole horse, which rules about condition and girth read over months.
CREATE INDEX leg_check_whole ON leg_check (yard_id, horse_id, day) WHERE subject = 'horse';
