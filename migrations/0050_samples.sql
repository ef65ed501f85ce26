-- The number on a sample's bottle, by which a laboratory's file names it, and what goes on from a job.
alter table jobs add column bottle text collate nocase;
create index jobs_by_bottle on jobs (shop, bottle, replayed_at) where bottle is not null;
create index jobs_that_follow on jobs (follows, replayed_at, made_at, key)
  where follows is not null;

-- Bottles of samples on record are read off their facts.
update meta set rebuild_needed = 1;
