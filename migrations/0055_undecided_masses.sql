-- What nobody decided on is weighed vessel by vessel, the latest first: from this index alone.
drop index waste_lines_of_vessel;
create index waste_lines_of_vessel on waste_lines (vessel, measure, day, seq, n, mass_g)
  where vessel is not null;
