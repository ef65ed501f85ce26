-- When a vessel was last emptied: start dates and labels from before it are not of what it holds now.
alter table place_states add column emptied_at integer;
alter table place_states add column emptied_on text;

-- The last decision on the contents of a vessel, without reading through all jobs on it.
create index decisions_about on facts_about (subject, seq) where kind = 'fitness_decision';

-- A column more, and what was counted as waste is counted once: everything is worked out again.
update meta set rebuild_needed = 1;
