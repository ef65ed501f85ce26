-- What each instrument read of water: the last check on or before a day says how far its readings of that
-- day are believed.
create table zero_checks (
  seq integer primary key,
  instrument blob not null,
  day text not null,
  millicelsius integer not null,
  person blob,
  happened_at integer not null
) strict;

create index zero_checks_of_instrument
  on zero_checks (instrument, day, happened_at, seq);
