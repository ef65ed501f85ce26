-- When somebody last signed on, without reading every event: the list of people asks it of each.
create index security_events_signed_on on security_events (person, at) where kind = 'signed_on';
