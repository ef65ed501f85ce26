-- What was begun on a loop and is not finished: it stands drained, or was filled and nobody has
-- looked at its level since.
alter table place_states add column drained_since integer;
alter table place_states add column level_to_look_at integer;
create index places_drained on place_states (drained_since) where drained_since is not null;
create index places_to_look_at on place_states (level_to_look_at) where level_to_look_at is not null;
update meta set rebuild_needed = 1;
