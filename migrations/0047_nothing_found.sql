-- A leak that nobody found is stated of a loop as well.
drop index upkeep_stated_about;

create index upkeep_stated_about on facts_about (subject, seq)
  where kind in ('put_off', 'nothing_found');
