-- What a tablet last told about the jobs that wait on it, and what it can no longer send.
--
-- A store is what a browser keeps; when somebody clears it, the tablet begins another one, and what
-- waited in the first is gone.
create table tablet_contacts (
  tablet blob not null primary key,
  store blob not null,
  told_at integer not null,
  waiting integer not null,
  oldest_at integer,
  lost integer not null default 0,
  constraint tablet_contacts_tablet_enrolled foreign key (tablet) references tablets (id),
  constraint tablet_contacts_store_is_uuid check (length(store) = 16),
  constraint tablet_contacts_waiting_is_a_count check (waiting >= 0),
  constraint tablet_contacts_lost_is_a_count check (lost >= 0)
) strict, without rowid;
