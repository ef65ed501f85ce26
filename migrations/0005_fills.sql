-- Whether a loop was filled after a pressure test is found without looking through all of its unit's
-- jobs.
create index fills_of_place on jobs (place, replayed_at, made_at, key)
  where kind = 'fill' and place is not null;
