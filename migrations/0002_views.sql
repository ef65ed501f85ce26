-- Views: tables worked out from the record alone, so that a page reads a few rows and no sums.
--
-- Every row is a pure function of the record: throwing all of it away and working it out again
-- gives equal rows. Where "now" is asked for, the last card in the order of the replay
-- (happened_at, made_at, key) counts, so the order in which facts arrived plays no part. Views may
-- name units and vessels that nobody has a card for: such jobs are recorded too, so those columns
-- have no foreign key.

-- Without a foreign key: holding one would want an index by seq that nothing else reads.
create table facts_about (
  subject blob not null,
  seq integer not null,
  kind text not null,
  primary key (subject, seq)
) strict, without rowid;

create table sites (
  id blob not null primary key,
  name text not null,
  card text not null,
  happened_at integer not null,
  made_at integer not null,
  key blob not null,
  constraint sites_key_on_record foreign key (key) references record (key)
) strict, without rowid;

create table shops (
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

create index shops_by_name on shops (name);

-- Which shop a unit, vessel or person belongs to, with every change: cards and moves alike.
create table memberships (
  subject blob not null,
  happened_at integer not null,
  made_at integer not null,
  key blob not null,
  shop blob,
  primary key (subject, happened_at, made_at, key),
  constraint memberships_key_on_record foreign key (key) references record (key)
) strict, without rowid;

create table units (
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

-- Both hold all that a search looks at and shows, so that it reads narrow rows in the order of the
-- list and no cards. found_by is number, kind and engine family in small letters.
create index units_by_number on units (number, id, shop, kind, engine_family, found_by);
create index units_of_shop on units (shop, number, id, kind, engine_family, found_by);

create table loops (
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

create index loops_by_place on loops (place);

create table vessels (
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

create index vessels_by_name on vessels (name);
create index vessels_of_shop on vessels (shop, name);

create table fluids (
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

create table people (
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

create index people_by_handle on people (handle);
create index people_of_shop on people (shop, handle);

-- An empty shop stands for "everywhere", because a key column cannot be left out.
create table roles (
  person blob not null,
  shop blob not null,
  roles text not null,
  happened_at integer not null,
  made_at integer not null,
  key blob not null,
  primary key (person, shop),
  constraint roles_key_on_record foreign key (key) references record (key)
) strict, without rowid;

create table instruments (
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

create index instruments_of_shop on instruments (shop, tag);

-- Units and places that are no longer used.
create table retirements (
  subject blob not null,
  key blob not null,
  happened_at integer not null,
  made_at integer not null,
  primary key (subject, key),
  constraint retirements_key_on_record foreign key (key) references record (key)
) strict, without rowid;

create table merges (
  key blob not null primary key,
  from_place blob not null,
  into_place blob not null,
  happened_at integer not null,
  made_at integer not null,
  constraint merges_key_on_record foreign key (key) references record (key)
) strict, without rowid;

create index merges_by_place on merges (from_place);

create table closed_months (
  shop blob not null,
  month text not null,
  seq integer not null,
  key blob not null,
  primary key (shop, month, seq),
  constraint closed_months_seq_on_record foreign key (seq) references record (seq)
) strict, without rowid;

-- What follows from a fact lies by its seq: facts that come in after one another, and those that a
-- late one changes, then lie on pages side by side. Keys are random and would spread them.
create table jobs (
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
  note_digest text,
  constraint jobs_seq_on_record foreign key (seq) references record (seq)
) strict;

create index jobs_of_unit on jobs (unit, replayed_at, made_at, key) where unit is not null;
create index jobs_of_shop on jobs (shop, replayed_at, made_at, key);

-- All that the book worked out from one fact, so that working it out again writes one row. Its
-- postings, its places before and after, and its flows are JSON arrays: they are read by the fact,
-- and what is asked across facts is kept beside: place_changes, questions, month_totals.
-- The figures of a place are [shown mL, fraction, its sigma (both millionths), how it is known, the
-- glycol].
create table outcomes (
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

-- The key is the history of a place in order, so that a page of it is read without a sort. The
-- figures are those of the outcome: when only they change, nothing changes here. Without a foreign
-- key, for the reason given above.
create table place_changes (
  place blob not null,
  happened_at integer not null,
  made_at integer not null,
  key blob not null,
  seq integer not null,
  primary key (place, happened_at, made_at, key)
) strict, without rowid;

create table questions (
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
  happened_at integer not null,
  primary key (seq, n),
  constraint questions_seq_on_record foreign key (seq) references record (seq),
  constraint questions_answer_is_whole check ((answer is null) = (decision is null))
) strict, without rowid;

create index questions_open on questions (happened_at, key, n) where answer is null;
create index questions_open_of_shop on questions (shop, happened_at, key, n)
  where answer is null;
create index questions_open_of_place on questions (place, happened_at, key, n)
  where answer is null and place is not null;

-- How many questions wait in a shop, kept by the two triggers below: a page must not count them.
-- Those of facts without a shop stand under an empty id. An answer works a fact out again, and that
-- writes its questions anew.
create table open_questions (
  shop blob not null primary key,
  open integer not null
) strict, without rowid;

create trigger questions_are_counted after insert on questions when new.answer is null
begin
  insert into open_questions (shop, open) values (coalesce(new.shop, x''), 1)
  on conflict (shop) do update set open = open + 1;
end;

create trigger questions_are_counted_off after delete on questions when old.answer is null
begin
  update open_questions set open = open - 1 where shop = coalesce(old.shop, x'');
  delete from open_questions where shop = coalesce(old.shop, x'') and open = 0;
end;

-- Kept by the three triggers below, so that a statement never adds up a year of lines.
create table month_totals (
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

create trigger outcomes_are_added_up after insert on outcomes
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

-- A row of no lines goes, or a rebuild would not give equal rows.
create trigger outcomes_are_taken_off after delete on outcomes
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

create trigger outcomes_are_added_up_again after update on outcomes
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

-- The glycol is that of the contents as far as the freeze curve needs to know: a list of all units
-- must not read their contents. A loop drifts after drift_through, so its sigma is told for a
-- moment of asking. The line holds what such a list wants of a place, so that the lines of all
-- places are handed over as one text.
create table place_states (
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
  ) stored,
  constraint place_states_retired_is_yes_or_no check (retired in (0, 1))
) strict, without rowid;

create table outside_balances (
  account text not null,
  component text not null,
  ml integer not null,
  primary key (account, component)
) strict, without rowid;

-- Places whose history is being worked out again after a late fact; an empty id stands for all of
-- them, when they are very many.
create table stale_places (
  place blob not null primary key
) strict, without rowid;
