-- What was stated of a loop beside its jobs, without reading through all of them.
create index upkeep_stated_about on facts_about (subject, seq) where kind = 'put_off';
