-- What was stated of each container, found by what it is about: the latest of each kind is what stands.
create table container_events (
  seq integer primary key,
  vessel blob not null,
  kind text not null,
  event text not null,
  day text not null,
  person blob,
  happened_at integer not null,
  made_at integer not null,
  key blob not null
) strict;

create index container_events_of_kind
  on container_events (vessel, kind, happened_at, made_at, key);

drop index container_events_about;

-- A view more, and a question that hangs on where a container stands: all is worked out again.
update meta set rebuild_needed = 1;
