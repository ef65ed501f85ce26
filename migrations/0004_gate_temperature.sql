-- What comes out of a loop without a temperature of its own takes the one read at its gate, in every
-- kind of job: outcomes that rest on it are worked out again.
update meta set rebuild_needed = 1;
