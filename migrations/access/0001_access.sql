-- Who may sign on: secrets, tablets, sessions and security events.
--
-- A file of its own beside the record. A backup of the record then carries no secrets, a restored
-- copy knows no tablets, and noting that a session was used never waits for the record's writer.
-- Nothing here can be read back into a secret: passwords and PINs are hashed slowly with a key that
-- lies in another file, tokens are long and random and only their SHA-256 is kept.

-- Tells whether the key file is still the one the secrets were hashed with.
create table access_key (
  id integer not null primary key,
  digest blob not null,
  constraint access_key_is_one check (id = 1),
  constraint access_key_digest_is_sha256 check (length(digest) = 32)
) strict;

-- A password or PIN as its slow hash with the figures it was made with, a badge as the SHA-256 of
-- its token in hexadecimal.
create table secrets (
  person blob not null,
  kind text not null,
  hash text not null,
  set_at integer not null,
  constraint secrets_are_one_a_kind primary key (person, kind),
  constraint secrets_person_is_uuid check (length(person) = 16),
  constraint secrets_kind_known check (kind in ('password', 'pin', 'badge'))
) strict, without rowid;

create unique index badges_by_hash on secrets (hash) where kind = 'badge';

-- Wrong tries in a row. A row is written before a try is looked at and goes when it was right.
-- People who hold no such secret are counted too, so that nobody can tell who does.
create table tries (
  person blob not null,
  kind text not null,
  in_a_row integer not null,
  last_at integer not null,
  constraint tries_are_counted_by_kind primary key (person, kind),
  constraint tries_person_is_uuid check (length(person) = 16),
  constraint tries_kind_known check (kind in ('password', 'pin')),
  constraint tries_are_above_zero check (in_a_row > 0)
) strict, without rowid;

create index tries_by_time on tries (last_at);

create table tablets (
  id blob not null primary key,
  token_digest blob not null,
  name text not null,
  shop blob not null,
  enrolled_at integer not null,
  enrolled_by blob not null,
  expires_at integer not null,
  last_seen_at integer,
  revoked_at integer,
  revoked_by blob,
  constraint tablets_id_is_uuid check (length(id) = 16),
  constraint tablets_token_unique unique (token_digest),
  constraint tablets_token_is_sha256 check (length(token_digest) = 32),
  constraint tablets_shop_is_uuid check (length(shop) = 16),
  constraint tablets_enrolled_by_is_uuid check (length(enrolled_by) = 16),
  constraint tablets_revoked_by_is_uuid check (revoked_by is null or length(revoked_by) = 16),
  constraint tablets_revoked_by_somebody check ((revoked_at is null) = (revoked_by is null))
) strict;

-- PINs that did not fit, by the tablet they were entered on: many people's PINs tried once each
-- would never lock any one of them.
create table tablet_failures (
  id integer not null primary key,
  tablet blob not null,
  at integer not null,
  constraint tablet_failures_tablet_enrolled foreign key (tablet) references tablets (id)
) strict;

create index tablet_failures_by_tablet on tablet_failures (tablet, at);
create index tablet_failures_by_time on tablet_failures (at);

-- Who signed on where, for the tiles of the sign-on page.
create table tablet_people (
  tablet blob not null,
  person blob not null,
  last_at integer not null,
  constraint tablet_people_once primary key (tablet, person),
  constraint tablet_people_tablet_enrolled foreign key (tablet) references tablets (id),
  constraint tablet_people_person_is_uuid check (length(person) = 16)
) strict, without rowid;

create index tablet_people_by_time on tablet_people (tablet, last_at);
create index tablet_people_by_person on tablet_people (person);

-- The id is the SHA-256 of the token. A session that ended has no row.
create table sessions (
  id blob not null primary key,
  person blob not null,
  shop blob,
  tablet blob,
  proved text not null,
  started_at integer not null,
  last_used_at integer not null,
  proved_at integer not null,
  form_open integer not null default 0,
  constraint sessions_id_is_sha256 check (length(id) = 32),
  constraint sessions_person_is_uuid check (length(person) = 16),
  constraint sessions_shop_is_uuid check (shop is null or length(shop) = 16),
  constraint sessions_tablet_enrolled foreign key (tablet) references tablets (id),
  constraint sessions_form_open_is_yes_or_no check (form_open in (0, 1))
) strict;

create index sessions_by_person on sessions (person);
create index sessions_by_tablet on sessions (tablet);
create index sessions_by_start on sessions (started_at);

-- Outside the record's chain: events are dropped after their time.
create table security_events (
  id integer not null primary key autoincrement,
  at integer not null,
  kind text not null,
  person blob,
  by_person blob,
  tablet blob,
  detail text,
  constraint security_events_person_is_uuid check (person is null or length(person) = 16),
  constraint security_events_by_is_uuid check (by_person is null or length(by_person) = 16),
  constraint security_events_tablet_is_uuid check (tablet is null or length(tablet) = 16)
) strict;

create index security_events_by_time on security_events (at);
