-- The last pressure test of a loop is found without looking through all of its unit's jobs.
create index pressure_tests_of_place on jobs (place, replayed_at, made_at, key)
  where kind = 'pressure_test' and place is not null;
