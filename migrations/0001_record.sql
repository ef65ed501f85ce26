-- The record: every fact as it was entered, in the order it arrived, chained by hashes.
--
-- It is the only thing here that cannot be worked out again, so nothing in it may change: triggers
-- refuse every update and delete, and every row but the next one. Free text and names lie beside
-- it in words, so that a text can be removed while the chain stays valid.

create table record (
  seq integer not null primary key,
  at integer not null,
  key blob not null,
  kind text not null,
  version integer not null,
  shop blob,
  person blob,
  role text,
  via text not null,
  request text,
  client_at integer,
  body text not null,
  prev_hash blob not null,
  hash blob not null,
  constraint record_key_unique unique (key),
  constraint record_seq_from_one check (seq > 0),
  constraint record_key_is_uuid check (length(key) = 16),
  constraint record_shop_is_uuid check (shop is null or length(shop) = 16),
  constraint record_person_is_uuid check (person is null or length(person) = 16),
  constraint record_prev_hash_is_sha256 check (length(prev_hash) = 32),
  constraint record_hash_is_sha256 check (length(hash) = 32)
) strict;

-- The trail of one kind of fact, of one shop, and of one day, is read from its newest on.
create index record_by_kind on record (kind);
create index record_by_shop on record (shop) where shop is not null;
create index record_by_at on record (at);

create trigger record_is_never_updated before update on record
begin
  select raise(abort, 'the record is append-only: a row cannot be changed');
end;

create trigger record_is_never_deleted before delete on record
begin
  select raise(abort, 'the record is append-only: a row cannot be removed');
end;

-- Also stops "insert or replace", which removes a row without asking the trigger above.
create trigger record_takes_only_the_next_row before insert on record
when new.seq <> (select coalesce(max(seq), 0) + 1 from record)
  or exists (select 1 from record where key = new.key)
begin
  select raise(abort, 'the record is append-only: only the next row can be added');
end;

create table words (
  digest text not null primary key,
  salt blob not null,
  text text not null,
  fact blob not null,
  constraint words_fact_on_record foreign key (fact) references record (key),
  constraint words_digest_is_sha256 check (length(digest) = 64),
  constraint words_salt_is_long check (length(salt) = 32)
) strict, without rowid;

create index words_of_fact on words (fact);

create trigger words_are_never_updated before update on words
begin
  select raise(abort, 'a text is kept or removed, never changed');
end;

-- What was answered when a fact came in, so that the same key sent again gets the same bytes.
-- The fingerprint tells another body under the same key; it is salted and goes when a text of
-- the fact is removed, so that nobody can try texts against it. The digest covers the row: the
-- answer is the one thing here that the record does not imply.
create table stored_answers (
  seq integer not null primary key,
  salt blob not null,
  fingerprint blob,
  status integer not null,
  body blob not null,
  digest blob not null,
  constraint stored_answers_seq_on_record foreign key (seq) references record (seq),
  constraint stored_answers_salt_is_long check (length(salt) = 32),
  constraint stored_answers_fingerprint_is_sha256
    check (fingerprint is null or length(fingerprint) = 32),
  constraint stored_answers_status_is_http check (status between 100 and 599),
  constraint stored_answers_digest_is_sha256 check (length(digest) = 32)
) strict;

-- One row about this file. The backlog is the place in the replay order from which views still
-- have to be worked out again after a late fact. A later migration that changes a view sets
-- rebuild_needed, and the next start works all views out again before it answers anybody.
create table meta (
  id integer not null primary key,
  instance blob not null,
  rebuild_needed integer not null default 0,
  backlog_happened_at integer,
  backlog_made_at integer,
  backlog_key blob,
  constraint meta_has_one_row check (id = 1),
  constraint meta_instance_is_uuid check (length(instance) = 16),
  constraint meta_rebuild_needed_is_yes_or_no check (rebuild_needed in (0, 1)),
  constraint meta_backlog_is_whole check (
    (backlog_happened_at is null) = (backlog_made_at is null)
    and (backlog_happened_at is null) = (backlog_key is null)
  )
) strict;

-- When each named check of the book last ran and how it came out. Like the answers above it is
-- noted as it happened: a replay does not give it, so no rebuild touches it and no verification
-- compares it. The head is the last fact the check knew.
create table check_runs (
  id integer not null primary key,
  name text not null,
  at integer not null,
  head_seq integer not null,
  good integer not null,
  detail text not null,
  constraint check_runs_good_is_yes_or_no check (good in (0, 1))
) strict;

create index check_runs_by_name on check_runs (name, id);
