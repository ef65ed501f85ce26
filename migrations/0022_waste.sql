-- What a month's list of waste is made of, a row for each line of a fact: became waste, drained with
-- nobody saying whether it may be used again, decided to be reclaimed, shipped. The outcome of the
-- fact is where it comes from; here it is found by day and by vessel.
create table waste_lines (
  seq integer not null,
  n integer not null,
  shop blob,
  day text not null,
  measure text not null,
  vessel blob,
  typed_ml integer not null,
  shown_ml integer not null,
  mass_g integer,
  primary key (seq, n)
) strict, without rowid;

create index waste_lines_by_day on waste_lines (shop, measure, day, seq, n);
create index waste_lines_of_vessel on waste_lines (vessel, measure, day, seq, n)
  where vessel is not null;

-- The list behind a total of a month.
create index outcomes_of_month on outcomes (shop, month) where flows <> '[]';

-- Looks, labels and start dates of a container, without reading through all jobs on it.
create index container_events_about on facts_about (subject, seq) where kind = 'container_event';

-- New measures: every outcome is worked out again.
update meta set rebuild_needed = 1;
