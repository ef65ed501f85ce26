-- What became waste is summed by vessel over spans of days: the sums are read from this index alone.
drop index waste_lines_by_day;
create index waste_lines_by_day on waste_lines (shop, measure, day, seq, n, vessel, mass_g);
