-- What came into each vessel and went out of it, by month and component, mL before mixing at 20 °C:
-- kept with the outcomes, so that a statement of any month adds up months, not lines.
create table vessel_month_contents (
  vessel blob not null,
  month text not null,
  component text not null,
  in_ml integer not null,
  out_ml integer not null,
  -- Postings that hold some of it.
  postings integer not null,
  primary key (vessel, month, component)
) strict, without rowid;

-- The same as masses, g, each posting by its own density, by the way it went and the account on the
-- other side; and how much it showed, mixed at 20 °C, mL.
create table vessel_month_masses (
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

-- The month a question is about, in the shop's own dates, so that those of a month are found by it.
alter table questions add column month text not null default '';

create index questions_open_of_month on questions (shop, month, key, n) where answer is null;

-- Views more and a column more: everything is worked out again.
update meta set rebuild_needed = 1;
