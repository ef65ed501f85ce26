-- A password that was issued is known to whoever issued it until its owner chooses another one.

alter table secrets add column issued integer not null default 0
  constraint secrets_issued_is_yes_or_no check (issued in (0, 1));
