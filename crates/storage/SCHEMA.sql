CREATE TABLE check_runs (
  id integer not null primary key,
  name text not null,
  at integer not null,
  head_seq integer not null,
  good integer not null,
  detail text not null,
  constraint check_runs_good_is_yes_or_no check (good in (0, 1))
) strict;

CREATE TABLE closed_months (
  shop blob not null,
  month text not null,
  seq integer not null,
  key blob not null,
  primary key (shop, month, seq),
  constraint closed_months_seq_on_record foreign key (seq) references record (seq)
) strict, without rowid;

CREATE TABLE container_events (
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

CREATE TABLE facts_about (
  subject blob not null,
  seq integer not null,
  kind text not null,
  primary key (subject, seq)
) strict, without rowid;

CREATE TABLE fluids (
  id blob not null primary key,
  name text not null,
  base text not null,
  class text not null,
  strength_millionths integer not null,
  card text not null,
  happened_at integer not null,
  made_at integer not null,
  key blob not null,
  constraint fluids_key_on_record foreign key (key) references record (key)
) strict, without rowid;

CREATE TABLE instruments (
  id blob not null primary key,
  tag text not null,
  shop blob not null,
  tool text not null,
  calibration_due text,
  card text not null,
  happened_at integer not null,
  made_at integer not null,
  key blob not null,
  constraint instruments_key_on_record foreign key (key) references record (key)
) strict, without rowid;

CREATE TABLE jobs (
  seq integer not null primary key,
  key blob not null,
  kind text not null,
  shop blob not null,
  unit blob,
  place blob,
  happened_at integer not null,
  precision text not null,
  made_at integer not null,
  replayed_at integer not null,
  local_date text not null,
  utc_offset_min integer not null,
  person blob,
  proved text not null,
  replaces blob,
  follows blob,
  note_digest text, bottle text collate nocase,
  constraint jobs_seq_on_record foreign key (seq) references record (seq)
) strict;

CREATE TABLE loops (
  unit blob not null,
  n integer not null,
  place blob not null,
  name text not null,
  base text not null,
  class text not null,
  capacity_ml integer,
  high_voltage integer not null,
  primary key (unit, n),
  constraint loops_of_a_unit foreign key (unit) references units (id),
  constraint loops_high_voltage_is_yes_or_no check (high_voltage in (0, 1))
) strict, without rowid;

CREATE TABLE memberships (
  subject blob not null,
  happened_at integer not null,
  made_at integer not null,
  key blob not null,
  shop blob,
  primary key (subject, happened_at, made_at, key),
  constraint memberships_key_on_record foreign key (key) references record (key)
) strict, without rowid;

CREATE TABLE merges (
  key blob not null primary key,
  from_place blob not null,
  into_place blob not null,
  happened_at integer not null,
  made_at integer not null,
  constraint merges_key_on_record foreign key (key) references record (key)
) strict, without rowid;

CREATE TABLE meta (
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

CREATE TABLE month_totals (
  shop blob not null,
  month text not null,
  measure text not null,
  typed_ml integer not null,
  shown_ml integer not null,
  mass_g integer not null,
  lines integer not null,
  lines_without_mass integer not null,
  primary key (shop, month, measure)
) strict, without rowid;

CREATE TABLE open_questions (
  shop blob not null primary key,
  open integer not null
) strict, without rowid;

CREATE TABLE outcomes (
  seq integer not null primary key,
  happened_at integer not null,
  made_at integer not null,
  shop blob,
  month text not null,
  standing text not null,
  voided_by blob,
  top_up text,
  postings text not null,
  changes text not null,
  flows text not null,
  constraint outcomes_seq_on_record foreign key (seq) references record (seq)
) strict;

CREATE TABLE outside_balances (
  account text not null,
  component text not null,
  ml integer not null,
  primary key (account, component)
) strict, without rowid;

CREATE TABLE people (
  id blob not null primary key,
  handle text not null,
  name_digest text,
  shop blob,
  active integer not null,
  card text not null,
  happened_at integer not null,
  made_at integer not null,
  key blob not null,
  constraint people_key_on_record foreign key (key) references record (key),
  constraint people_active_is_yes_or_no check (active in (0, 1))
) strict, without rowid;

CREATE TABLE photo_removals (
  key blob not null primary key,
  photo blob not null,
  constraint photo_removals_key_on_record foreign key (key) references record (key)
) strict, without rowid;

CREATE TABLE photos (
  key blob not null primary key,
  seq integer not null,
  job blob not null,
  digest text not null,
  bytes integer not null,
  width integer not null,
  height integer not null,
  caption_digest text,
  at integer not null,
  person blob,
  constraint photos_key_on_record foreign key (key) references record (key)
) strict, without rowid;

CREATE TABLE place_changes (
  place blob not null,
  happened_at integer not null,
  made_at integer not null,
  key blob not null,
  seq integer not null,
  primary key (place, happened_at, made_at, key)
) strict, without rowid;

CREATE TABLE place_states (
  place blob not null primary key,
  account text not null,
  contents text not null,
  glycol text not null,
  shown_ml integer not null,
  fraction_millionths integer not null,
  sigma_millionths integer not null,
  knowledge text not null,
  volume_sigma_ml integer not null,
  drift_through integer not null,
  changed_at integer,
  last_reading_at integer,
  last_dip_at integer,
  last_full_at integer,
  used_up_ml integer not null,
  unfit_since text,
  generation_date text,
  batch blob,
  fitness text,
  in_date_until text,
  dedicated_base text,
  dedicated_class text,
  retired integer not null,
  line text not null generated always as (
    hex(place) || ',' || shown_ml || ',' || fraction_millionths || ',' || sigma_millionths
    || ',' || drift_through || ',' || knowledge || ',' || glycol
    || ',' || coalesce(last_reading_at, '') || ',' || coalesce(last_full_at, '')
    || ',' || coalesce(changed_at, '')
  ) stored, drained_since integer, level_to_look_at integer, emptied_at integer, emptied_on text,
  constraint place_states_retired_is_yes_or_no check (retired in (0, 1))
) strict, without rowid;

CREATE TABLE questions (
  seq integer not null,
  n integer not null,
  key blob not null,
  line integer not null,
  kind text not null,
  place blob,
  found integer not null,
  expected integer not null,
  answer blob,
  decision text,
  shop blob,
  happened_at integer not null, month text not null default '',
  primary key (seq, n),
  constraint questions_seq_on_record foreign key (seq) references record (seq),
  constraint questions_answer_is_whole check ((answer is null) = (decision is null))
) strict, without rowid;

CREATE TABLE record (
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

CREATE TABLE retirements (
  subject blob not null,
  key blob not null,
  happened_at integer not null,
  made_at integer not null,
  primary key (subject, key),
  constraint retirements_key_on_record foreign key (key) references record (key)
) strict, without rowid;

CREATE TABLE roles (
  person blob not null,
  shop blob not null,
  roles text not null,
  happened_at integer not null,
  made_at integer not null,
  key blob not null,
  primary key (person, shop),
  constraint roles_key_on_record foreign key (key) references record (key)
) strict, without rowid;

CREATE TABLE said (
  seq integer not null primary key,
  job blob not null,
  line integer not null,
  kind text not null,
  at integer not null,
  person blob,
  -- The person who is asked; none where somebody says what they know.
  asked blob,
  -- Digest of the words.
  words text,
  constraint said_seq_on_record foreign key (seq) references record (seq)
) strict;

CREATE TABLE shops (
  id blob not null primary key,
  site blob not null,
  name text not null,
  zone text not null,
  altitude_m integer not null,
  card text not null,
  happened_at integer not null,
  made_at integer not null,
  key blob not null,
  constraint shops_key_on_record foreign key (key) references record (key)
) strict, without rowid;

CREATE TABLE sites (
  id blob not null primary key,
  name text not null,
  card text not null,
  happened_at integer not null,
  made_at integer not null,
  key blob not null,
  constraint sites_key_on_record foreign key (key) references record (key)
) strict, without rowid;

CREATE TABLE stale_places (
  place blob not null primary key
) strict, without rowid;

CREATE TABLE stored_answers (
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

CREATE TABLE units (
  id blob not null primary key,
  number text not null,
  kind text not null,
  shop blob not null,
  engine_family text,
  found_by text not null,
  card text not null,
  happened_at integer not null,
  made_at integer not null,
  key blob not null,
  constraint units_key_on_record foreign key (key) references record (key)
) strict, without rowid;

CREATE TABLE vessel_month_contents (
  vessel blob not null,
  month text not null,
  component text not null,
  in_ml integer not null,
  out_ml integer not null,
  -- Postings that hold some of it.
  postings integer not null,
  primary key (vessel, month, component)
) strict, without rowid;

CREATE TABLE vessel_month_masses (
  vessel blob not null,
  month text not null,
  way text not null,
  account text not null,
  shown_ml integer not null,
  mass_g integer not null,
  postings integer not null,
  postings_without_mass integer not null,
  primary key (vessel, month, way, account),
  constraint vessel_month_masses_way_is_in_or_out check (way in ('in', 'out'))
) strict, without rowid;

CREATE TABLE vessels (
  id blob not null primary key,
  name text not null,
  kind text not null,
  shop blob not null,
  holds text not null,
  base text not null,
  class text not null,
  capacity_ml integer,
  fill_limit_ml integer,
  start_date text,
  next_due text,
  card text not null,
  happened_at integer not null,
  made_at integer not null,
  key blob not null,
  constraint vessels_key_on_record foreign key (key) references record (key)
) strict, without rowid;

CREATE TABLE waste_lines (
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

CREATE TABLE words (
  digest text not null primary key,
  salt blob not null,
  text text not null,
  fact blob not null,
  constraint words_fact_on_record foreign key (fact) references record (key),
  constraint words_digest_is_sha256 check (length(digest) = 64),
  constraint words_salt_is_long check (length(salt) = 32)
) strict, without rowid;

CREATE TABLE zero_checks (
  seq integer primary key,
  instrument blob not null,
  day text not null,
  millicelsius integer not null,
  person blob,
  happened_at integer not null
) strict;

CREATE INDEX check_runs_by_name on check_runs (name, id);

CREATE INDEX container_events_of_kind
  on container_events (vessel, kind, happened_at, made_at, key);

CREATE INDEX decisions_about on facts_about (subject, seq) where kind = 'fitness_decision';

CREATE INDEX upkeep_stated_about on facts_about (subject, seq)
  where kind in ('put_off', 'nothing_found');

CREATE INDEX instruments_of_shop on instruments (shop, tag);

CREATE INDEX fills_of_place on jobs (place, replayed_at, made_at, key)
  where kind = 'fill' and place is not null;

CREATE INDEX jobs_by_bottle on jobs (shop, bottle, replayed_at) where bottle is not null;

CREATE INDEX jobs_of_shop on jobs (shop, replayed_at, made_at, key);

CREATE INDEX jobs_of_shop_by_kind on jobs (shop, kind, replayed_at, unit);

CREATE INDEX jobs_of_unit on jobs (unit, replayed_at, made_at, key, local_date)
  where unit is not null;

CREATE INDEX jobs_that_follow on jobs (follows, replayed_at, made_at, key)
  where follows is not null;

CREATE INDEX pressure_tests_of_place on jobs (place, replayed_at, made_at, key)
  where kind = 'pressure_test' and place is not null;

CREATE INDEX loops_by_place on loops (place);

CREATE INDEX merges_by_place on merges (from_place);

CREATE INDEX outcomes_not_counting on outcomes (shop, happened_at, made_at, standing)
  where standing <> 'posted';

CREATE INDEX outcomes_of_month on outcomes (shop, month) where flows <> '[]';

CREATE TRIGGER outcomes_are_added_up after insert on outcomes
when new.shop is not null and new.flows <> '[]'
begin
  insert into month_totals
    (shop, month, measure, typed_ml, shown_ml, mass_g, lines, lines_without_mass)
  select new.shop, new.month, value ->> 'measure', value ->> 'typed_ml', value ->> 'shown_ml',
         coalesce(value ->> 'mass_g', 0), 1, value ->> 'mass_g' is null
  from json_each(new.flows) where true
  on conflict (shop, month, measure) do update set
    typed_ml = typed_ml + excluded.typed_ml,
    shown_ml = shown_ml + excluded.shown_ml,
    mass_g = mass_g + excluded.mass_g,
    lines = lines + excluded.lines,
    lines_without_mass = lines_without_mass + excluded.lines_without_mass;
end;

CREATE TRIGGER outcomes_are_added_up_again after update on outcomes
when old.flows <> new.flows or old.shop is not new.shop or old.month <> new.month
begin
  insert into month_totals
    (shop, month, measure, typed_ml, shown_ml, mass_g, lines, lines_without_mass)
  select old.shop, old.month, value ->> 'measure', -(value ->> 'typed_ml'),
         -(value ->> 'shown_ml'), -coalesce(value ->> 'mass_g', 0), -1,
         -(value ->> 'mass_g' is null)
  from json_each(old.flows) where old.shop is not null
  union all
  select new.shop, new.month, value ->> 'measure', value ->> 'typed_ml', value ->> 'shown_ml',
         coalesce(value ->> 'mass_g', 0), 1, value ->> 'mass_g' is null
  from json_each(new.flows) where new.shop is not null
  on conflict (shop, month, measure) do update set
    typed_ml = typed_ml + excluded.typed_ml,
    shown_ml = shown_ml + excluded.shown_ml,
    mass_g = mass_g + excluded.mass_g,
    lines = lines + excluded.lines,
    lines_without_mass = lines_without_mass + excluded.lines_without_mass;
  delete from month_totals where shop = old.shop and month = old.month and lines = 0;
end;

CREATE TRIGGER outcomes_are_taken_off after delete on outcomes
when old.shop is not null and old.flows <> '[]'
begin
  insert into month_totals
    (shop, month, measure, typed_ml, shown_ml, mass_g, lines, lines_without_mass)
  select old.shop, old.month, value ->> 'measure', -(value ->> 'typed_ml'),
         -(value ->> 'shown_ml'), -coalesce(value ->> 'mass_g', 0), -1,
         -(value ->> 'mass_g' is null)
  from json_each(old.flows) where true
  on conflict (shop, month, measure) do update set
    typed_ml = typed_ml + excluded.typed_ml,
    shown_ml = shown_ml + excluded.shown_ml,
    mass_g = mass_g + excluded.mass_g,
    lines = lines + excluded.lines,
    lines_without_mass = lines_without_mass + excluded.lines_without_mass;
  delete from month_totals where shop = old.shop and month = old.month and lines = 0;
end;

CREATE INDEX people_by_handle on people (handle);

CREATE INDEX people_of_shop on people (shop, handle);

CREATE INDEX photo_removals_by_photo on photo_removals (photo);

CREATE INDEX photos_by_digest on photos (digest);

CREATE INDEX photos_of_job on photos (job, seq);

CREATE INDEX places_drained on place_states (drained_since) where drained_since is not null;

CREATE INDEX places_to_look_at on place_states (level_to_look_at) where level_to_look_at is not null;

CREATE INDEX questions_of_names on questions (shop, seq)
  where answer is null and kind = 'name_to_confirm';

CREATE INDEX questions_open on questions (happened_at, key, n) where answer is null;

CREATE INDEX questions_open_of_month on questions (shop, month, key, n) where answer is null;

CREATE INDEX questions_open_of_place on questions (place, happened_at, key, n)
  where answer is null and place is not null;

CREATE INDEX questions_open_of_shop on questions (shop, happened_at, key, n)
  where answer is null;

CREATE TRIGGER questions_are_counted after insert on questions when new.answer is null
begin
  insert into open_questions (shop, open) values (coalesce(new.shop, x''), 1)
  on conflict (shop) do update set open = open + 1;
end;

CREATE TRIGGER questions_are_counted_off after delete on questions when old.answer is null
begin
  update open_questions set open = open - 1 where shop = coalesce(old.shop, x'');
  delete from open_questions where shop = coalesce(old.shop, x'') and open = 0;
end;

CREATE INDEX record_by_at on record (at);

CREATE INDEX record_by_kind on record (kind);

CREATE INDEX record_by_shop on record (shop) where shop is not null;

CREATE TRIGGER record_is_never_deleted before delete on record
begin
  select raise(abort, 'the record is append-only: a row cannot be removed');
end;

CREATE TRIGGER record_is_never_updated before update on record
begin
  select raise(abort, 'the record is append-only: a row cannot be changed');
end;

CREATE TRIGGER record_takes_only_the_next_row before insert on record
when new.seq <> (select coalesce(max(seq), 0) + 1 from record)
  or exists (select 1 from record where key = new.key)
begin
  select raise(abort, 'the record is append-only: only the next row can be added');
end;

CREATE INDEX said_of_question on said (job, line, kind, seq);

CREATE INDEX said_to on said (asked, seq) where asked is not null;

CREATE INDEX shops_by_name on shops (name);

CREATE INDEX units_by_number on units (number, id, shop, kind, engine_family, found_by);

CREATE INDEX units_of_shop on units (shop, number, id, kind, engine_family, found_by);

CREATE INDEX vessels_by_name on vessels (name);

CREATE INDEX vessels_of_shop on vessels (shop, name);

CREATE INDEX waste_lines_by_day on waste_lines (shop, measure, day, seq, n, vessel, mass_g);

CREATE INDEX waste_lines_of_vessel on waste_lines (vessel, measure, day, seq, n, mass_g)
  where vessel is not null;

CREATE INDEX words_of_fact on words (fact);

CREATE TRIGGER words_are_never_updated before update on words
begin
  select raise(abort, 'a text is kept or removed, never changed');
end;

CREATE INDEX zero_checks_of_instrument
  on zero_checks (instrument, day, happened_at, seq);

