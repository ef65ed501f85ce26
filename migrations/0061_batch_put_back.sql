-- What went into a unit again says what had been decided on the batch it was part of, as the book has it
-- at that place of the record. Everything is worked out again.
update meta set rebuild_needed = 1;
