-- The area inside an outline that was traced, in square millimetres; 0 where none was.
ALTER TABLE leg_check ADD COLUMN area_mm2 BIGINT NOT NULL DEFAULT 0;
