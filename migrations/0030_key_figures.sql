-- Facts that do not count, which are few: jobs that were taken back, and those no visit is read off.
create index outcomes_not_counting on outcomes (shop, happened_at, made_at, standing)
  where standing <> 'posted';

-- The day in the shop goes along, so that the visits of a unit are counted without its jobs.
drop index jobs_of_unit;
create index jobs_of_unit on jobs (unit, replayed_at, made_at, key, local_date)
  where unit is not null;

-- New measures: every outcome is worked out again.
update meta set rebuild_needed = 1;
