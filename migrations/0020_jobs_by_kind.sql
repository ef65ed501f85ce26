-- Jobs of one kind over a period, with the unit each was on, found without reading the others.
create index jobs_of_shop_by_kind on jobs (shop, kind, replayed_at, unit);

-- What is put into units out of recovered fluid counts by itself from now on.
update meta set rebuild_needed = 1;
